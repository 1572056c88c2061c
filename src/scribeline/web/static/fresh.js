// Every page of a job shows what others change in it: at once where nothing is being typed, else when it is asked to.
import { hearing } from "./hears.js";
import { back, deleted } from "./gone.js";

const SETTLE = 120; // ms: one edit may be told more than once

const page = () => document.getElementById("job");
const bar = () => document.getElementById("elsewhere");
let known = "";
let timer = 0;

// What was typed or chosen here and not sent.
function typing() {
  const at = document.activeElement;
  if (at?.matches("input:not([type=checkbox], [type=radio], [type=search]), textarea") && at.value !== at.defaultValue) return true;
  return [...document.querySelectorAll("main input, main textarea")].some((each) => {
    if (each.type === "hidden" || each.type === "search" || each.name === "theme") return false;
    if (each.type === "checkbox" || each.type === "radio") return each.checked !== each.defaultChecked;
    return each.type === "file" ? each.files.length > 0 : each.value !== each.defaultValue;
  });
}

function offer() {
  const said = bar();
  if (!said || !said.hidden) return;
  const show = Object.assign(document.createElement("button"), { type: "button", className: "plain", textContent: "Show it as it is now" });
  show.addEventListener("click", () => look(true));
  said.replaceChildren("This job was changed elsewhere. What you typed is not sent yet. ", show);
  said.hidden = false;
}

async function look(asked = false) {
  const now = page();
  if (!now || known === now.dataset.mark || document.documentElement.dataset.sending) return;
  if (document.querySelector(".htmx-request") || document.querySelector(".awaits")) return soon();
  const here = location.pathname + location.search;
  // Where something is typed the page itself is not asked for: only whether the job is still there, by its lightest page.
  const held = !asked && typing();
  try {
    const answer = await fetch(held ? `/jobs/${now.dataset.job}/rename` : here, { headers: { "HX-Request": "true", Fresh: "yes" } });
    const text = await answer.text();
    // Left meanwhile: the page that is there now asks by itself.
    if (here !== location.pathname + location.search) return;
    if (answer.status === 404) return void deleted(text);
    if (!answer.ok) return;
    back();
    if (held || (!asked && typing())) return offer();
    await show(text);
  } catch {
    // The app is away: the stream says when it is back.
  }
}

const show = (text) => window.htmx.swap({ text, target: document.getElementById("page"), select: "#page", swap: "outerMorph", sourceElement: document.body });

function soon() {
  clearTimeout(timer);
  timer = setTimeout(look, SETTLE);
}

function hear(said) {
  const now = page();
  if (!now || !said.run) return;
  known = `${said.run} ${said.jobs[now.dataset.job] ?? 0}`;
  if (known !== now.dataset.mark) soon();
}

// A step's page hears by itself, and more exactly.
if (!document.getElementById("step")) {
  hearing(hear, soon);
  // Once what was typed is sent, the answer is the page as it is now.
  document.addEventListener("htmx:after:swap", () => { if (known && page()) soon(); });
}
