// A step's screen stays lit while it is looked at, where the browser can see to that; otherwise the page says so, once on a device.
const line = document.getElementById("awake");
const HEARD = "awake: heard"; // that whoever uses this device knows that it must be set not to sleep
let lock = null;

function warn(why) {
  if (localStorage.getItem(HEARD)) return;
  const heard = Object.assign(document.createElement("button"), { type: "button", className: "plain", textContent: "Understood" });
  heard.addEventListener("click", () => {
    localStorage.setItem(HEARD, "yes");
    line.replaceChildren();
  });
  line.replaceChildren(`${why} Set this device not to sleep while you drill: in its settings, under display, the time until the screen goes dark. `, ...overHttps(), heard);
}

// Over http another device may come by a lit screen: the shop's certificate leads over to https.
function overHttps() {
  if (isSecureContext) return [];
  const back = encodeURIComponent(location.pathname + location.search);
  return [Object.assign(document.createElement("a"), { className: "button plain", href: `/pair/certificate?back=${back}`, textContent: "Keep it lit over https" }), " "];
}

async function stay() {
  if (!("wakeLock" in navigator)) {
    warn(isSecureContext ? "This browser cannot keep the screen lit." : "The screen may go dark: a browser keeps it lit over https alone.");
    return;
  }
  try {
    lock = await navigator.wakeLock.request("screen");
    line.replaceChildren();
  } catch {
    warn("The screen may go dark.");
  }
}

document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible" && (lock === null || lock.released)) stay();
});
stay();
