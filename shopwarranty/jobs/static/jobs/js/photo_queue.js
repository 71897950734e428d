// Several photos, each sent by itself with an id made here, so that sending twice keeps one. Until the server has said
// that it kept a photo, the photo lies in this browser's own store and is named on the page. Without a script the form
// sends them all at once.
(() => {
  const form = document.getElementById("send-photos"), box = document.getElementById("queue");
  if (!form || !box || !window.indexedDB || !crypto.randomUUID) return;
  const rows = document.getElementById("queue-rows"), sum = document.getElementById("queue-sum");
  const template = document.getElementById("queue-row"), member = form.dataset.member, here = location.pathname;
  const shown = new Map();
  let all = 0, kept = 0, others = 0, busy = 0, waiting = [];

  const opened = new Promise((ready, failed) => {
    const ask = indexedDB.open("shopwarranty-photos", 1);
    ask.onupgradeneeded = () => ask.result.createObjectStore("photos", { keyPath: "uid" });
    ask.onsuccess = () => ready(ask.result);
    ask.onerror = () => failed(ask.error);
  });
  const inStore = async (mode, act) => {
    const store = (await opened).transaction("photos", mode).objectStore("photos");
    return new Promise((ready, failed) => {
      const ask = act(store);
      ask.onsuccess = () => ready(ask.result);
      ask.onerror = () => failed(ask.error);
    });
  };

  const say = (item, state, words) => {
    const row = shown.get(item.uid);
    row.dataset.now = state;
    row.classList.toggle("is-kept", state === "kept");
    row.querySelector("[data-state]").textContent = words || box.dataset[state];
    row.querySelector("[data-again]").hidden = !["failed", "signedOut"].includes(state);
    row.querySelector("[data-away]").hidden = state !== "refused";
    count();
  };
  const count = () => {
    const some = sum.dataset.some.replace("%n%", kept).replace("%all%", all);
    sum.textContent = [all ? `${some}.` : "", others ? sum.dataset.others.replace("%n%", others) : ""].join(" ").trim();
    box.hidden = !(all || others);
  };
  const show = (item) => {
    const row = template.content.firstElementChild.cloneNode(true);
    row.querySelector("[data-name]").textContent = item.name;
    row.querySelector("[data-again]").addEventListener("click", () => line(item));
    row.querySelector("[data-away]").addEventListener("click", () => { row.remove(); all -= 1; count(); });
    rows.append(row);
    shown.set(item.uid, row);
    all += 1;
  };
  const line = (item) => { say(item, "waiting"); waiting.push(item); next(); };
  const next = () => {
    while (busy < 1 && waiting.length) { busy += 1; send(waiting.shift()); }
    if (!busy && !waiting.length && all && kept === all) location.reload();
  };

  // A server that stumbled is asked again by itself, less often each time.
  const tryLater = (item) => {
    item.tries = (item.tries || 0) + 1;
    setTimeout(() => {
      const again = shown.get(item.uid).querySelector("[data-again]");
      if (!again.hidden) again.click();
    }, 2000 * 2 ** Math.min(item.tries, 5));
  };

  const send = (item) => {
    say(item, "sending");
    const body = new FormData();
    for (const [name, value] of item.fields) body.append(name, value);
    body.set("csrfmiddlewaretoken", form.elements.csrfmiddlewaretoken.value);
    body.set("uid", item.uid);
    body.set("phone_time", item.phoneTime);
    body.append("photos", item.file, item.name);
    const request = new XMLHttpRequest(), bar = shown.get(item.uid).querySelector("progress");
    request.open("POST", item.address);
    request.setRequestHeader("Accept", "application/json");
    request.responseType = "json";
    request.timeout = 120000;
    request.upload.addEventListener("progress", (event) => { bar.value = event.loaded / (event.total || 1); });
    request.addEventListener("loadend", () => answered(item, request));
    request.send(body);
  };
  const answered = async (item, request) => {
    busy -= 1;
    const answer = request.response;
    if (request.status === 200 && answer && answer.kept) {
      await inStore("readwrite", (store) => store.delete(item.uid)).catch(() => {});
      kept += 1;
      say(item, "kept");
    } else if (request.status === 422 && answer) {
      await inStore("readwrite", (store) => store.delete(item.uid)).catch(() => {});
      say(item, "refused", (answer.refused || []).join(" "));
    } else {
      const signedOut = request.status === 200 || request.status === 403;
      say(item, signedOut ? "signedOut" : "failed");
      if (!signedOut) tryLater(item);
    }
    next();
  };

  form.addEventListener("submit", async (event) => {
    const files = [...form.elements.photos.files];
    if (!files.length) return;
    event.preventDefault();
    delete form.dataset.sent;
    const fields = [...new FormData(form)].filter(([name]) => !["photos", "csrfmiddlewaretoken"].includes(name));
    form.elements.photos.value = "";
    for (const file of files) {
      const item = { uid: crypto.randomUUID(), member, address: here, name: file.name, file, fields, phoneTime: file.lastModified || "" };
      show(item);
      // Where the browser lends no room the photo is sent all the same; leaving the page then asks first.
      await inStore("readwrite", (store) => store.put(item)).catch(() => {});
      line(item);
    }
  });
  addEventListener("beforeunload", (event) => { if (busy || waiting.length) event.preventDefault(); });
  addEventListener("online", () => {
    for (const button of rows.querySelectorAll("[data-again]:not([hidden])")) button.click();
  });
  inStore("readonly", (store) => store.getAll()).then((items) => {
    others = items.filter((item) => item.member !== member).length;
    for (const item of items.filter((one) => one.member === member)) { show(item); line(item); }
    count();
  }).catch(() => {});
})();
