// What of a step's screen is out of sight, clipped, on top of something else, or too small to press.
() => {
  const box = (e) => e.getBoundingClientRect();
  const bar = box(document.querySelector(".bar")), head = box(document.querySelector(".press-top"));
  const wrong = [];
  const inSight = (e, what) => {
    const b = box(e);
    if (!(b.width > 0 && b.height > 0 && b.left >= 0 && b.right <= innerWidth + .5 && b.top >= head.bottom - .5 && b.bottom <= bar.top + .5))
      wrong.push(`${what} is out of sight: ${e.textContent.trim().slice(0, 30)} ${[b.left, b.top, b.right, b.bottom].map(Math.round)}, bar ${Math.round(bar.top)}`);
  };
  const apart = (a, b) => a.right <= b.left + .5 || b.right <= a.left + .5 || a.bottom <= b.top + 1 || b.bottom <= a.top + 1;
  const text = (e) => { const range = document.createRange(); range.selectNodeContents(e); return range.getBoundingClientRect(); };
  if (scrollY || document.documentElement.scrollWidth > innerWidth) wrong.push("it scrolls");
  const figures = [...document.querySelectorAll(".fig")];
  const seen = figures.map((fig) => {
    const parts = [...fig.children], own = box(fig);
    for (const part of parts) {
      inSight(part, "figure");
      const b = text(part), line = box(part); // a line's own box; what a face leaves free over and under its letters may be cut
      if (b.left < own.left - .5 || b.right > own.right + .5 || line.top < own.top - .5 || line.bottom > own.bottom + .5)
        wrong.push(`clipped: ${part.textContent} in ${fig.querySelector(".label").textContent}`);
      for (const other of parts) if (other !== part && !apart(box(part), box(other))) wrong.push(`overlap in ${fig.textContent}`);
    }
    const size = parseFloat(getComputedStyle(fig.querySelector(".value")).fontSize);
    return { label: fig.querySelector(".label").textContent, number: fig.querySelector(".value").textContent, size };
  });
  for (const e of document.querySelectorAll(".face, h1, .hole b")) {
    inSight(e, "head");
    for (const other of document.querySelectorAll(".face, h1, .hole b")) if (e !== other && !apart(text(e), text(other))) wrong.push(`the head overlaps: ${e.textContent}`);
  }
  for (const e of document.querySelectorAll(".bar :is(a, button)")) {
    const b = box(e);
    if (b.top < bar.top || b.bottom > innerHeight + .5 || e.scrollWidth > e.clientWidth + 1) wrong.push(`in the bar: ${e.textContent}`);
  }
  for (const e of document.querySelectorAll("main :is(button, .button, summary, input:not([type=hidden]), .not-yet), .bar :is(button, a), .press-top .button, .mark")) {
    const b = box(e);
    if (b.width && !e.closest("label.sure") && (b.width < 47.5 || b.height < 47.5)) wrong.push(`small: ${e.textContent || e.id} ${b.width} x ${b.height}`);
  }
  const section = document.querySelector(".drawing.section svg");
  if (section && innerWidth === 1024) inSight(section, "section");
  return { wrong, seen, face: document.querySelector(".face")?.textContent ?? "", section: Boolean(section) };
}
