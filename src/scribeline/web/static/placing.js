// What stands over a drawing of the plan: dimension lines of what is picked, checks where they are, and a cut being moved.
// All of it keeps its size on the screen, however close the drawing is brought. Places are of the instrument, in mm.
import { leavesOut } from "./showing.js";

const NEAR = 24; // px: a finger this near what is picked takes hold of it
const SNAP = 9; // px: this near a line it comes to rest on it
const INCH = 25.4;
const svgNS = "http://www.w3.org/2000/svg";

// Of the plan's own drawing alone; a section beside it has none of it.
const said = (frame) => {
  const node = frame.id === "drawing" ? document.getElementById("on-drawing") : null;
  return node ? JSON.parse(node.dataset.said) : null;
};

// From the instrument to the screen and back.
function lens(frame, on) {
  const svg = frame.querySelector("svg");
  const corner = svg.dataset.corner.split(" ").map(Number);
  const r = svg.getBoundingClientRect();
  const [x, y, w] = svg.getAttribute("viewBox").split(/\s+/).map(Number);
  const k = r.width / w;
  const flip = on.face === "top" ? 1 : -1;
  return {
    k: k * on.scale,
    to: ([mx, my]) => [(mx * on.scale - corner[0] - x) * k, (corner[1] - my * flip * on.scale - y) * k],
    flip,
  };
}

// Lines and words over the drawing.
function make(name, attributes, text) {
  const node = document.createElementNS(svgNS, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  if (text !== undefined) node.textContent = text;
  return node;
}

export const line = (a, b, kind) => make("line", { x1: a[0], y1: a[1], x2: b[0], y2: b[1], class: kind });

function words(at, text, kind, frame) {
  const node = make("text", { x: at[0], y: at[1], class: kind }, text);
  frame.append(node);
  const box = node.getBBox();
  const all = frame.getBoundingClientRect();
  // Words that would run out of the drawing stand inside it.
  const dx = Math.min(0, all.width - 6 - box.x - box.width) + Math.max(0, 6 - box.x);
  const dy = Math.min(0, all.height - 6 - box.y - box.height) + Math.max(0, 6 - box.y);
  if (dx || dy) { node.setAttribute("x", at[0] + dx); node.setAttribute("y", at[1] + dy); }
  return node;
}

function dimension(over, a, b, text) {
  const long = Math.hypot(b[0] - a[0], b[1] - a[1]);
  if (long < 1) return;
  over.append(line(a, b, "dim"));
  const [u, v] = [(b[0] - a[0]) / long, (b[1] - a[1]) / long];
  for (const end of [a, b]) over.append(line([end[0] - v * 6, end[1] + u * 6], [end[0] + v * 6, end[1] - u * 6], "dim"));
  const level = Math.abs(u) > Math.abs(v);
  const middle = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  const node = words(level ? [middle[0], middle[1] - 8] : [middle[0] + 8, middle[1] + 5], text, level ? "dim middle" : "dim", over);
  return node;
}

function overOf(frame) {
  let over = frame.querySelector("svg.over");
  if (!over) {
    over = make("svg", { class: "over", "aria-hidden": "true" });
    frame.append(over);
  }
  over.replaceChildren();
  return over;
}

// Checks that have a place, as tags to be touched; those too near each other to be told apart stand as one.
function marked(frame, on, view) {
  for (const old of frame.querySelectorAll("a.at-place")) old.remove();
  const box = frame.getBoundingClientRect();
  const groups = [];
  for (const mark of on.marks) {
    const [x, y] = view.to(mark.at);
    if (x < 0 || y < 0 || x > box.width || y > box.height) continue;
    const near = groups.find((g) => Math.hypot(g.x - x, g.y - y) < 44);
    if (near) near.marks.push(mark);
    else groups.push({ x, y, marks: [mark] });
  }
  for (const { x, y, marks } of groups) {
    const worst = marks.find((m) => m.severity === "stop") ?? marks[0];
    const at = new URL(location.href);
    at.searchParams.set("at", worst.ref);
    const link = Object.assign(document.createElement("a"), { className: `at-place ${worst.severity}`, href: at.pathname + at.search, draggable: false });
    link.style.left = `${x}px`;
    link.style.top = `${y}px`;
    const tag = Object.assign(document.createElement("span"), { textContent: marks.length > 1 ? `! ${marks.length}` : "!" });
    link.append(tag);
    link.setAttribute("aria-label", marks.map((m) => m.words).join(" Also: "));
    link.addEventListener("click", (event) => {
      const chip = document.querySelector(`a[data-cut="${CSS.escape(worst.ref)}"]`);
      if (!chip) return;
      event.preventDefault();
      chip.click();
    });
    frame.append(link);
  }
}

// The wood between what moves and what stays, as between upright walls: how far apart from above, and in height.

const ring = (thing, dx = 0, dy = 0) =>
  (thing.ring ?? Array.from({ length: 24 }, (_, n) => [thing.at[0] + thing.r * Math.cos((n * Math.PI) / 12), thing.at[1] + thing.r * Math.sin((n * Math.PI) / 12)]))
    .map(([x, y]) => [x + dx, y + dy]);

const inside = ([x, y], loop) => {
  let within = false;
  for (let i = 0, j = loop.length - 1; i < loop.length; j = i++) {
    const [[xi, yi], [xj, yj]] = [loop[i], loop[j]];
    if (yi > y !== yj > y && x < ((xj - xi) * (y - yi)) / (yj - yi) + xi) within = !within;
  }
  return within;
};

function toSide([x, y], [ax, ay], [bx, by]) {
  const long = (bx - ax) ** 2 + (by - ay) ** 2;
  const t = long ? Math.max(0, Math.min(1, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / long)) : 0;
  return [ax + t * (bx - ax), ay + t * (by - ay)];
}

// The nearest places of two loops, and how far apart they are.
function apart(one, other) {
  let best = { mm: Infinity, a: null, b: null };
  const look = (points, loop, turned) => {
    for (const p of points) {
      for (let i = 0, j = loop.length - 1; i < loop.length; j = i++) {
        const q = toSide(p, loop[j], loop[i]);
        const mm = Math.hypot(p[0] - q[0], p[1] - q[1]);
        if (mm < best.mm) best = turned ? { mm, a: q, b: p } : { mm, a: p, b: q };
      }
    }
  };
  look(one, other, false);
  look(other, one, true);
  return best;
}

function woodLeft(on, moving, dx, dy) {
  let least = { mm: Infinity };
  const stays = on.things.filter((each) => !moving.has(each.id));
  for (const thing of on.things) {
    if (!moving.has(thing.id)) continue;
    const loop = ring(thing, dx, dy);
    const edge = apart(loop, on.body);
    if (!loop.every((p) => inside(p, on.body))) return { mm: 0, a: edge.a, b: edge.b, name: "the body's edge", out: true };
    if (edge.mm < least.mm) least = { ...edge, name: "the body's edge" };
    for (const other of stays) {
      if (thing.meets.includes(other.id)) continue;
      const there = ring(other);
      const level = apart(loop, there);
      const over = inside(loop[0], there) || inside(there[0], loop);
      const gap = Math.max(0, Math.max(thing.z[0], other.z[0]) - Math.min(thing.z[1], other.z[1]));
      const mm = Math.hypot(over ? 0 : level.mm, gap);
      if (mm < least.mm) least = { mm, a: level.a, b: level.b, name: other.name };
    }
  }
  return least;
}

// Lengths as a person reads them while moving.
export function told(mm, inches) {
  if (!inches) return `${mm.toFixed(1)} mm`;
  const marks = Math.round((Math.abs(mm) / INCH) * 64);
  return `${mm < 0 && marks ? "-" : ""}${fraction(marks)} in`;
}

function fraction(marks) {
  const whole = Math.floor(marks / 64);
  let [top, bottom] = [marks % 64, 64];
  if (!top) return `${whole}`;
  while (top % 2 === 0) { top /= 2; bottom /= 2; }
  return `${whole ? `${whole} ` : ""}${top}/${bottom}`;
}

export function typedAs(mm, inches) {
  if (!inches) return `${Math.round(mm * 100) / 100}`;
  const marks = Math.round((Math.abs(mm) / INCH) * 64);
  if (Math.abs((marks / 64) * INCH - Math.abs(mm)) < 0.006) return `${mm < 0 && marks ? "-" : ""}${fraction(marks)}`;
  return (mm / INCH).toFixed(3);
}

// One cut in hand. Its form, beside the drawing, says what goes along and takes the place it is put down at.
class Hand {
  constructor(frame, on) {
    Object.assign(this, { frame, on, form: document.getElementById("move"), by: [0, 0], resting: [] });
    const keys = [Object.keys(on.held.moves)[0], ...[...this.form.querySelectorAll("[name=takes]:checked")].map((box) => box.value)];
    this.ids = new Set(keys.flatMap((key) => on.held.moves[key] ?? []));
    const [along, across] = on.held.at;
    this.middle = [on.held.datum + (on.held.back ? -along : along), across * on.treble];
    this.marks = [...frame.querySelectorAll("svg:not(.over) [data-ref]")].filter((mark) => this.ids.has(mark.dataset.ref));
    this.lines = this.#lines();
  }

  // Lines it may come to rest on: the centreline, and those through the middles of what stays.
  #lines() {
    const stays = this.on.things.filter((each) => each.lines && !this.ids.has(each.id)).map((each) => {
      if (each.at) return { name: each.name, at: each.at };
      const xs = each.ring.map((p) => p[0]), ys = each.ring.map((p) => p[1]);
      return { name: each.name, at: [(Math.min(...xs) + Math.max(...xs)) / 2, (Math.min(...ys) + Math.max(...ys)) / 2] };
    });
    return [{ name: "the centreline", at: [null, 0] }, ...stays];
  }

  // Moved so far in all, mm of the instrument: to the nearest step of a rule from its datum, or onto a line close by.
  go(dx, dy, snaps = true) {
    const view = lens(this.frame, this.on);
    const { step, datum } = this.on.held;
    const near = SNAP / view.k;
    const to = [this.middle[0] + dx, this.middle[1] + dy];
    this.resting = [];
    const put = to.map((value, axis) => {
      const line = snaps ? this.lines.find((each) => each.at[axis] !== null && Math.abs(each.at[axis] - value) < near) : null;
      if (line) { this.resting.push([axis, line]); return line.at[axis]; }
      const from = axis ? 0 : datum;
      return from + Math.round((value - from) / step) * step;
    });
    this.by = [put[0] - this.middle[0], put[1] - this.middle[1]];
    this.show();
  }

  show() {
    const view = lens(this.frame, this.on);
    const [dx, dy] = this.by;
    const move = `translate(${dx * this.on.scale} ${-dy * view.flip * this.on.scale})`;
    for (const mark of this.marks) {
      mark.dataset.own ??= mark.getAttribute("transform") ?? "";
      mark.setAttribute("transform", `${move} ${mark.dataset.own}`.trim());
    }
    const at = [this.middle[0] + dx, this.middle[1] + dy];
    const over = overOf(this.frame);
    const { held, inches } = this.on;
    const [along, across] = this.place();
    for (const [axis, rest] of this.resting) {
      const far = axis ? [[at[0] - 2000, rest.at[1]], [at[0] + 2000, rest.at[1]]] : [[rest.at[0], -2000], [rest.at[0], 2000]];
      over.append(line(...far.map(view.to), "rest"));
    }
    dimension(over, view.to([held.datum, at[1]]), view.to(at), told(Math.abs(along), inches));
    if (Math.abs(across) > 0.005) dimension(over, view.to([at[0], 0]), view.to(at), told(Math.abs(across), inches));
    const side = Math.abs(across) < 0.005 ? "on the centreline" : `${told(Math.abs(across), inches)} to the ${across > 0 ? "treble" : "bass"}`;
    const rests = this.resting.map(([, rest]) => rest.name).filter((name) => name !== "the centreline");
    let wood = "";
    if (!held.edge) {
      const least = woodLeft(this.on, this.ids, dx, dy);
      if (least.a && !least.out) over.append(line(view.to(least.a), view.to(least.b), "wood"));
      if (least.out) wood = "out of the wood";
      else if (least.mm < Infinity) wood = `${told(least.mm, inches)} of wood to ${least.name}`;
    }
    this.say([`${told(Math.abs(along), inches)} ${held.from}`, side, wood, rests.length ? `in line with ${rests.join(" and ")}` : ""]);
  }

  place() {
    const [x, y] = [this.middle[0] + this.by[0], this.middle[1] + this.by[1]];
    return [(x - this.on.held.datum) * (this.on.held.back ? -1 : 1), y * this.on.treble];
  }

  say(parts) {
    let note = this.frame.querySelector(".moving");
    if (!note) {
      note = Object.assign(document.createElement("p"), { className: "moving" });
      note.setAttribute("role", "status");
      this.frame.append(note);
    }
    note.replaceChildren(...parts.filter(Boolean).map((part) => Object.assign(document.createElement("span"), { textContent: part })));
  }

  // Let go: where it is now is written into its form, and sent as if it were typed.
  drop() {
    if (Math.hypot(...this.by) < 0.005) { this.back(); return; }
    const [along, across] = this.place();
    this.form.elements.along.value = typedAs(along, this.on.inches);
    this.form.elements.across.value = typedAs(across, this.on.inches);
    this.form.requestSubmit();
  }

  back() {
    prepareOver(this.frame);
    redraw(this.frame);
  }
}

let hand = null; // what the keyboard holds

// A finger, or null where it takes hold of nothing. `place` gives where an event is, in the drawing's own units.
export function grip(frame, event, place) {
  const on = said(frame);
  if (!on?.held || !document.getElementById("move")) return null;
  const marks = [...frame.querySelectorAll(`svg:not(.over) [data-ref="${CSS.escape(on.held.id)}"]`)];
  const touches = marks.some((mark) => {
    const r = mark.getBoundingClientRect();
    return event.clientX > r.left - NEAR && event.clientX < r.right + NEAR && event.clientY > r.top - NEAR && event.clientY < r.bottom + NEAR;
  });
  if (!touches) return null;
  const held = new Hand(frame, on);
  const start = place(event);
  const flip = on.face === "top" ? 1 : -1;
  return {
    to(now) {
      const [u, v] = place(now);
      held.go((u - start[0]) / on.scale, (-(v - start[1]) / on.scale) * flip);
    },
    drop: () => held.drop(),
    back: () => held.back(),
  };
}

// The same by the keyboard; true where the key was meant for it.
export function nudge(frame, event) {
  const on = said(frame);
  if (!on?.held || !document.getElementById("move")) return false;
  const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
  if (way && event.shiftKey) {
    hand ??= new Hand(frame, on);
    const flip = on.face === "top" ? 1 : -1;
    hand.go(hand.by[0] + way[0] * on.held.step, hand.by[1] + way[1] * on.held.step * flip, false);
    return true;
  }
  if (hand && (event.key === "Enter" || event.key === "Escape")) {
    const held = hand;
    hand = null;
    if (event.key === "Enter") held.drop();
    else held.back();
    return true;
  }
  return false;
}

export function redraw(frame) {
  const on = said(frame);
  const over = overOf(frame);
  if (!on || !frame.querySelector("svg")?.dataset.corner) return;
  const view = lens(frame, on);
  if (!leavesOut("dims")) for (const each of on.dims) dimension(over, view.to(each.a), view.to(each.b), each.words);
  marked(frame, on, view);
}

export function prepareOver(frame) {
  if (frame.id === "drawing") hand = null;
  frame.querySelector(".moving")?.remove();
  for (const mark of frame.querySelectorAll("[data-own]")) {
    if (mark.dataset.own) mark.setAttribute("transform", mark.dataset.own);
    else mark.removeAttribute("transform");
    delete mark.dataset.own;
  }
}
