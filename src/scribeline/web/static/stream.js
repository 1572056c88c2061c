// The app's stream of events: which jobs changed. It comes back by itself when the app does.
const QUIET = 16000; // ms without a word after which a stream is taken for dead: the app says something every ten seconds
const AWAY = 2500; // ms after which an app that does not answer is said to be away
const AGAIN = 1000; // ms after a stream that was refused before the next is tried
const ENOUGH = 10000; // the same where the app says that this device has enough of them: it then asks now and then

export function listen(say) {
  const jobs = {};
  let source = null, quiet = 0, gone = 0, next = 0, away = false, over = false;

  const heard = () => {
    clearTimeout(quiet);
    clearTimeout(gone);
    gone = 0;
    quiet = setTimeout(() => { lost(); open(); }, QUIET);
    if (away) say({ away: away = false });
  };
  const lost = () => {
    gone ||= setTimeout(() => say({ away: away = true }), AWAY);
  };
  const later = (wait) => {
    source.close();
    clearTimeout(quiet);
    clearTimeout(next);
    next = setTimeout(open, wait);
  };

  function open() {
    if (over) return;
    source?.close();
    source = new EventSource("/news");
    source.addEventListener("still", heard);
    source.addEventListener("all", (event) => {
      heard();
      const said = JSON.parse(event.data);
      for (const job of Object.keys(jobs)) delete jobs[job];
      Object.assign(jobs, said.jobs);
      say({ run: said.run, jobs });
    });
    source.addEventListener("news", (event) => {
      heard();
      const said = JSON.parse(event.data);
      Object.assign(jobs, said.jobs);
      say({ run: said.run, jobs });
    });
    source.addEventListener("enough", () => { heard(); later(ENOUGH); });
    source.addEventListener("error", () => {
      lost();
      if (source.readyState === EventSource.CLOSED) later(AGAIN);
    });
  }

  open();
  return () => {
    over = true;
    source.close();
    for (const timer of [quiet, gone, next]) clearTimeout(timer);
  };
}
