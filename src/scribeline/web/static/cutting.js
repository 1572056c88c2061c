// A line dragged over the plan, by a finger or by the keyboard, along which the body is cut through.
import { line, redraw, told, typedAs } from "./placing.js";

const NEAR = 28; // px: a finger this near an end of the line takes hold of it
const HELD = 26; // px: so far inside the drawing an end is shown at least
const KEYS = ["ax", "ay", "bx", "by"];
const NAMES = ["First end", "Second end"];

let on = false; // whether a line can be drawn now
let ends = null; // of the instrument, mm: [[x, y], [x, y]]
let refocus = -1; // which end the keyboard held when the page was sent for

const button = () => document.getElementById("cutting");
const form = () => document.getElementById("through-form");
const lies = () => JSON.parse(document.getElementById("on-drawing").dataset.said);
const given = () => JSON.parse(button().dataset.said);

export const cutting = (frame) => on && frame.id === "drawing" && Boolean(button());

// Between the drawing's own units and the instrument.
function frameOf(frame) {
  const svg = frame.querySelector("svg:not(.over)");
  const [left, top] = svg.dataset.corner.split(" ").map(Number);
  const [x, y, w] = svg.getAttribute("viewBox").split(/\s+/).map(Number);
  const k = svg.getBoundingClientRect().width / w;
  const { scale, face } = lies();
  const flip = face === "top" ? 1 : -1;
  const r = frame.getBoundingClientRect();
  const within = (value, full) => Math.min(Math.max(value, HELD), Math.max(HELD, full - HELD));
  return {
    held: ([a, b]) => [within(a, r.width), within(b, r.height)], // an end out of sight is taken hold of at the edge
    px: ([mx, my]) => [(mx * scale - left - x) * k, (top - my * flip * scale - y) * k],
    mm: ([u, v]) => [(u + left) / scale, (top - v) / (scale * flip)],
    flip,
  };
}

function say(words) {
  const frame = document.getElementById("drawing");
  let note = frame.querySelector(".moving");
  if (!note) {
    note = Object.assign(document.createElement("p"), { className: "moving" });
    note.setAttribute("role", "status");
    frame.append(note);
  }
  note.replaceChildren(...words.map((each) => Object.assign(document.createElement("span"), { textContent: each })));
}

function where(n) {
  const { inches, treble } = lies();
  const [x, y] = [ends[n][0], ends[n][1] * treble];
  return `${told(x, inches)} from the nut, ${told(Math.abs(y), inches)} to the ${y < 0 ? "bass" : "treble"}`;
}

// The line and its two ends over the drawing, wherever that was moved to.
export function showLine(frame) {
  if (frame.id !== "drawing") return;
  if (!cutting(frame) || !ends) {
    for (const end of frame.querySelectorAll(".end")) end.remove();
    return;
  }
  const { px, held } = frameOf(frame);
  const [a, b] = ends.map(px);
  frame.querySelector(".over .cut-line")?.remove();
  frame.querySelector(".over")?.append(line(a, b, "rest cut-line"));
  for (const [n, [x, y]] of [a, b].map(held).entries()) {
    let end = frame.querySelector(`#end-${n}`);
    if (!end) {
      end = Object.assign(document.createElement("button"), { id: `end-${n}`, type: "button", className: "end", textContent: n + 1 });
      end.setAttribute("aria-label", `${NAMES[n]} of the cut: arrow keys move it, with Shift further; Enter cuts through`);
      end.addEventListener("keydown", (event) => byKey(frame, event, n));
      frame.append(end);
    }
    end.style.left = `${x}px`;
    end.style.top = `${y}px`;
  }
}

function send() {
  const { inches, treble } = lies();
  const to = ends.flatMap(([x, y]) => [x, y * treble]);
  KEYS.forEach((key, n) => { form().elements[key].value = typedAs(to[n], inches); });
  form().requestSubmit();
}

function byKey(frame, event, n) {
  const { flip } = frameOf(frame);
  const step = (lies().inches ? 25.4 / 16 : 1) * (event.shiftKey ? 10 : 1);
  const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, flip], ArrowDown: [0, -flip] }[event.key];
  if (!way && event.key !== "Enter" && event.key !== "Escape") return;
  event.preventDefault();
  event.stopPropagation();
  if (event.key === "Escape") return turn(false);
  if (event.key === "Enter") {
    refocus = n;
    return send();
  }
  ends[n] = [ends[n][0] + way[0] * step, ends[n][1] + way[1] * step];
  redraw(frame);
  showLine(frame);
  say([`${NAMES[n]}: ${where(n)}`, "Enter cuts through"]);
}

function turn(to) {
  on = to;
  const [ax, ay, bx, by] = given().ends;
  ends = [[ax, ay], [bx, by]];
  button().setAttribute("aria-pressed", String(on));
  const frame = document.getElementById("drawing");
  frame.querySelector(".moving")?.remove();
  document.dispatchEvent(new Event("shown-otherwise"));
  if (on) say(["Drag a line over the drawing, or move its ends by the arrow keys"]);
  else button().focus();
}

document.addEventListener("click", (event) => {
  if (event.target.id === "cutting") turn(!on);
});

// A finger on the drawing: a new line, or an end of the one that is there; null where no line is drawn now.
export function draw(frame, event, place) {
  if (!cutting(frame)) return null;
  const { px, mm, held } = frameOf(frame);
  const box = frame.getBoundingClientRect();
  const at = [event.clientX - box.left, event.clientY - box.top];
  const far = ends.map((end) => held(px(end))).map(([x, y]) => Math.hypot(x - at[0], y - at[1]));
  // The line that the keyboard begins with is nothing that a finger put there.
  const near = given().is_asked && Math.min(...far) < NEAR ? far.indexOf(Math.min(...far)) : -1;
  const before = ends.map((end) => [...end]);
  const from = mm(place(event));
  const tenth = ([x, y]) => [Math.round(x * 10) / 10, Math.round(y * 10) / 10];
  return {
    to(now) {
      const there = tenth(mm(place(now)));
      ends = near < 0 ? [tenth(from), there] : ends.map((end, n) => (n === near ? there : end));
      redraw(frame);
      showLine(frame);
      say([`From ${where(0)}`, `to ${where(1)}`]);
    },
    drop: () => send(),
    back() {
      ends = before;
      redraw(frame);
      showLine(frame);
    },
  };
}

// After the page was made anew: the line that it has now, with what was held.
export function prepareLine() {
  if (!button()) { on = false; return; }
  button().setAttribute("aria-pressed", String(on));
  if (!on) return;
  const [ax, ay, bx, by] = given().ends;
  ends = [[ax, ay], [bx, by]];
  const frame = document.getElementById("drawing");
  showLine(frame);
  if (refocus >= 0) frame.querySelector(`#end-${refocus}`)?.focus({ preventScroll: true });
  refocus = -1;
}
