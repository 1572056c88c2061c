// A file that was chosen is brought in at once: one touch.
document.addEventListener("change", (event) => {
  if (event.target.id === "file" && event.target.files.length) event.target.form.requestSubmit();
});
