// Lettering and lines of a drawing keep their size on the screen, however close it is brought; of lettering that would
// cover other lettering, what matters less waits until there is room.

const LEAST = 12.5; // px: no lettering is smaller
const MOST = 17;

const units = new WeakMap(); // of a drawing: what is lettered together, each about a place that stays
const set = new WeakMap(); // and at which scale it was lettered last

const number = (node, name) => Number.parseFloat(node.getAttribute(name));

function ends(path) {
  const found = /^M(\S+) (\S+)L(\S+) (\S+)$/.exec(path.getAttribute("d") ?? "");
  return found ? [[+found[1], +found[2]], [+found[3], +found[4]]] : null;
}

// A balloon's circle round a word, and the line that leads from it to its hole.
function ballooned(svg, text, x, y) {
  const of = `[data-ref="${CSS.escape(text.dataset.ref)}"]`;
  const circle = [...svg.querySelectorAll(`circle${of}`)].find((each) => Math.hypot(number(each, "cx") - x, number(each, "cy") - y) < number(each, "r") && number(each, "r") > number(text, "font-size") / 2);
  if (!circle) return null;
  const [cx, cy, r] = ["cx", "cy", "r"].map((name) => number(circle, name));
  const off = (p) => Math.hypot(p[0] - cx, p[1] - cy);
  for (const path of svg.querySelectorAll(`path${of}`)) {
    const both = ends(path);
    if (!both || Math.min(...both.map(off)) > r + 0.6) continue;
    const tip = off(both[0]) > off(both[1]) ? both[0] : both[1];
    return { marks: [circle, path], at: tip };
  }
  return { marks: [circle], at: [cx, cy] };
}

function gathered(svg) {
  const made = [];
  const named = new Map();
  for (const text of svg.querySelectorAll("text")) {
    const [x, y, size] = [number(text, "x"), number(text, "y"), number(text, "font-size")];
    const flag = !text.dataset.ref && text.closest('g[data-layer="tag"]');
    const balloon = text.dataset.ref ? ballooned(svg, text, x, y) : null;
    const together = text.dataset.ref && !balloon ? named.get(text.dataset.ref) : null;
    if (together) {
      together.marks.push(text);
      together.at = [(together.at[0] + x) / 2, (together.at[1] + y) / 2];
      continue;
    }
    const unit = { marks: [text, ...(balloon?.marks ?? [])], at: balloon?.at ?? [x, y], size, ref: text.dataset.ref, text };
    if (flag) unit.marks.push(...[...flag.children].filter((each) => !each.dataset.ref && each !== text));
    unit.flag = Boolean(flag);
    if (text.dataset.ref && !balloon) named.set(text.dataset.ref, unit);
    made.push(unit);
  }
  for (const unit of made) unit.own = unit.marks.map((mark) => mark.getAttribute("transform") ?? "");
  return made;
}

const meet = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;

function boxOf(unit) {
  // A word's box has room above and below for letters it does not have.
  const boxes = unit.marks.filter((mark) => mark.tagName !== "path").map((mark) => {
    const { left, right, top, bottom } = mark.getBoundingClientRect();
    const idle = mark.tagName === "text" ? 0.2 * Math.min(right - left, bottom - top) : 0;
    const level = right - left >= bottom - top || mark.textContent.length < 4;
    return level ? { left, right, top: top + idle, bottom: bottom - idle } : { left: left + idle, right: right - idle, top, bottom };
  });
  return {
    left: Math.min(...boxes.map((b) => b.left)), right: Math.max(...boxes.map((b) => b.right)),
    top: Math.min(...boxes.map((b) => b.top)), bottom: Math.max(...boxes.map((b) => b.bottom)),
  };
}

// A drawing that was drawn anew is lettered anew.
export function forget(svg) {
  units.delete(svg);
  set.delete(svg);
  for (const mark of svg.querySelectorAll("[style]")) mark.style.visibility = "";
}

// As it was drawn, so that it can be lettered at another size of the screen; only while its marks are those it was lettered with.
export function unletter(svg) {
  for (const unit of units.get(svg) ?? []) {
    unit.marks.forEach((mark, n) => {
      if (unit.own[n]) mark.setAttribute("transform", unit.own[n]);
      else mark.removeAttribute("transform");
    });
  }
  forget(svg);
}

// What is left out of a drawing makes room for other lettering.
export const again = (svg) => set.delete(svg);

// px: how many a unit of the drawing takes up now, and with the whole of it shown.
export function letter(frame, px, whole) {
  const svg = frame.querySelector("svg");
  const scale = `${px} ${whole}`;
  if (set.get(svg) === scale) return; // it is only moved
  set.set(svg, scale);
  if (!units.has(svg)) units.set(svg, gathered(svg));
  svg.classList.add("steady");
  for (const layer of svg.querySelectorAll("g[stroke-width]")) {
    layer.style.strokeWidth = `${Math.max(0.9, number(layer, "stroke-width") * whole)}px`;
    const dashes = layer.getAttribute("stroke-dasharray");
    if (dashes) layer.style.strokeDasharray = dashes.split(/[\s,]+/).map((each) => +each * whole).join(" ");
  }
  const placed = [];
  const picked = (unit) => unit.text.classList.contains("picked");
  const first = [...units.get(svg)].sort((a, b) => picked(b) - picked(a));
  for (const unit of first) {
    if (unit.text.classList.contains("off")) continue;
    const s = Math.min(Math.max(unit.size * px, LEAST), MOST) / (unit.size * px);
    const [x, y] = unit.at;
    const about = Math.abs(s - 1) < 0.001 ? "" : `translate(${x} ${y}) scale(${s}) translate(${-x} ${-y})`;
    unit.marks.forEach((mark, n) => {
      const all = `${about} ${unit.own[n]}`.trim();
      if (all) mark.setAttribute("transform", all);
      else mark.removeAttribute("transform");
      mark.style.visibility = "";
    });
    const box = boxOf(unit);
    if ((unit.flag && s > 1.001) || placed.some((other) => meet(box, other))) for (const mark of unit.marks) mark.style.visibility = "hidden";
    else placed.push(box);
  }
}
