// A step's page hears that its job changed and shows it, without losing what is typed. The stream of events is shared by
// the browser's tabs; where they cannot share one, the tab that is looked at has its own; where that fails it asks now and then.
import { hearing as hearFrom } from "./hears.js";
import { back, deleted } from "./gone.js";

const PATIENCE = 300; // ms that new numbers may take before the page says that they are being worked out

export const step = () => document.getElementById("step").dataset;
const hearing = document.getElementById("hearing");

function say(words) {
  hearing.textContent = words;
  hearing.hidden = !words;
}

// The page as it is now, put in place of the page as it was.

const CARRIED = /(name="(?:on|revision|known|once)" value=")[^"]*|([?&;]on=)[^"&#]*/g; // what is no news to a person
const plain = (region) => region.outerHTML.replace(CARRIED, "$1$2");
const dirty = (input) =>
  input.type === "checkbox" || input.type === "radio" ? input.checked !== input.defaultChecked : input.value !== input.defaultValue;

function put(old, fresh) {
  const at = document.activeElement;
  const focused = old.contains(at) && at.id ? { id: at.id, start: at.selectionStart, end: at.selectionEnd } : null;
  const typed = [...old.querySelectorAll("input[id], textarea[id], input[name=sure]")].filter(dirty);
  const opened = [...old.querySelectorAll("details[open]")].map((each) => each.id);
  old.replaceWith(fresh);
  for (const each of typed) {
    const input = each.id ? document.getElementById(each.id) : fresh.querySelector(`[name="${each.name}"]`);
    if (!input) continue;
    input.value = each.value;
    input.checked = each.checked;
  }
  for (const id of opened) if (id) document.getElementById(id)?.setAttribute("open", "");
  if (focused) {
    const input = document.getElementById(focused.id);
    input?.focus({ preventScroll: true });
    if (focused.start !== null && focused.start !== undefined) input?.setSelectionRange?.(focused.start, focused.end);
  }
}

// The step that is looked at, in sight in the strip of all of them.
export function inSight() {
  const mark = document.querySelector(".mark[aria-current]"), strip = mark?.closest(".marks");
  if (strip) strip.scrollLeft += mark.getBoundingClientRect().left - strip.getBoundingClientRect().left - (strip.clientWidth - mark.offsetWidth) / 2;
}

window.addEventListener("resize", inSight);

let turn = 0; // how often the page was put anew

// Put a page in place of this one: as an answer to what was sent from here, or, less exactly, as what is new to a person;
// anew where it is another screen, whose fields have nothing of this one's.
export function show(html, { exact = true, anew = false } = {}) {
  const fresh = new DOMParser().parseFromString(html, "text/html");
  const carried = fresh.getElementById("step");
  if (!carried) return false;
  for (const old of document.querySelectorAll("[data-live]")) {
    const now = fresh.getElementById(old.id);
    if (anew && now) old.replaceWith(document.adoptNode(now));
    else if (now && (exact ? now.outerHTML !== old.outerHTML : plain(now) !== plain(old))) put(old, document.adoptNode(now));
  }
  if (anew) document.getElementById("step").replaceWith(document.adoptNode(carried));
  else Object.assign(step(), carried.dataset);
  turn += 1;
  inSight();
  document.dispatchEvent(new Event("shown"));
  return true;
}

// Asking for it.

let known = ""; // mark of the job as the stream last said it
let heardLast = "";
let asking = false;

async function look() {
  if (asking || document.documentElement.dataset.sending) return;
  asking = true;
  const wait = setTimeout(() => say("This job was just changed. Do not drill by the numbers below: the new ones are being worked out."), PATIENCE);
  try {
    for (let tries = 0; tries < 5; tries++) {
      const before = known, began = turn;
      const answer = await fetch(step().again, { headers: { Live: "yes" } });
      if (answer.status === 404) {
        if (deleted(await answer.text())) return say("");
        say("The job no longer has this step. Cut nothing more of it. What is drilled already can still be called done.");
        return;
      }
      const html = await answer.text();
      back();
      if (turn !== began || document.documentElement.dataset.sending) break; // what was sent from here was answered meanwhile, by a newer page
      if (!answer.ok || !show(html, { exact: false })) {
        say("The job cannot be worked out as it is now. Do not cut by this page until it can.");
        return;
      }
      if (document.getElementById("news")) history.replaceState(history.state, "", step().again);
      if (before === known) break;
    }
    say("");
  } catch {
    lost();
  } finally {
    clearTimeout(wait);
    asking = false;
  }
}

// Whether the app answers: the stream says so, or whatever was asked for and did not come.

const PROBE = 2000; // ms between questions whether an app that did not answer does so again
const PROBED = 5000; // ms that such a question may take
const AWAY_WORDS = "The app does not answer. Go on: this page holds every step, and what you press is kept and sent later. Do not reload this page until it answers.";
const AWAY_HELD = "The app does not answer. Go on: this device holds every step, and what you press is kept and sent later.";
const AWAY_BARE = "The app does not answer. Until it does, changes made elsewhere do not show here.";

let gone = false, probing = 0;
export const away = () => gone;
const sayAway = () => say(!document.documentElement.dataset.held ? AWAY_BARE : navigator.serviceWorker?.controller ? AWAY_HELD : AWAY_WORDS);

export function lost() {
  sayAway();
  clearTimeout(probing);
  probing = setTimeout(probe, PROBE);
  if (gone) return;
  gone = true;
  document.dispatchEvent(new CustomEvent("away", { detail: true }));
}

function found() {
  clearTimeout(probing);
  if (!gone) return;
  gone = false;
  say("");
  document.dispatchEvent(new CustomEvent("away", { detail: false }));
  look();
}

async function probe() {
  try {
    await fetch("/static/mark.svg", { cache: "no-store", signal: AbortSignal.timeout(PROBED) });
    found();
  } catch {
    lost();
  }
}

document.addEventListener("unanswered", lost);
document.addEventListener("answered", found);
window.addEventListener("offline", probe); // a device without a network may still have the app: it is asked
window.addEventListener("online", probe);

function hear(said) {
  document.documentElement.dataset.hears = said.run && !said.away ? "yes" : "no";
  if (said.run) known = `${said.run} ${said.jobs[step().job] ?? 0}`;
  if (said.away) return lost();
  if (known && known !== heardLast) document.dispatchEvent(new Event("changed"));
  heardLast = known;
  if (gone) return found();
  document.dispatchEvent(new CustomEvent("away", { detail: false }));
  if (known && known !== step().mark) look();
  else say("");
}

document.addEventListener("sent", () => { if (known && known !== step().mark) look(); });

hearFrom(hear, look);
inSight();
