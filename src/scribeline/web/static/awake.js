// A step's screen stays lit while it is looked at, where the browser can see to that; otherwise the page says so.
const line = document.getElementById("awake");
let lock = null;

async function stay() {
  if (!("wakeLock" in navigator)) {
    line.textContent = "This browser cannot keep the screen lit. Set the device not to sleep while you drill.";
    return;
  }
  try {
    lock = await navigator.wakeLock.request("screen");
    line.textContent = "The screen stays lit on this page.";
  } catch {
    line.textContent = "The screen may go dark. Set the device not to sleep while you drill.";
  }
}

document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible" && (lock === null || lock.released)) stay();
});
stay();
