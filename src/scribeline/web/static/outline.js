// An outline drawn by handles: moved by finger, mouse or keys, or typed; the app draws the fair curve through them.
import { told, typedAs } from "./placing.js";

const REACH = 36; // px: a finger this near a handle takes hold of it
const KEPT = 200; // so many steps can be undone
const form = document.getElementById("handles");
const frame = document.getElementById("sketch");
const svg = frame.querySelector("svg");
const list = document.getElementById("places");
const side = Number(form.dataset.side);
const inches = form.dataset.units === "in";
const step = inches ? 25.4 / 32 : 0.5;

let shown = JSON.parse(frame.dataset.shown);
let at = shown.at ?? []; // of the drawing, mm
let picked = 0;
const past = [];
const undone = [];

const rows = () => [...list.querySelectorAll("[data-handle]")];
const field = (row, name) => row.querySelector(`[name="${name}"]`);
const nameOf = (n) => field(rows()[n], "name").value || `handle ${n + 1}`;

// What the form says, to be gone back to.
const state = () => JSON.stringify({
  rows: rows().map((row) => ["name", "along", "across"].map((each) => field(row, each).value)),
  mirrored: form.elements.mirrored.value,
  neck: form.elements.neck_edge.value,
});
let now = state();

function remember() {
  const next = state();
  if (next === now) return;
  past.push(now);
  if (past.length > KEPT) past.shift();
  undone.length = 0;
  now = next;
  buttons();
}

function buttons() {
  form.querySelector('[data-do="undo"]').disabled = !past.length;
  form.querySelector('[data-do="again"]').disabled = !undone.length;
}

function goTo(text) {
  now = text;
  const to = JSON.parse(text);
  list.replaceChildren(...to.rows.map((values) => newRow(values)));
  form.elements.mirrored.value = to.mirrored;
  form.elements.neck_edge.value = to.neck;
  picked = Math.min(picked, to.rows.length - 1);
  number();
  buttons();
  ask();
}

function newRow([name, along, across]) {
  const row = document.getElementById("handle-row").content.querySelector("[data-handle]").cloneNode(true);
  field(row, "name").value = name;
  field(row, "along").value = along;
  field(row, "across").value = across;
  return row;
}

function number() {
  for (const [n, row] of rows().entries()) {
    const name = nameOf(n);
    field(row, "name").setAttribute("aria-label", `Name of handle ${n + 1}`);
    field(row, "along").setAttribute("aria-label", `${name}, from the nut`);
    field(row, "across").setAttribute("aria-label", `${name}, to the treble (− to the bass)`);
  }
}

// One question at a time; the newest state waits for its turn.
let asking = false;
let again = false;
async function ask() {
  if (asking) { again = true; return; }
  asking = true;
  frame.dataset.asks = "yes";
  try {
    do {
      again = false;
      const answer = await fetch(`${form.getAttribute("action")}/curve`, { method: "POST", body: new URLSearchParams(new FormData(form)) });
      if (!answer.ok) throw new Error(String(answer.status));
      take(await answer.json());
    } while (again);
  } catch {
    wrong("The app does not answer. What you drew stays here; move a handle to try again.");
  } finally {
    asking = false;
    delete frame.dataset.asks;
  }
}

function wrong(words) {
  const node = document.getElementById("sketch-wrong");
  node.hidden = !words;
  if (node.textContent !== words) node.textContent = words;
  frame.classList.toggle("wrong", Boolean(words));
}

function take(answer) {
  shown = answer;
  wrong(answer.wrong);
  if (answer.at && !hand && !again) at = answer.at; // what was moved since lies where it was put
  if (answer.path) {
    svg.querySelector(".edge").setAttribute("d", answer.path);
    svg.querySelector(".comb").setAttribute("d", answer.comb);
    const [a, b] = answer.wood?.length ? answer.wood : [];
    svg.querySelector(".wood").setAttribute("d", a ? `M${a.join(" ")}L${b.join(" ")}` : "");
    document.getElementById("facts").replaceChildren(...answer.facts.map(fact));
  }
  place();
}

function fact([words, value, note]) {
  const make = (name, text, kind) => Object.assign(document.createElement(name), { textContent: text, className: kind ?? "" });
  const [row, cell] = [make("div", ""), make("dd", "")];
  cell.append(make("span", value, "n"));
  if (note) cell.append(" ", make("span", note, "soft"));
  row.append(make("dt", words), cell);
  return row;
}

// Between the screen and the drawing; the drawing is fitted into its frame, centred.
function lens() {
  const m = svg.getScreenCTM();
  const box = frame.getBoundingClientRect();
  return {
    px: ([x, y]) => [m.a * x + m.e - box.left - frame.clientLeft, m.d * y + m.f - box.top - frame.clientTop],
    mm: (event) => [(event.clientX - m.e) / m.a, (event.clientY - m.f) / m.d],
  };
}

function place() {
  const { px } = lens();
  const there = [...frame.querySelectorAll(".handle")];
  for (const extra of there.splice(at.length)) extra.remove();
  for (const [n, spot] of at.entries()) {
    let knob = there[n];
    if (!knob) {
      knob = Object.assign(document.createElement("div"), { className: "handle", tabIndex: 0, textContent: n + 1 });
      knob.setAttribute("role", "button");
      frame.append(knob);
    }
    knob.dataset.n = n;
    knob.setAttribute("aria-label", `${n + 1}, ${nameOf(n)}: arrow keys move it`);
    knob.setAttribute("aria-pressed", String(n === picked));
    // One that was put out of sight is taken hold of at the edge.
    const [x, y] = px(spot).map((value, axis) => Math.min(Math.max(value, 14), (axis ? frame.clientHeight : frame.clientWidth) - 14));
    knob.style.left = `${x}px`;
    knob.style.top = `${y}px`;
  }
  for (const [n, row] of rows().entries()) row.classList.toggle("held", n === picked);
  form.querySelector('[data-do="remove"]').textContent = `Remove ${picked + 1}`;
}

const says = (words) => { document.getElementById("sketch-says").textContent = words; };

function where(n) {
  const [x, y] = at[n];
  const across = Math.abs(y) < 0.005 ? "on the centreline" : `${told(Math.abs(y), inches)} to the ${-y * side > 0 ? "treble" : "bass"}`;
  return `${n + 1}, ${nameOf(n)}: ${told(x, inches)} from the nut, ${across}`;
}

function pick(n) {
  picked = n;
  place();
  if (at[n]) says(where(n));
}

// A handle goes where it is meant, to the nearest step of a rule, and onto the centreline close by.
function put(n, [x, y], steps = true) {
  const near = steps ? (value) => Math.round(value / step) * step : (value) => value;
  at[n] = [near(x), Math.abs(y) < 2 * step && steps ? 0 : near(y)];
  const row = rows()[n];
  field(row, "along").value = typedAs(at[n][0], inches);
  field(row, "across").value = typedAs(-at[n][1] * side + 0, inches);
  place();
  says(where(n));
  ask();
}

let hand = null;
frame.addEventListener("pointerdown", (event) => {
  if (event.button || hand || !at.length) return;
  const { px, mm } = lens();
  const box = frame.getBoundingClientRect();
  const far = at.map(px).map(([x, y]) => Math.hypot(event.clientX - box.left - frame.clientLeft - x, event.clientY - box.top - frame.clientTop - y));
  const n = far.indexOf(Math.min(...far));
  if (far[n] > REACH) return;
  event.preventDefault();
  frame.setPointerCapture(event.pointerId);
  hand = { id: event.pointerId, n, from: mm(event), was: [...at[n]], moved: false, start: [event.clientX, event.clientY] };
  pick(n);
  frame.querySelector(`.handle[data-n="${n}"]`).focus({ preventScroll: true });
});
frame.addEventListener("pointermove", (event) => {
  if (hand?.id !== event.pointerId) return;
  if (!hand.moved && Math.hypot(event.clientX - hand.start[0], event.clientY - hand.start[1]) < 4) return;
  hand.moved = true;
  const [x, y] = lens().mm(event);
  put(hand.n, [hand.was[0] + x - hand.from[0], hand.was[1] + y - hand.from[1]]);
});
const drop = (event) => {
  if (hand?.id !== event.pointerId) return;
  const held = hand;
  hand = null;
  if (event.type === "pointercancel" && held.moved) put(held.n, held.was, false);
  remember();
};
frame.addEventListener("pointerup", drop);
frame.addEventListener("pointercancel", drop);

frame.addEventListener("keydown", (event) => {
  const knob = event.target.closest(".handle");
  const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
  if (!knob || !way) return;
  event.preventDefault();
  const n = Number(knob.dataset.n);
  const by = step * 2 * (event.shiftKey ? 10 : 1);
  picked = n;
  put(n, [at[n][0] + way[0] * by, at[n][1] + way[1] * by], false);
  remember();
});
frame.addEventListener("focusin", (event) => {
  const knob = event.target.closest(".handle");
  if (knob && !hand) pick(Number(knob.dataset.n));
});

list.addEventListener("focusin", (event) => {
  const n = rows().indexOf(event.target.closest("[data-handle]"));
  if (n >= 0 && n !== picked) pick(n);
});
form.addEventListener("change", () => {
  number();
  remember();
  ask();
});

const acts = {
  undo() { if (past.length) { undone.push(now); goTo(past.pop()); } },
  again() { if (undone.length) { past.push(now); goTo(undone.pop()); } },
  comb(button) {
    const on = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(on));
    frame.classList.toggle("combed", on);
  },
  // Half-way to the next one along the edge that is drawn.
  add() {
    const n = picked;
    const next = at[(n + 1) % at.length];
    const edge = svg.querySelector(".edge");
    const long = edge.getTotalLength();
    const spots = Array.from({ length: 400 }, (_, i) => edge.getPointAtLength((long * i) / 400));
    const index = ([x, y]) => spots.reduce((best, p, i) => (Math.hypot(p.x - x, p.y - y) < Math.hypot(spots[best].x - x, spots[best].y - y) ? i : best), 0);
    const [a, b] = [index(at[n]), index(next)];
    const gap = (((b - a) % 400) + 400) % 400;
    const middle = spots[(a + Math.round(gap <= 200 ? gap / 2 : (gap - 400) / 2) + 400) % 400];
    const names = new Set(rows().map((row) => field(row, "name").value));
    let count = rows().length + 1;
    while (names.has(`handle ${count}`)) count += 1;
    rows()[n].after(newRow([`handle ${count}`, "0", "0"]));
    at.splice(n + 1, 0, [middle.x, middle.y]);
    picked = n + 1;
    number();
    put(picked, at[picked]);
    remember();
  },
  remove() {
    if (rows().length < 2) return;
    const name = nameOf(picked);
    rows()[picked].remove();
    at.splice(picked, 1);
    picked = Math.min(picked, at.length - 1);
    number();
    remember();
    place();
    says(`${name} is taken out`);
    ask();
  },
};
form.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-do]");
  if (button) acts[button.dataset.do](button);
});
addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || event.target.matches("input")) return;
  event.preventDefault();
  acts[event.shiftKey ? "again" : "undo"]();
});
addEventListener("resize", place);
place();
