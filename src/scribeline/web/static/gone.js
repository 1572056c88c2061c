// A job that was deleted elsewhere: the page that says so stands in place of what was there, which waits behind it with all
// that is typed.

const main = () => document.getElementById("main");

// Whether an answer says that the job was deleted; then it is shown.
export function deleted(html) {
  const told = new DOMParser().parseFromString(html, "text/html").getElementById("deleted");
  if (!told) return false;
  if (document.getElementById("deleted")) return true;
  for (const each of main().children) each.toggleAttribute("data-behind", !each.hidden);
  for (const each of main().querySelectorAll(":scope > [data-behind]")) each.hidden = true;
  main().prepend(document.adoptNode(told));
  window.scrollTo(0, 0);
  return true;
}

// It was restored.
export function back() {
  document.getElementById("deleted")?.remove();
  for (const each of document.querySelectorAll("[data-behind]")) {
    each.hidden = false;
    each.removeAttribute("data-behind");
  }
}
