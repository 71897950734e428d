// A form pressed twice is sent once; the server sees to doubles as well. After a while it may be sent again, for an
// answer that is a file leaves the page as it is.
(() => {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post") return;
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "yes";
    setTimeout(() => { delete form.dataset.sent; }, 8000);
  });
  addEventListener("pageshow", () => {
    for (const form of document.forms) delete form.dataset.sent;
  });
})();
