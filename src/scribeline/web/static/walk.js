// Walking from step to step within one page: by the app while it answers, by what this page holds while it does not.
import { away, lost, show, step } from "./live.js";
import { drop, unanswered, waiting } from "./waits.js";
import "./awake.js";

export const isAway = away;

// What this page holds: every screen of every step as the app had them last.

const CALM = 1500; // ms after the last change before the screens are asked for anew
let held = null, wanted = 0, asking = false;

function hold() {
  clearTimeout(wanted);
  wanted = setTimeout(fetchAll, CALM);
}

async function fetchAll() {
  if (asking || document.documentElement.dataset.sending) return hold();
  await fetchNow();
}

async function fetchNow() {
  asking = true;
  try {
    const answer = await fetch(`/jobs/${step().job}/steps/all`);
    if (answer.ok) held = await answer.json();
    document.documentElement.dataset.held = held ? held.mark : "";
  } catch {
    lost(); // what is held stands
  } finally {
    asking = false;
    if (away()) lost(); // what it says hangs on what is held
  }
}

document.addEventListener("changed", hold);

// What was on the screens of a step's holes when they were left, as addresses carry it.

function read(text, count) {
  const found = [];
  for (const run of text ? text.split(".") : []) {
    const [many, mark] = run.split("x");
    for (let n = 0; n < Number(many) && found.length < count; n++) found.push(mark === "0" ? "" : mark);
  }
  while (found.length < count) found.push("");
  return found;
}

function written(trail) {
  if (!trail.some(Boolean)) return "";
  const runs = [];
  for (const mark of trail) {
    if (runs.length && runs.at(-1)[1] === mark) runs.at(-1)[0] += 1;
    else runs.push([1, mark]);
  }
  return runs.map(([many, mark]) => `${many}x${mark || "0"}`).join(".");
}

const trail = () => read(step().on, Number(step().holes));

function left() {
  const found = trail(), hole = Number(step().hole) - 1;
  found[hole] ||= step().shown;
  return found;
}

const address = (card, hole, on) => `/jobs/${step().job}/steps/${card}?hole=${hole}${on ? `&on=${on}` : ""}`;

// Going to a screen.

const STEP = /^\/jobs\/(\d+)\/steps\/([^/]+)$/;
let at = location.pathname + location.search;

export async function walk(href, push = true) {
  const url = new URL(href, location.href);
  if (!isAway()) {
    try {
      const answer = await fetch(url);
      if (answer.status < 500) {
        if (!arrive(await answer.text(), answer.url + url.hash, push)) location.assign(url);
        return true;
      }
    } catch {
      lost(); // by what is held, then
    }
  }
  return fromHeld(url, push);
}

// A page of the app's in place of this one; not where it is no step.
export function arrive(html, href, push = true) {
  if (!show(html, { anew: true })) return false;
  come(new URL(href, location.href), push);
  return true;
}

function come(url, push) {
  const to = url.pathname + url.search + url.hash;
  if (push && to !== at) history.pushState(null, "", to);
  at = location.pathname + location.search;
  document.title = `${step().title} \u00b7 Scribeline`;
  document.getElementById("waiting").hidden = true;
  for (const mark of document.querySelectorAll(".mark")) {
    if (mark.dataset.card === step().card) mark.setAttribute("aria-current", "step");
    else mark.removeAttribute("aria-current");
  }
  document.dispatchEvent(new Event("walked"));
  const target = url.hash && document.getElementById(url.hash.slice(1));
  if (target) target.scrollIntoView({ block: "start" });
  else scrollTo(0, 0);
  if (!document.getElementById("wrong")) document.getElementById("main").focus({ preventScroll: true });
}

function fromHeld(url, push, on = undefined) {
  const [, job, card] = url.pathname.match(STEP) ?? [];
  const hole = Number(url.searchParams.get("hole") ?? held?.first[card] ?? 1);
  const html = held && String(held.job) === job ? held.screens[`${card} ${hole}`] : undefined;
  if (!html) {
    unanswered(url.pathname.endsWith("/steps") ? "the list of steps needs it. The strip above leads to every step" : "this page stays");
    return false;
  }
  on ??= card === step().card ? written(left()) : url.searchParams.get("on") ?? "";
  show(html, { anew: true });
  step().on = on;
  carry();
  come(new URL(address(card, hole, on), location.href), push);
  return true;
}

// A held screen knows nothing of what was on the screens before it: that is written into its forms and its links.
function carry() {
  const gone = left(), every = written(gone.map((each) => each || step().shown));
  const template = document.getElementById("free")?.content;
  for (const input of document.querySelectorAll("main form [name=on]")) input.value = input.closest("[data-acts=done]") ? every : step().on;
  for (const input of template?.querySelectorAll("[name=on]") ?? []) input.value = every;
  for (const link of document.querySelectorAll(".bar a[href*='hole=']")) {
    const url = new URL(link.href);
    if (url.pathname.match(STEP)?.[2] === step().card) link.setAttribute("href", address(step().card, url.searchParams.get("hole"), written(gone)));
  }
  step().again = address(step().card, step().hole, written(gone));
}

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[href]");
  if (!link || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey || link.target) return;
  const url = new URL(link.href);
  if (url.origin !== location.origin) return;
  const list = url.pathname === `/jobs/${step().job}/steps`;
  const same = url.pathname + url.search === location.pathname + location.search;
  if (same && url.hash) return;
  if (!url.pathname.match(STEP) && !(list && isAway())) return;
  event.preventDefault();
  if (list) return fromHeld(url, false);
  walk(link.href);
});

window.addEventListener("popstate", () => {
  if (location.pathname + location.search === at) return;
  walk(location.href, false);
});

// A reading judged here, by the limits on the page, where the app cannot be asked.

const EDGE = 1e-9;
const MM = { mm: 1, cm: 10, in: 25.4, '"': 25.4 };

function millimetres(typed) {
  const found = typed.trim().toLowerCase().replace(",", ".").match(/^(?:(\d+(?:\.\d+)?)|(?:(\d+)[ -])?(\d+)\/(\d+))\s*(mm|cm|in|")?\.?$/);
  if (!found) return null;
  const [, plain, whole, over, under, unit] = found;
  return (plain !== undefined ? Number(plain) : Number(whole ?? 0) + Number(over) / Number(under)) * MM[unit ?? step().units];
}

// Whether what a form says lets the work go on; null where this device cannot read it.
export function judged(body) {
  const gate = JSON.parse(step().gate);
  if (body.get("risk")) return true;
  if (gate.yes) return body.get("yes") === "yes";
  const typed = body.getAll("value").filter((each) => each.trim());
  const read = typed.map(millimetres);
  if (!read.length || read.includes(null)) return null;
  const asks = gate.asks.length ? gate.asks : [[gate.low, gate.high]];
  const within = (value, [low, high]) => (low === null || value >= low - EDGE) && (high === null || value <= high + EDGE);
  if (gate.counts === "least" && (read.length === 1 || read.length === asks.length)) return within(Math.min(...read), [gate.low, gate.high]);
  return read.length === asks.length ? read.every((value, n) => within(value, asks[n])) : null;
}

export function unread(form, body) {
  document.getElementById("wrong")?.remove();
  const said = Object.assign(document.createElement("p"), { id: "wrong", className: "error" });
  said.setAttribute("role", "alert");
  const many = JSON.parse(step().gate).asks.length;
  said.textContent = `Not kept: this device cannot read \u201c${body.getAll("value").filter(Boolean).join("; ")}\u201d, and the app does not answer. Type ${many > 1 ? `all ${many} readings` : "a plain number"}, such as 14.2.`;
  form.before(said);
  said.scrollIntoView({ block: "center" });
}

// What waits to be sent counts on this page as if the app had it: a step called done is done, and what it kept back may go on.

function standing() {
  const done = new Set([...document.querySelectorAll(".mark.done")].map((each) => each.dataset.card));
  const queued = new Map();
  for (const each of waiting(step().job)) {
    if (each.kind === "done") queued.set(each.card, each);
    if (each.kind === "not-done") { queued.delete(each.card); done.delete(each.card); }
  }
  return { done, queued };
}

let pristine = null; // the bar as the app made it

function overlay() {
  const { done, queued } = standing();
  for (const mark of document.querySelectorAll(".mark")) mark.classList.toggle("queued", queued.has(mark.dataset.card));
  const bar = document.getElementById("r-bar"), { card } = step();
  if (pristine?.bar === bar) bar.replaceChildren(...pristine.was.map((each) => each.cloneNode(true)));
  else pristine = { bar, was: [...bar.childNodes].map((each) => each.cloneNode(true)) };
  document.querySelectorAll(".just.queued").forEach((each) => each.remove());
  const notYet = document.querySelectorAll(".not-yet, #why-not");
  notYet.forEach((each) => { each.hidden = false; });
  const row = waiting(step().job);
  if (!row.length) return;
  const newest = row.filter((each) => each.kind === "done").at(-1);
  if (newest && newest.id === row.at(-1).id) offer(newest);
  const free = document.getElementById("free");
  if (queued.has(card)) return barOf(bar, "Done waits to be sent", next(card, done, queued));
  const behind = step().after.split(" ").filter((each) => each && !done.has(each) && !queued.has(each));
  notYet.forEach((each) => { each.hidden = !behind.length; });
  if (!free || behind.length) return;
  const own = row.filter((each) => each.kind === "gate" && each.card === card).at(-1);
  const passed = own ? own.judged === "yes" : step().passed === "yes";
  const back = bar.firstElementChild;
  if (passed) bar.replaceChildren(back, free.content.cloneNode(true), free);
  else {
    const gate = Object.assign(document.createElement("a"), { className: "button giant", href: "#gate", textContent: own ? "Read the gate again" : "Read the gate" });
    bar.replaceChildren(back, gate, ...bar.querySelectorAll("[rel=next]"), free);
  }
}

function barOf(bar, words, onwards) {
  const said = Object.assign(document.createElement("p"), { className: "why-not", textContent: words });
  const link = onwards ? [Object.assign(document.createElement("a"), { className: "button giant", href: onwards, rel: "next", textContent: "Next step" })] : [];
  bar.replaceChildren(bar.firstElementChild, said, ...link);
}

function next(card, done, queued) {
  const order = [...document.querySelectorAll(".mark")].map((each) => each.dataset.card);
  const found = order.slice(order.indexOf(card) + 1).find((each) => !done.has(each) && !queued.has(each));
  return found ? address(found, held?.first[found] ?? 1, "") : "";
}

function offer(entry) {
  const said = Object.assign(document.createElement("div"), { className: "just queued" });
  said.setAttribute("role", "status");
  const back = Object.assign(document.createElement("button"), { type: "button", className: "plain", textContent: "Take it back" });
  back.addEventListener("click", () => {
    drop(entry.id);
    fromHeld(new URL(address(entry.card, held?.first[entry.card] ?? 1, new URLSearchParams(entry.body).get("on")), location.href), true);
  });
  const words = document.createElement("span");
  words.append(`Step ${entry.no}: `, Object.assign(document.createElement("b"), { textContent: "done" }), " waits to be sent. By mistake?");
  said.append(words, back);
  document.querySelector("#r-head .step-head").after(said);
}

// After a press that the app has not answered.
export function goneOn(kind, id) {
  if (kind !== "done") return;
  const { done, queued } = standing();
  const onwards = next(waiting().find((each) => each.id === id)?.card ?? step().card, done, queued);
  if (onwards) fromHeld(new URL(onwards, location.href), true);
}

document.addEventListener("shown", overlay);
document.addEventListener("waits", overlay);
overlay();

// Where this device serves the page while the app is away, it may be another step's: that is what the frame is for.
async function begin() {
  if (step().framed !== "yes") return hold();
  const url = new URL(location.href);
  await fetchNow(); // whatever is being sent meanwhile: another step must not stand under this one's address
  if (!fromHeld(url, false, url.searchParams.get("on") ?? "")) history.replaceState(null, "", step().again); // it is the step it shows
}

navigator.serviceWorker?.register("/holds.js").catch(() => {}); // then this page holds what it can
begin();
