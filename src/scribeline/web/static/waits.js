// What is sent from a step's page stays on the page, and a reading on this device too, until the app has it.
const AGAIN = 1000; // ms between tries while the app is away

const keyOf = (path) => `waits:${path}`;
const pathOf = (form) => new URL(form.action).pathname;
const kept = (path) => JSON.parse(localStorage.getItem(keyOf(path)) ?? "null");
const waiting = () => Object.keys(localStorage).filter((key) => key.startsWith("waits:")).map((key) => key.slice(6));
const under_way = new Set();
const count = () => { document.documentElement.dataset.waits = waiting().length; };

function bodyOf(form, pressed) {
  const body = new URLSearchParams();
  for (const [name, value] of new FormData(form)) body.append(name, value);
  if (pressed?.name) body.append(pressed.name, pressed.value);
  return body;
}

const post = (path, body) =>
  fetch(path, { method: "POST", body, keepalive: true, headers: { "Content-Type": "application/x-www-form-urlencoded" } });

// A reading: kept first, then sent; once, however often that is tried.

function keep(form, pressed) {
  const body = bodyOf(form, pressed);
  const words = body.getAll("value").filter(Boolean).join("; ") || body.get("yes") || body.get("risk") || "";
  localStorage.setItem(keyOf(pathOf(form)), JSON.stringify({ body: body.toString(), words, title: document.querySelector("h1").textContent }));
  localStorage.removeItem(`typed:${pathOf(form)}`);
  count();
}

async function send(path) {
  const entry = kept(path);
  if (!entry || entry.refused || under_way.has(path)) return;
  under_way.add(path);
  document.documentElement.dataset.sending = "yes"; // its answer is the newest page: no other takes its place meanwhile
  let leaving = false;
  try {
    const answer = await post(path, entry.body);
    if (answer.status >= 500) throw new Error("it went wrong there");
    const here = document.querySelector("form[data-waits]");
    const mine = here && pathOf(here) === path;
    if (answer.ok) {
      localStorage.removeItem(keyOf(path));
      if (!mine) return;
      sessionStorage.setItem("to-gate", path);
      leaving = true;
      location.assign(answer.url);
      return;
    }
    const html = await answer.text();
    const page = new DOMParser().parseFromString(html, "text/html");
    if (mine && page.getElementById("wrong")) {
      localStorage.removeItem(keyOf(path)); // the page has it, with what is wrong with it
      const { show } = await import("./live.js");
      show(html);
      look(document.getElementById("wrong"));
      return;
    }
    const why = page.querySelector("#wrong, [role=alert], main h1, h1")?.textContent.trim() ?? `the app said ${answer.status}`;
    localStorage.setItem(keyOf(path), JSON.stringify({ ...entry, refused: why }));
  } catch {
    clearTimeout(send.timer);
    send.timer = setTimeout(all, AGAIN);
  } finally {
    under_way.delete(path);
    tell();
    if (!leaving) {
      delete document.documentElement.dataset.sending;
      document.dispatchEvent(new Event("sent"));
    }
  }
}

const all = () => waiting().forEach(send);

function look(at) {
  at?.scrollIntoView({ block: "center" });
  document.getElementById("reading")?.focus({ preventScroll: true });
}

// What waits looks different from what is kept, in words too.

function tell() {
  count();
  document.querySelectorAll(".unsent-note").forEach((each) => each.remove());
  document.querySelectorAll(".gate .unsent").forEach((each) => each.classList.remove("unsent"));
  const here = document.querySelector("form[data-waits]");
  const others = [];
  for (const path of waiting()) {
    const entry = kept(path);
    if (here && pathOf(here) === path) note(here, entry);
    else if (!under_way.has(path)) others.push([path, entry]);
  }
  const line = document.getElementById("unsent");
  line.hidden = !others.length;
  line.replaceChildren(...others.map(([path, { title, words, refused }]) => {
    const each = document.createElement("span");
    const link = Object.assign(document.createElement("a"), { href: path.replace(/\/gate$/, ""), textContent: title });
    each.append(refused ? "Not taken: " : "Waits to be sent: ", link, ` “${words}”${refused ? ` (${refused})` : ""} `);
    return each;
  }));
}

function note(form, { words, refused, body }) {
  const input = form.querySelector("#reading");
  const said = document.createElement("p");
  said.className = "unsent-note";
  said.setAttribute("role", "status");
  const tag = Object.assign(document.createElement("b"), { className: "tag open", textContent: refused ? "not taken" : "waits to be sent" });
  said.append(tag, refused
    ? ` “${words}”: ${refused} It is kept on this device; send it again below.`
    : ` “${words}” is kept on this device and not in the app yet. It is sent as soon as the app answers.`);
  form.before(said);
  if (!input) return;
  const inputs = [...form.querySelectorAll("[name=value]")];
  if (!inputs.some((each) => each.value)) {
    const typed = new URLSearchParams(body).getAll("value");
    inputs.forEach((each, n) => { each.value = typed[n] ?? ""; });
    const tool = form.querySelector("[name=with_what]");
    if (tool && !tool.value) tool.value = new URLSearchParams(body).get("with_what") ?? "";
  }
  inputs.forEach((each) => each.classList.add("unsent"));
}

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (form.hasAttribute("data-waits")) {
    event.preventDefault();
    keep(form, event.submitter);
    await send(pathOf(form));
    if (kept(pathOf(form))) form.scrollIntoView({ block: "center" });
  } else if (form.hasAttribute("data-asks")) {
    event.preventDefault();
    ask(form, event.submitter);
  }
});

// Anything else that is sent from a step: nothing is kept for later, and nothing of the page is lost.
async function ask(form, pressed) {
  if (under_way.has(form)) return;
  under_way.add(form);
  try {
    const answer = await post(pathOf(form), bodyOf(form, pressed));
    const { show } = await import("./live.js");
    if (answer.redirected) location.assign(answer.url);
    else if (show(await answer.text())) document.querySelector("[role=alert]")?.scrollIntoView({ block: "center" });
  } catch {
    unanswered("this was not kept");
  } finally {
    under_way.delete(form);
  }
}

function unanswered(therefore) {
  const line = document.getElementById("waiting");
  line.textContent = `The app does not answer: ${therefore}. Press it again when the app is back.`;
  line.hidden = false;
  line.scrollIntoView({ block: "start" });
}

// The next hole, where the page does not hear of the app: the page stays until there is another to go to.
document.addEventListener("click", async (event) => {
  const link = event.target.closest(".bar a[href]");
  if (!link || document.documentElement.dataset.hears === "yes" || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  try {
    await fetch(link.href);
    location.assign(link.href);
  } catch {
    unanswered("this page stays");
  }
});

// What is typed into a gate and not sent yet.
document.addEventListener("input", (event) => {
  const form = event.target.closest("form[data-waits]");
  if (form && event.target.id === "reading") localStorage.setItem(`typed:${pathOf(form)}`, event.target.value);
});

function begin() {
  const form = document.querySelector("form[data-waits]");
  const input = form?.querySelector("#reading");
  const typed = form && localStorage.getItem(`typed:${pathOf(form)}`);
  if (input && !input.value && typed) {
    input.value = typed;
    inputs.forEach((each) => each.classList.add("unsent"));
    const said = Object.assign(document.createElement("p"), { className: "typed-note", textContent: "Typed here before and not sent yet: keep it, or type over it." });
    form.before(said);
  }
  if (document.getElementById("wrong")) look(document.getElementById("wrong"));
  if (form && sessionStorage.getItem("to-gate") === pathOf(form)) document.getElementById("gate").scrollIntoView({ block: "start" });
  sessionStorage.removeItem("to-gate");
  tell();
  all();
}

document.addEventListener("shown", tell);
document.addEventListener("away", (event) => { if (!event.detail) all(); });
begin();
