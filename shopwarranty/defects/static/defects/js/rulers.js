// One press puts the size of a known thing into the length; the steppers do the rest.
(() => {
  for (const button of document.querySelectorAll("[data-extent]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const field = document.getElementById(button.dataset.for);
      field.value = button.dataset.extent;
      field.dispatchEvent(new Event("input", { bubbles: true }));
    });
  }
})();
