// Says that it is being worked out, and keeps a second press from sending the file twice.
for (const form of document.querySelectorAll("form[data-waiting]")) {
  let sent = false;
  form.addEventListener("submit", (event) => {
    if (sent) {
      event.preventDefault();
      return;
    }
    // A file that comes back as a download leaves this page in place, so it may be sent again.
    sent = !event.submitter || event.submitter.value === "page";
    const words = form.querySelector("[data-waiting-words]");
    words.hidden = !sent;
  });
}
window.addEventListener("pageshow", (event) => {
  if (event.persisted) location.reload();
});
