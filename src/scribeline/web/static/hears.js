// Hearing that jobs changed: by the stream of events that the browser's tabs share; where they cannot share one, the tab that
// is looked at has its own; where that fails it asks now and then.
import { listen } from "./stream.js";

const NOW_AND_THEN = 10000; // ms between questions where there is no stream

// `hear` gets what the stream says; `look` is called where a page can only ask.
export function hearing(hear, look) {
  let stop = null;

  function alone() {
    if (typeof EventSource === "undefined") {
      const timer = setInterval(look, NOW_AND_THEN);
      return () => clearInterval(timer);
    }
    return listen(hear);
  }

  function shared() {
    const worker = new SharedWorker("/static/news.js", { type: "module", name: "news" });
    worker.port.onmessage = (event) => hear(event.data);
    worker.onerror = () => { stop = alone(); };
    return () => worker.port.postMessage("goodbye");
  }

  const together = typeof SharedWorker !== "undefined";
  const join = () => { stop ??= together ? shared() : alone(); };
  const leave = () => { stop?.(); stop = null; };

  window.addEventListener("pagehide", leave);
  window.addEventListener("pageshow", join);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") { join(); look(); }
    else if (!together) leave();
  });
  join();
}
