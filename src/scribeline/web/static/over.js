// Finds out whether this device trusts the shop's certificate, by asking for something small over https, and leads over once it does.
const AGAIN = 2000, ENOUGH = 8000; // ms between two tries, and for one
const place = document.getElementById("over"), button = place.querySelector("button"), line = document.getElementById("over-state");
const { to, back } = place.dataset;

const say = (words, state) => {
  place.dataset.state = state;
  if (line.textContent !== words) line.textContent = words;
};

async function isTrusted() {
  try {
    return (await fetch(`${to}/pair/trusted`, { cache: "no-store", credentials: "omit", signal: AbortSignal.timeout?.(ENOUGH) })).ok;
  } catch {
    return false;
  }
}

// What is kept on this device under the old address would stay there.
const left = (kind) => Object.keys(localStorage).filter((key) => key.startsWith(`${kind}:`)).length;

async function goOver() {
  const waits = left("waits"), drafts = left("draft");
  if (waits) return say(`It does. ${waits} ${waits > 1 ? "things" : "thing"} pressed on this device still ${waits > 1 ? "wait" : "waits"} to be sent: it goes over as soon as the app has ${waits > 1 ? "them" : "it"}.`, "waits");
  if (drafts) return say("It does. Something typed on this device is not kept yet: open that job, keep it or drop it, and come back here.", "waits");
  const answer = await fetch(`/pair/ticket?back=${encodeURIComponent(back)}`, { method: "POST" });
  if (!answer.ok) throw new Error(`the app said ${answer.status}`);
  say("It does. Going over\u2026", "goes");
  location.replace((await answer.json()).to);
}

let busy = false;

async function look(pressed) {
  if (busy || place.dataset.state === "goes" || (document.hidden && !pressed)) return;
  busy = true;
  try {
    if (await isTrusted()) await goOver();
    else say(`${pressed ? "Not yet" : "Not yet. This page asks every two seconds, and goes over by itself"}.`, "not yet");
  } catch {
    say("The app does not answer. This page goes on asking.", "away");
  } finally {
    busy = false;
  }
}

button.hidden = false;
button.addEventListener("click", () => look(true));
document.addEventListener("visibilitychange", () => look(false));
setInterval(() => look(false), AGAIN);
look(false);
