// Cents at every fret: a string is chosen, a note is touched or reached by the arrow keys, and its numbers stand large
// beside it. The numbers are those of the table on the page.
const FINGER = 24; // how far a touch may be from a mark and still mean it, CSS pixels

const keyOf = () => `cents:${location.pathname}`;
const cellOf = (part, at) => part.querySelector(`td[data-at="${at}"]`);
const where = (part) => (part.dataset.at ?? part.dataset.worst).split("-").map(Number);

function show(part, at) {
  const cell = cellOf(part, at);
  if (!cell) return false;
  part.dataset.at = at;
  const [string, fret] = where(part);
  const say = (name, words) => {
    part.querySelector(`[data-say="${name}"]`).textContent = words;
  };
  say("at", `String ${string}, fret ${fret}`);
  say("note", cell.dataset.note);
  say("set", `${cell.dataset.set} cents`);
  say("line", `${cell.dataset.line} cents`);
  for (const each of part.querySelectorAll("[data-ref]")) {
    const [, of, on] = each.dataset.ref.split("-");
    each.classList.toggle("chosen", of === String(string));
    each.classList.toggle("taken", of === String(string) && on === String(fret));
  }
  for (const each of part.querySelectorAll("button[data-string]")) each.setAttribute("aria-pressed", String(each.dataset.string === String(string)));
  return true;
}

function take(part, at) {
  if (show(part, at)) sessionStorage.setItem(keyOf(), at);
}

// One string or one fret on; at the end it stays.
function go(part, strings, frets) {
  const [string, fret] = where(part);
  take(part, `${string + strings}-${fret + frets}`);
}

function touched(part, event) {
  let best = null;
  for (const mark of part.querySelectorAll("circle[data-ref]")) {
    const r = mark.getBoundingClientRect();
    if (!r.width) continue;
    const far = Math.hypot(event.clientX - (r.left + r.right) / 2, event.clientY - (r.top + r.bottom) / 2);
    if (far <= FINGER && far < (best?.far ?? Infinity)) best = { far, at: mark.dataset.ref.replace("cents-", "") };
  }
  if (best) take(part, best.at);
}

document.addEventListener("click", (event) => {
  const part = event.target.closest?.("[data-cents]");
  if (!part) return;
  const button = event.target.closest("button");
  if (button?.dataset.string) return take(part, `${button.dataset.string}-${where(part)[1]}`);
  if (button?.dataset.frets) return go(part, 0, Number(button.dataset.frets));
  if (event.target.closest(".plot")) touched(part, event);
});

const KEYS = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };

document.addEventListener("keydown", (event) => {
  const plot = event.target.closest?.(".plot");
  const part = plot?.closest("[data-cents]");
  if (!part || !KEYS[event.key] || event.altKey || event.ctrlKey || event.metaKey) return;
  event.preventDefault();
  go(part, ...KEYS[event.key]);
});

function prepare() {
  for (const part of document.querySelectorAll("[data-cents]")) {
    part.classList.add("lives");
    if (!show(part, sessionStorage.getItem(keyOf()) ?? part.dataset.worst)) show(part, part.dataset.worst);
  }
}

document.addEventListener("htmx:after:swap", prepare);
prepare();
