// Leaving a form with something typed in it: the browser asks. Only for forms marked data-unsaved.
(() => {
  let touched = false;
  for (const form of document.querySelectorAll("form[data-unsaved]")) {
    form.addEventListener("input", () => { touched = true; });
    form.addEventListener("submit", () => { touched = false; });
    if (form.querySelector("[aria-invalid='true']")) touched = true;
  }
  addEventListener("beforeunload", (event) => { if (touched) event.preventDefault(); });
})();
