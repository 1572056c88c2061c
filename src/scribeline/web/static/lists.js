// A list of jobs shows at once what other screens begin, rename, put away, bring back and tick.
import { hearing } from "./hears.js";

const SETTLE = 100; // ms: one act may be told more than once
const REGIONS = ["just-moved", "lists", "jobs"];

const listed = () => document.getElementById("listed");
let known = "";
let timer = 0;
let looking = false;

async function look() {
  const now = listed();
  if (!now || known === now.dataset.mark) return;
  // What is looked for here comes first: its answer carries a mark of its own.
  if (looking || document.querySelector(".find.htmx-request")) return soon();
  const here = location.pathname + location.search;
  looking = true;
  try {
    const answer = await fetch(here, { headers: { "HX-Request": "true", Fresh: "yes" } });
    const text = await answer.text();
    if (!answer.ok || here !== location.pathname + location.search || document.querySelector(".find.htmx-request")) return;
    await show(text);
  } catch {
    // The app is away: the stream says when it is back.
  } finally {
    looking = false;
  }
}

// The list where a list stands already, with what is typed and opened in it; the whole page where the first job comes, or the last goes.
async function show(text) {
  const fresh = new DOMParser().parseFromString(text, "text/html");
  const alike = document.getElementById("jobs") && fresh.getElementById("jobs");
  for (const id of alike ? REGIONS : ["page"]) await put(id, text);
}

const put = (id, text) => {
  const target = document.getElementById(id);
  return target && window.htmx.swap({ text, target, select: `#${id}`, swap: "outerMorph", sourceElement: document.body });
};

function soon() {
  clearTimeout(timer);
  timer = setTimeout(look, SETTLE);
}

function hear(said) {
  if (!said.run) return;
  known = `${said.run} ${Object.values(said.jobs).reduce((sum, each) => sum + each, 0)}`;
  if (listed() && known !== listed().dataset.mark) soon();
}

// What was folded out in a row stays so.
document.addEventListener("htmx:before:morph:attr", (event) => {
  if (event.detail.attrName === "open" && event.target.closest?.("#jobs")) event.preventDefault();
});

hearing(hear, soon);
