// The pieces either side of a number. Without this script the number field alone does the work.
(() => {
  const press = (event) => {
    const button = event.target.closest("[data-step]");
    if (!button) return;
    const input = button.closest(".step").querySelector("input");
    if (input.disabled || input.readOnly || input.type !== "number") return;
    // An empty field is "not recorded": the first press takes the usual value, not zero.
    if (input.value === "") input.value = input.dataset.usual || input.min || "0";
    else if (button.dataset.step === "up") input.stepUp();
    else input.stepDown();
    input.dispatchEvent(new Event("input", { bubbles: true }));
    input.dispatchEvent(new Event("change", { bubbles: true }));
  };
  for (const button of document.querySelectorAll(".step [data-step]")) button.hidden = false;
  document.addEventListener("click", press);
})();
