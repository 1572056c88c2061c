// What every page needs: the light it is read in, typed words that are never lost, drawings that can be moved.
import { prepare } from "./drawing.js";
import "./waits.js";

// Light or dark, kept for this screen.
document.addEventListener("change", (event) => {
  if (event.target.name !== "theme") return;
  const value = event.target.value;
  document.cookie = `theme=${value}; path=/; max-age=31536000; samesite=lax`;
  if (value) document.documentElement.dataset.theme = value;
  else delete document.documentElement.dataset.theme;
});

// Words typed into a field are kept on this screen until the app has them.
const draftOf = (form) => {
  const key = form.elements.key?.value;
  const job = form.getAttribute("action").split("/")[2];
  return key ? `draft:${job}:${key}` : null;
};

document.addEventListener("input", (event) => {
  const form = event.target.closest("form.field");
  const draft = form && draftOf(form);
  if (draft) localStorage.setItem(draft, event.target.value);
});

function restoreDrafts() {
  for (const form of document.querySelectorAll("form.field")) {
    const draft = draftOf(form);
    const kept = draft && localStorage.getItem(draft);
    const input = form.elements.value;
    if (kept === null || kept === undefined || !input || waiting.has(form.id)) continue;
    if (document.activeElement === input) continue;
    if (kept === input.value) { localStorage.removeItem(draft); continue; }
    if (form.classList.contains("wrong")) continue;
    input.value = kept;
    if (!form.querySelector(".unkept")) {
      const note = document.createElement("p");
      note.className = "unkept error";
      note.textContent = "typed here, not kept yet ";
      const keep = Object.assign(document.createElement("button"), { textContent: "Keep it", type: "submit" });
      const drop = Object.assign(document.createElement("button"), { textContent: "Drop it", type: "button", className: "plain drop" });
      note.append(keep, " ", drop);
      input.classList.add("unsent");
      form.querySelector(".said").prepend(note);
    }
  }
}

document.addEventListener("click", (event) => {
  if (!event.target.classList.contains("drop")) return;
  const form = event.target.closest("form.field");
  localStorage.removeItem(draftOf(form));
  form.reset();
  form.elements.value.classList.remove("unsent");
  form.querySelector(".unkept").remove();
});

// The app does not answer: say so, keep what was to be sent, send it when it is back.
const waiting = new Map();
let asking = 0;

function ask() {
  asking = 0;
  fetch("/static/mark.svg", { cache: "no-store" })
    .then(() => {
      document.getElementById("waiting").hidden = true;
      const forms = [...waiting.keys()];
      waiting.clear();
      for (const id of forms) document.getElementById(id)?.requestSubmit();
    })
    .catch(() => { asking = setTimeout(ask, 1000); });
}

// A field that waits to be sent is marked, in words too, until the app has it and the page is drawn anew.
function markWaiting(form) {
  const said = form.querySelector(".said");
  if (!said || form.querySelector(".unsent-note")) return;
  const note = Object.assign(document.createElement("p"), { className: "unsent-note" });
  const tag = Object.assign(document.createElement("b"), { className: "tag open", textContent: "waits to be sent" });
  note.append(tag, " typed here, not kept yet: it is sent as soon as the app answers.");
  said.prepend(note);
  form.elements.value?.classList.add("unsent");
}

const say = (words) => Object.assign(document.getElementById("waiting"), { textContent: words, hidden: false });

document.addEventListener("htmx:error", (event) => {
  const source = event.detail?.ctx?.sourceElement;
  if (event.detail?.ctx?.response) return;
  const form = source?.closest?.("form");
  if (form) {
    if (!form.id) form.id = `form-${waiting.size}-${Date.now()}`;
    waiting.set(form.id, true);
    markWaiting(form);
  }
  say("The app does not answer. What you typed is kept here and sent as soon as it does.");
  if (!asking) asking = setTimeout(ask, 1000);
});

// What the app has taken is no draft any more; where the job was deleted meanwhile it has taken nothing.
document.addEventListener("htmx:after:request", (event) => {
  const form = event.detail?.ctx?.sourceElement?.closest?.("form.field");
  const status = event.detail?.ctx?.response?.raw?.status ?? event.detail?.ctx?.response?.status;
  if (form && status && status < 500 && status !== 404) localStorage.removeItem(draftOf(form));
});

function settle() {
  restoreDrafts();
  prepare();
}

// What was folded out stays so when the page is drawn anew; what the page itself folds out is as the page says.
const foldOf = (details) => details.id || `${details.closest("section, form")?.getAttribute("aria-labelledby") ?? ""} ${details.querySelector("summary")?.textContent.trim()}`;
let folded = new Set();
document.addEventListener("htmx:before:swap", () => {
  folded = new Set([...document.querySelectorAll("main details[open]")].map(foldOf));
});

document.addEventListener("htmx:after:swap", () => {
  for (const details of document.querySelectorAll("main details:not([open])")) if (folded.has(foldOf(details))) details.open = true;
  settle();
});
settle();

// What a page awaited is of no use where a newer page has taken its place meanwhile.
document.addEventListener("htmx:before:swap", (event) => {
  const source = event.detail?.ctx?.sourceElement;
  if (source?.classList.contains("awaits") && !source.isConnected) event.preventDefault();
});

// An answer that says the app itself went wrong never takes the page's place.
document.addEventListener("htmx:before:swap", (event) => {
  if ((event.detail?.ctx?.response?.raw?.status ?? event.detail?.ctx?.response?.status ?? 200) < 500) return;
  event.preventDefault();
  say("The app could not do that; nothing was changed. Try again, or load the page anew.");
});

// Words typed before this script was there to hear them are sent like any others, or kept on this screen while one still types.
window.addEventListener("load", () => {
  for (const form of document.querySelectorAll("form.field:not(.wrong):not(:has([aria-pressed]))")) {
    const input = form.elements.value;
    if (!input || form.querySelector(".unkept")) continue;
    const chosen = input.selectedOptions?.[0];
    const changed = chosen
      ? !chosen.defaultSelected && input.querySelector("option[selected]")
      : input.value !== input.defaultValue;
    if (changed && document.activeElement !== input) form.requestSubmit();
    else if (changed && draftOf(form)) localStorage.setItem(draftOf(form), input.value);
  }
});

// A phone's list of pages closes when something else is looked at.
document.addEventListener("click", (event) => {
  const pages = document.querySelector("#pages[open]");
  if (pages && !pages.contains(event.target)) pages.open = false;
});
document.addEventListener("keydown", (event) => {
  const pages = document.querySelector("#pages[open]");
  if (event.key !== "Escape" || !pages) return;
  pages.open = false;
  pages.querySelector("summary").focus();
});
