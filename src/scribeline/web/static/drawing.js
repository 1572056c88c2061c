// Drawings on the screen: move, zoom, touch a hole. Where one was looked at is where one comes back to.
import { cutting, draw, prepareLine, showLine } from "./cutting.js";
import { again, forget, letter, unletter } from "./letters.js";
import { grip, nudge, prepareOver, redraw } from "./placing.js";
import { leaveOut } from "./showing.js";

const FINGER = 28; // how far a fingertip may be from a hole and still mean it, CSS pixels

const boxOf = (svg) => svg.getAttribute("viewBox").split(/\s+/).map(Number);
const whole = new WeakMap();
const keyOf = (frame) => `view:${location.pathname}:${frame.dataset.view}`;

function apply(frame, box, keep = true) {
  const svg = frame.querySelector("svg");
  svg.setAttribute("viewBox", box.join(" "));
  svg.dataset.shown = svg.getAttribute("viewBox");
  const all = whole.get(svg);
  const near = box[2] < all[2] * 0.995;
  frame.style.touchAction = near || cutting(frame) || document.getElementById("move") ? "none" : "pan-y";
  const wide = svg.getBoundingClientRect().width;
  if (wide) letter(frame, wide / box[2], wide / all[2]);
  redraw(frame);
  showLine(frame);
  if (!keep) return;
  if (near) sessionStorage.setItem(keyOf(frame), JSON.stringify(box));
  else sessionStorage.removeItem(keyOf(frame));
}

function bounded(box, all) {
  const [, , w, h] = box;
  const inside = (at, size, low, full) => Math.min(Math.max(at, low - size * 0.4), low + full - size * 0.6);
  return [inside(box[0], w, all[0], all[2]), inside(box[1], h, all[1], all[3]), w, h];
}

function zoom(frame, factor, at) {
  const svg = frame.querySelector("svg");
  const all = whole.get(svg);
  const [x, y, w, h] = boxOf(svg);
  const width = Math.min(all[2], Math.max(all[2] / 30, w * factor));
  if (width >= all[2]) return apply(frame, all);
  const k = width / w;
  const [px, py] = at ?? [x + w / 2, y + h / 2];
  apply(frame, bounded([px - (px - x) * k, py - (py - y) * k, width, h * k], all));
}

function move(frame, du, dv) {
  const svg = frame.querySelector("svg");
  const [x, y, w, h] = boxOf(svg);
  apply(frame, bounded([x + du, y + dv, w, h], whole.get(svg)));
}

function place(svg, event) {
  const [x, y, w, h] = boxOf(svg);
  const r = svg.getBoundingClientRect();
  return [x + ((event.clientX - r.left) / r.width) * w, y + ((event.clientY - r.top) / r.height) * h];
}

function touched(frame, event) {
  const links = new Map([...document.querySelectorAll("a[data-cut]")].map((a) => [a.dataset.cut, a]));
  let best = null;
  for (const mark of frame.querySelectorAll("[data-ref]")) {
    const link = links.get(mark.dataset.ref);
    if (!link || mark.classList.contains("off")) continue;
    const r = mark.getBoundingClientRect();
    const far = Math.hypot(event.clientX - (r.left + r.right) / 2, event.clientY - (r.top + r.bottom) / 2);
    const within = event.clientX >= r.left && event.clientX <= r.right && event.clientY >= r.top && event.clientY <= r.bottom;
    const small = Math.max(r.width, r.height) < 3 * FINGER;
    const cost = small && far <= FINGER ? far : within ? 1000 + r.width * r.height : Infinity;
    if (cost < (best?.cost ?? Infinity)) best = { cost, link };
  }
  best?.link.click();
}

// Not a mark on the element: a swap that keeps the frame takes away every mark the server did not send.
const held = new WeakSet();

function hold(frame) {
  const down = new Map();
  let start = null;
  let moved = false;
  let hand = null;
  const letGo = (event) => {
    const held = hand;
    hand = null;
    if (event.type === "pointerup" && moved) held?.drop();
    else held?.back();
    return Boolean(held) && moved;
  };
  frame.addEventListener("pointerdown", (event) => {
    if (event.target.closest("button:not(.end), a:not(.at-place)")) return; // a check's tag may lie over what is taken hold of
    down.set(event.pointerId, event);
    start = [event.clientX, event.clientY];
    moved = down.size > 1;
    if (moved) letGo({ type: "pinch" });
    else {
      const at = (now) => place(frame.querySelector("svg"), now);
      hand = draw(frame, event, at) ?? grip(frame, event, at);
    }
  });
  frame.addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId);
    const svg = frame.querySelector("svg");
    if (!before) return;
    if (down.size === 2) {
      const [a, b] = [...down.values()];
      const gap = Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
      down.set(event.pointerId, event);
      const [c, d] = [...down.values()];
      const now = Math.hypot(c.clientX - d.clientX, c.clientY - d.clientY);
      zoom(frame, gap / now, place(svg, { clientX: (c.clientX + d.clientX) / 2, clientY: (c.clientY + d.clientY) / 2 }));
      return;
    }
    if (!moved && Math.hypot(event.clientX - start[0], event.clientY - start[1]) < 8) return;
    if (!moved) frame.setPointerCapture(event.pointerId);
    moved = true;
    if (hand) return hand.to(event);
    const [u, v] = place(svg, before);
    const [s, t] = place(svg, event);
    move(frame, u - s, v - t);
    down.set(event.pointerId, event);
  });
  const up = (event) => {
    if (!down.delete(event.pointerId)) return;
    if (!letGo(event) && !moved && event.type === "pointerup" && !event.target.closest(".at-place, .end")) touched(frame, event);
  };
  frame.addEventListener("pointerup", up);
  frame.addEventListener("pointercancel", up);
  frame.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && !event.metaKey) return; // a plain wheel scrolls the page
    event.preventDefault();
    zoom(frame, event.deltaY > 0 ? 1.15 : 1 / 1.15, place(frame.querySelector("svg"), event));
  }, { passive: false });
  frame.addEventListener("keydown", (event) => {
    if (nudge(frame, event)) return event.preventDefault();
    if (event.shiftKey && event.key.startsWith("Arrow")) return;
    const [, , w] = boxOf(frame.querySelector("svg"));
    const act = {
      "+": () => zoom(frame, 1 / 1.4), "=": () => zoom(frame, 1 / 1.4), "-": () => zoom(frame, 1.4), 0: () => zoom(frame, 99),
      ArrowLeft: () => move(frame, -w / 8, 0), ArrowRight: () => move(frame, w / 8, 0),
      ArrowUp: () => move(frame, 0, -w / 8), ArrowDown: () => move(frame, 0, w / 8),
    }[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-zoom]");
  if (!button) return;
  const frame = document.getElementById(button.dataset.of);
  zoom(frame, { in: 1 / 1.5, out: 1.5, all: 99 }[button.dataset.zoom]);
});

// A cut found by a letter or a name: the others step back, Enter takes the first.
const matching = (seek) => {
  const asked = seek.value.trim().toLowerCase();
  const chips = [...document.querySelectorAll(".chips.few li")];
  const shown = chips.filter((chip) => chip.textContent.trim().toLowerCase().includes(asked));
  for (const chip of chips) chip.hidden = !shown.includes(chip);
  return shown;
};

document.addEventListener("input", (event) => {
  if (event.target.id === "seek") matching(event.target);
});

document.addEventListener("keydown", (event) => {
  if (event.target.id !== "seek" || event.key !== "Enter") return;
  event.preventDefault();
  matching(event.target)[0]?.querySelector("a").click();
});

// The whole drawing in the frame's own shape, so that nothing of the frame lies idle when it is brought closer.
function fitted([x, y, w, h], svg) {
  const r = svg.getBoundingClientRect();
  if (!r.width || !r.height) return [x, y, w, h];
  const wide = Math.max(w, (h * r.width) / r.height);
  const tall = (wide * r.height) / r.width;
  return [x - (wide - w) / 2, y - (tall - h) / 2, wide, tall];
}

addEventListener("resize", () => {
  for (const svg of document.querySelectorAll(".drawing[data-view] svg")) {
    if (!svg.dataset.drawn) continue;
    unletter(svg);
    svg.setAttribute("viewBox", svg.dataset.drawn);
    prepareOver(svg.parentElement);
    delete svg.dataset.drawn;
  }
  prepare();
});

// What is left out, or drawn over the plan, has changed: lettering finds its places anew.
document.addEventListener("shown-otherwise", () => {
  leaveOut();
  for (const frame of document.querySelectorAll(".drawing[data-view]")) {
    const svg = frame.querySelector("svg");
    if (!svg || !whole.has(svg)) continue;
    again(svg);
    apply(frame, boxOf(svg), false);
  }
});

export function prepare() {
  leaveOut();
  for (const seek of document.querySelectorAll(".seek")) seek.hidden = false;
  for (const frame of document.querySelectorAll(".drawing[data-view]")) {
    const svg = frame.querySelector("svg");
    if (!svg) continue;
    // Untouched by this script, the box is the drawing's own: after a swap as on the first look.
    if (svg.getAttribute("viewBox") !== svg.dataset.shown) {
      svg.dataset.drawn = svg.getAttribute("viewBox");
      forget(svg);
      whole.set(svg, fitted(boxOf(svg), svg));
      apply(frame, whole.get(svg), false);
    }
    if (!held.has(frame)) {
      held.add(frame);
      hold(frame);
    }
    prepareOver(frame);
    const kept = sessionStorage.getItem(keyOf(frame));
    if (kept) apply(frame, JSON.parse(kept));
    else apply(frame, boxOf(svg), false);
  }
  prepareLine();
}
