// What is sent from a step's page stays on this device until the app has it. Readings, steps called done and those taken back
// stand in one row: they are sent in order, each under a key by which the app keeps it once, however often it is sent.
const AGAIN = 1000; // ms between tries while the app is away

const pathOf = (form) => new URL(form.action).pathname;
const jobOf = (path) => path.split("/")[2];
const ids = () => Object.keys(localStorage).filter((key) => key.startsWith("waits:")).sort();
const entryOf = (id) => ({ path: id.slice(6), kind: "gate", ...JSON.parse(localStorage.getItem(id)), id });
export const waiting = (job) => ids().map(entryOf).filter((each) => job === undefined || jobOf(each.path) === String(job));
const save = ({ id, ...entry }) => localStorage.setItem(id, JSON.stringify(entry));

export function drop(id) {
  localStorage.removeItem(id);
  changed();
}

let last = 0;

function keep(path, kind, body, words) {
  last = Math.max(Date.now(), last + 1);
  const random = [...crypto.getRandomValues(new Uint8Array(8))].map((each) => each.toString(16).padStart(2, "0")).join("");
  const key = `${last}-${random}`;
  body.set("key", key);
  const step = document.getElementById("step")?.dataset;
  const id = `waits:${String(last).padStart(15, "0")}-${random}`;
  save({ id, path, kind, body: body.toString(), words, card: path.split("/")[4], no: step?.no ?? "", title: document.querySelector("h1").textContent });
  localStorage.removeItem(`typed:${path}`);
  return id;
}

function bodyOf(form, pressed) {
  const body = new URLSearchParams();
  for (const [name, value] of new FormData(form)) body.append(name, value);
  if (pressed?.name) body.append(pressed.name, pressed.value);
  return body;
}

const post = (path, body, more = {}, signal = undefined) =>
  fetch(path, { method: "POST", body, signal, keepalive: true, headers: { "Content-Type": "application/x-www-form-urlencoded", ...more } });

// Sending.

let current = null, again = 0, under_way = null;
let shownBy = ""; // the one that was pressed on the page as it stands, whose answer takes the page's place

export const send = () => (current ??= run().finally(() => { current = null; }));

async function run() {
  clearTimeout(again);
  document.documentElement.dataset.sending = "yes"; // its answer is the newest page: no other takes its place meanwhile
  const held = new Set();
  let next, any = false;
  try {
    while ((next = waiting().find((each) => !held.has(jobOf(each.path))))) {
      any = true;
      if (next.refused || !(await sent(next))) held.add(jobOf(next.path));
    }
    if (any) document.dispatchEvent(new Event("answered"));
  } catch {
    again = setTimeout(send, AGAIN);
    document.dispatchEvent(new Event("unanswered"));
  } finally {
    under_way = null;
    delete document.documentElement.dataset.sending;
    changed();
    document.dispatchEvent(new Event("sent"));
  }
}

// Whether the row may go on behind it. Throws where the app is away.
async function sent(entry) {
  const mine = entry.id === shownBy;
  under_way = new AbortController();
  const answer = await post(entry.path, entry.body, { Sends: "yes" }, under_way.signal);
  if (answer.status >= 500) throw new Error("it went wrong there");
  if (localStorage.getItem(entry.id) === null) return true; // another window has done it
  if (answer.ok) {
    const { to } = await answer.json();
    const asks = /\/which(\?|$)/.test(to);
    if (asks) save({ ...entry, asks: to });
    else localStorage.removeItem(entry.id);
    if (mine) {
      shownBy = "";
      if (asks) location.assign(to);
      else await go(to);
    }
    return !asks;
  }
  const html = await answer.text();
  const page = new DOMParser().parseFromString(html, "text/html");
  if (mine && page.querySelector("#wrong, [role=alert]")) {
    localStorage.removeItem(entry.id); // the page has it, with what is wrong with it
    shownBy = "";
    const { show } = await import("./live.js");
    show(html);
    const wrong = document.getElementById("wrong");
    if (wrong) look(wrong);
    else document.querySelector("main [role=alert]")?.scrollIntoView({ block: "center" });
    return true;
  }
  const why = page.querySelector("#wrong, [role=alert], main h1, h1")?.textContent.trim() ?? `the app said ${answer.status}`;
  save({ ...entry, refused: why.replace(/^not (kept|ticked)\s*/, ""), status: answer.status });
  return false;
}

async function go(to) {
  if (!document.getElementById("step")) return location.assign(to);
  const { walk } = await import("./walk.js");
  await walk(to);
}

// Where the app is known to be away nobody waits for it: the page goes on by what it holds.
document.addEventListener("away", (event) => {
  if (event.detail) under_way?.abort();
  else if (ids().length) send();
});
window.addEventListener("online", () => { if (ids().length) send(); });

// What waits looks different from what is kept, in words too.

const SAID = { gate: "reading", done: "done", "not-done": "taken back" };

function changed() {
  document.documentElement.dataset.waits = ids().length;
  tell();
  document.dispatchEvent(new Event("waits"));
}

function tell() {
  document.querySelectorAll(".unsent-note").forEach((each) => each.remove());
  document.querySelectorAll(".gate .unsent").forEach((each) => each.classList.remove("unsent"));
  const row = waiting(), here = document.querySelector("form[data-acts=gate]");
  const own = here && row.filter((each) => each.kind === "gate" && each.path === pathOf(here)).at(-1);
  if (own && !(current && own.id === shownBy)) note(here, own);
  list(row.filter((each) => !(current && each.id === shownBy)), row.length === 1 && own ? own.id : "");
}

function list(row, told) {
  const line = document.getElementById("unsent");
  const stuck = row.find((each) => each.refused || each.asks);
  line.hidden = !row.length || (Boolean(told) && !stuck);
  if (line.hidden) return line.replaceChildren();
  const opened = line.querySelector("details")?.open;
  const many = document.createElement("details");
  many.open = Boolean(opened);
  const told_of = row.length === 1 ? `Waits to be sent: ${words(row[0])}` : `${row.length} wait to be sent, in this order`;
  many.append(Object.assign(document.createElement("summary"), { textContent: told_of }));
  const all = document.createElement("ol");
  for (const each of row) all.append(Object.assign(document.createElement("li"), { textContent: words(each) }));
  many.append(all);
  line.replaceChildren(...(stuck ? [held(stuck, row.length - 1 - row.indexOf(stuck))] : []), many);
}

const words = ({ no, title, kind, words: said }) => `${no ? `step ${no}, ` : ""}${title}: ${SAID[kind]}${said && kind === "gate" ? ` \u201c${said}\u201d` : ""}`;

// The one that the app does not take as it is: whoever sent it says what is to become of it, and the rest waits behind it.
function held(entry, behind) {
  const said = document.createElement("div");
  const why = entry.asks ? "The job was changed while you worked. Say which number was drilled." : entry.refused;
  const after = behind ? ` ${behind} more wait${behind > 1 ? "" : "s"} behind it.` : "";
  const words_of = Object.assign(document.createElement("p"), { textContent: `Not taken: ${words(entry)}. ${why}${after}` });
  const row = Object.assign(document.createElement("p"), { className: "row" });
  if (entry.asks) row.append(Object.assign(document.createElement("a"), { className: "button", href: entry.asks, textContent: "Say what was drilled" }));
  else {
    row.append(Object.assign(document.createElement("a"), { className: "button plain", href: entry.path.replace(/\/[^/]+$/, ""), textContent: "Look at it" }));
    row.append(button("Send it again", () => { save({ ...entry, refused: undefined }); send(); }));
    row.append(button("Let it go", () => { drop(entry.id); send(); }));
  }
  said.append(words_of, row);
  return said;
}

function button(textContent, press) {
  const made = Object.assign(document.createElement("button"), { type: "button", className: "plain", textContent });
  made.addEventListener("click", press);
  return made;
}

function note(form, { words: said_words, refused, body, judged }) {
  const said = Object.assign(document.createElement("p"), { className: "unsent-note" });
  said.setAttribute("role", "status");
  const tag = Object.assign(document.createElement("b"), { className: "tag open", textContent: refused ? "not taken" : "waits to be sent" });
  const verdict = { yes: " It passes, as this device reads it.", no: " It does not pass, as this device reads it." }[judged] ?? "";
  said.append(tag, refused
    ? ` \u201c${said_words}\u201d: ${refused} It is kept on this device; send it again below.`
    : ` \u201c${said_words}\u201d is kept on this device and not in the app yet.${verdict} It is sent as soon as the app answers.`);
  form.before(said);
  if (!form.querySelector("#reading")) return;
  const inputs = [...form.querySelectorAll("[name=value]")];
  if (!inputs.some((each) => each.value)) {
    const typed = new URLSearchParams(body).getAll("value");
    inputs.forEach((each, n) => { each.value = typed[n] ?? ""; });
    const tool = form.querySelector("[name=with_what]");
    if (tool && !tool.value) tool.value = new URLSearchParams(body).get("with_what") ?? "";
  }
  inputs.forEach((each) => each.classList.add("unsent"));
}

function look(at) {
  at?.scrollIntoView({ block: "center" });
  document.getElementById("reading")?.focus({ preventScroll: true });
}

// Pressing.

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.hasAttribute("data-acts")) {
    event.preventDefault();
    act(form, event.submitter);
  } else if (form.hasAttribute("data-asks")) {
    event.preventDefault();
    ask(form, event.submitter);
  }
});

// The same once more, pressed before the first was answered.
function twice(path, body) {
  const before = waiting().at(-1);
  if (before?.path !== path || before.refused) return false;
  const kept = new URLSearchParams(before.body);
  kept.delete("key");
  return kept.toString() === body.toString();
}

async function act(form, by) {
  const path = pathOf(form), kind = form.dataset.acts, body = bodyOf(form, by);
  if (twice(path, body)) return;
  const stepped = document.getElementById("step");
  const walking = stepped && (await import("./walk.js"));
  if (walking?.isAway() && kind === "gate" && walking.judged(body) === null) return walking.unread(form, body);
  if (kind === "gate") for (const each of waiting()) if (each.path === path && each.refused) localStorage.removeItem(each.id); // this one stands for it
  const said = body.getAll("value").filter(Boolean).join("; ") || body.get("yes") || body.get("risk") || "";
  const id = keep(path, kind, body, said);
  if (walking && kind === "gate") save({ ...entryOf(id), judged: { true: "yes", false: "no" }[walking.judged(body)] ?? "" });
  const first = waiting().find((each) => jobOf(each.path) === jobOf(path));
  if (walking?.isAway() || first.id !== id) {
    changed();
    walking?.goneOn(kind, id);
    return send();
  }
  shownBy = id;
  const giveUp = () => {
    if (shownBy !== id) return;
    shownBy = ""; // the app is away: the page goes on by what it holds
    changed();
    if (kind === "gate") document.querySelector(".unsent-note")?.scrollIntoView({ block: "center" });
    walking?.goneOn(kind, id);
  };
  const away = (at) => { if (at.detail) giveUp(); };
  document.addEventListener("away", away);
  await send();
  document.removeEventListener("away", away);
  if (localStorage.getItem(id) !== null) giveUp();
}

// Anything else that is sent from a step: nothing is kept for later, and nothing of the page is lost.
const asked = new Set();

async function ask(form, by) {
  if (asked.has(form)) return;
  asked.add(form);
  try {
    const answer = await post(pathOf(form), bodyOf(form, by));
    const html = await answer.text();
    const { arrive } = await import("./walk.js");
    if (answer.redirected) { if (!arrive(html, answer.url)) location.assign(answer.url); }
    else if ((await import("./live.js")).show(html)) document.querySelector("main [role=alert]")?.scrollIntoView({ block: "center" });
  } catch {
    unanswered("this was not kept. Press it again when the app is back");
  } finally {
    asked.delete(form);
  }
}

export function unanswered(therefore) {
  const line = document.getElementById("waiting");
  line.textContent = `The app does not answer: ${therefore}.`;
  line.hidden = false;
  line.scrollIntoView({ block: "start" });
}

// What is typed into a gate and not sent yet.
document.addEventListener("input", (event) => {
  const form = event.target.closest("form[data-acts=gate]");
  if (form && event.target.id === "reading") localStorage.setItem(`typed:${pathOf(form)}`, event.target.value);
});

function typedBefore() {
  const form = document.querySelector("form[data-acts=gate]");
  const input = form?.querySelector("#reading");
  const typed = form && localStorage.getItem(`typed:${pathOf(form)}`);
  if (input && !input.value && typed && !form.parentElement.querySelector(".typed-note")) {
    input.value = typed;
    input.classList.add("unsent");
    form.before(Object.assign(document.createElement("p"), { className: "typed-note", textContent: "Typed here before and not sent yet: keep it, or type over it." }));
  }
}

document.addEventListener("shown", () => { tell(); });
document.addEventListener("walked", typedBefore);
if (document.getElementById("wrong")) look(document.getElementById("wrong"));
for (const each of waiting()) if ([401, 403].includes(each.status)) save({ ...each, refused: undefined, status: undefined }); // paired again since
typedBefore();
changed();
if (ids().length) send();
