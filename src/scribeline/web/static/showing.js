// What the drawings show, kind by kind. What is left out is left out on this screen alone, and stays so.
const KEPT = "off";

const chosen = () => [...document.querySelectorAll(".kinds input[name=show]")];

const kept = () => new Set((document.cookie.match(/(?:^|; )off=([^;]*)/)?.[1] ?? "").split(".").filter(Boolean));

export const leavesOut = (kind) => kept().has(kind);

// What a mark belongs to: by its layer, by what is drawn in place, else by the cut it is of.
function kindOf(mark, kinds) {
  const ref = mark.dataset.ref ?? "";
  const layer = mark.closest("g[data-layer]")?.dataset.layer ?? "";
  if (layer === "hatching") return "wood";
  if (layer === "dimension") return "dims";
  if (/^(string|fret|saddle)-\d+$/.test(ref)) return "strings";
  if (ref === "fingerboard" || (ref === "neck-pocket" && layer === "phantom")) return "neck";
  if (/^bridge-(plate|swept)$/.test(ref)) return "bridge";
  return kinds[ref] ?? "";
}

// In every drawing of the page; true where something is shown otherwise than it was.
export function leaveOut() {
  const boxes = document.querySelector(".kinds");
  if (!boxes) return false;
  const { kinds, stays } = JSON.parse(boxes.dataset.said);
  const off = kept(), always = new Set(stays);
  let changed = false;
  for (const frame of document.querySelectorAll(".drawing[data-view]")) {
    const of = frame.id === "drawing" ? kinds : {}; // in a section no cut can be left out: the wood would have a gap
    for (const mark of frame.querySelectorAll("svg:not(.over) > g:not(.plane) [data-ref], svg:not(.over) > g[data-layer=hatching] > *, svg:not(.over) > g[data-layer=dimension] > *")) {
      const out = off.has(kindOf(mark, of)) && !always.has(mark.dataset.ref);
      if (mark.classList.contains("off") === out) continue;
      mark.classList.toggle("off", out);
      changed = true;
    }
  }
  return changed;
}

// The boxes are the screen's own, not something typed and not yet sent.
document.addEventListener("change", (event) => {
  if (event.target.name !== "show") return;
  const off = kept();
  for (const box of chosen()) {
    box.defaultChecked = box.checked;
    if (box.checked) off.delete(box.value);
    else off.add(box.value);
  }
  document.cookie = `${KEPT}=${[...off].join(".")}; path=/; max-age=31536000; samesite=lax`;
  document.dispatchEvent(new Event("shown-otherwise"));
});
