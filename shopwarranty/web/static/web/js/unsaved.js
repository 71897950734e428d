// Leaving a form with something typed in it: the browser asks. Only for forms marked data-unsaved, and not for those
// whose every change is kept on the phone.
(() => {
  let touched = false;
  const kept = (form) => isSecureContext && form.hasAttribute("data-keep-typed");
  for (const form of document.querySelectorAll("form[data-unsaved]")) {
    if (kept(form)) continue;
    form.addEventListener("input", () => { touched = true; });
    form.addEventListener("submit", () => { touched = false; });
    if (form.querySelector("[aria-invalid='true']")) touched = true;
  }
  addEventListener("beforeunload", (event) => { if (touched) event.preventDefault(); });
})();
