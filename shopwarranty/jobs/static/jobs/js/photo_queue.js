// The page of a job's photos: several at once, each named until the server has it, with how far it has come. Without a
// script, or without room to keep them here (kept_photos.js), the form sends them all at once.
(() => {
  const form = document.getElementById("send-photos"), box = document.getElementById("queue");
  if (!form || !box || !keptPhotos) return;
  const list = document.getElementById("queue-rows"), sum = document.getElementById("queue-sum");
  const template = document.getElementById("queue-row"), shown = new Map();
  let all = 0, kept = 0;

  const count = () => {
    sum.textContent = all ? `${sum.dataset.some.replace("%n%", kept).replace("%all%", all)}.` : "";
    box.hidden = !all;
  };
  const say = (uid, state, more) => {
    const row = shown.get(uid);
    if (!row) return;
    if (state === "sending") row.querySelector("progress").value = more;
    if (state === "kept" && row.dataset.now !== "kept") kept += 1;
    row.dataset.now = state;
    row.classList.toggle("is-kept", state === "kept");
    row.querySelector("[data-state]").textContent = (state === "refused" && more) || box.dataset[state];
    row.querySelector("[data-again]").hidden = !["failed", "signedOut"].includes(state);
    row.querySelector("[data-away]").hidden = state !== "refused";
    count();
    if (all && kept === all) location.reload();
  };
  const show = ({ uid, state, said }) => {
    const row = template.content.firstElementChild.cloneNode(true);
    row.querySelector("[data-name]").textContent = said.name;
    row.querySelector("[data-again]").addEventListener("click", () => keptPhotos.flush());
    row.querySelector("[data-away]").addEventListener("click", async () => {
      await keptPhotos.putAway(uid);
      row.remove();
      shown.delete(uid);
      all -= 1;
      count();
    });
    list.append(row);
    shown.set(uid, row);
    all += 1;
    say(uid, state, said.words);
  };

  form.addEventListener("submit", async (event) => {
    const files = [...form.elements.photos.files];
    if (!files.length) return;
    event.preventDefault();
    delete form.dataset.sent;
    const fields = [...new FormData(form)].filter(([name]) => !["photos", "csrfmiddlewaretoken"].includes(name));
    form.elements.photos.value = "";
    for (const row of await keptPhotos.add(files, location.pathname, fields)) show(row);
    keptPhotos.flush();
  });
  // The page as the phone keeps it was asked for without saying what a photo shows.
  const asked = new URLSearchParams(location.search);
  for (const name of ["panel", "stage"]) {
    const field = form.elements[name], there = [...field.options].some((one) => one.value === asked.get(name));
    if (there) field.value = asked.get(name);
  }
  keptPhotos.watch(say);
  keptPhotos.ready.then(async () => {
    for (const row of await keptPhotos.mine()) show(row);
    await keptPhotos.show();
    keptPhotos.flush();
  });
})();
