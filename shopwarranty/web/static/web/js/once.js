// A form pressed twice is sent once. The page works out doubles on the server too; this saves the wait.
(() => {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post") return;
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "yes";
  });
  addEventListener("pageshow", () => {
    for (const form of document.forms) delete form.dataset.sent;
  });
})();
