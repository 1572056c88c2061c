// One stream of events for all tabs of a browser.
import { listen } from "./stream.js";

const ports = new Set();
let known = {};

self.addEventListener("connect", (event) => {
  const port = event.ports[0];
  ports.add(port);
  port.onmessage = () => ports.delete(port); // all a tab ever says is goodbye
  if (known.run || known.away) port.postMessage(known);
});

listen((said) => {
  known = { ...known, ...said };
  for (const port of ports) port.postMessage(known);
});
