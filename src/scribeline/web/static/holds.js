// Holds on this device the steps of the jobs that were opened on it: they are there while the app does not answer, when a page
// is loaded anew too. Whatever the app answers comes first. A browser allows this over https and on the shop's PC alone.
const ROOM = "steps";
const STEP = /^(\/jobs\/\d+\/steps)(\/[^/]+)?$/;
const EVERY = /^\/jobs\/\d+\/steps\/all$/;
const ASSET = /^\/(static|face)\//;

addEventListener("install", () => skipWaiting());
addEventListener("activate", (event) => event.waitUntil(clients.claim()));

addEventListener("fetch", (event) => {
  const { request } = event, url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin || request.cache === "no-store") return;
  const key = keyOf(url.pathname, request.mode === "navigate");
  if (key) event.respondWith(answered(request, key));
});

// Any step of a job will do as the frame that its others are shown in.
function keyOf(path, page) {
  if (EVERY.test(path) || ASSET.test(path)) return path;
  const step = page && path.match(STEP);
  return step ? step[1] + (step[2] ? "/frame" : "") : "";
}

async function answered(request, key) {
  try {
    const answer = await fetch(request);
    if (answer.status === 401 || (answer.redirected && new URL(answer.url).pathname === "/pair")) await caches.delete(ROOM); // shut out
    else if (answer.status === 200 && !answer.redirected) await keep(key, answer.clone());
    return answer;
  } catch (fault) {
    const kept = await (await caches.open(ROOM)).match(key);
    if (!kept) throw fault;
    if (!key.endsWith("/frame")) return kept;
    const page = (await kept.text()).replace('<div id="step"', '<div id="step" data-framed="yes"');
    return new Response(page, { headers: kept.headers });
  }
}

async function keep(key, answer) {
  try {
    await (await caches.open(ROOM)).put(key, answer);
  } catch {
    // no room on this device: it goes on without
  }
}
