// Photos wait on this phone, sealed as entries are, until the server has said that it keeps them. Whatever page of the
// bay is open sends them, one at a time, each with an id made here, so that sending twice keeps one.
const keptPhotos = (() => {
  if (!sealed) return null;
  const { box, member, initials } = sealed, { dataset } = box, LIMIT = 120000;
  const line = document.getElementById("unsent-photos"), queue = document.getElementById("queue");
  const loose = new Map();  // where the browser lends no room: only as long as this page is open
  const watching = [], known = new Set();
  let running = null, onceMore = false, storing = 0, pause = 2000, timer = 0;

  // Two stores, so that counting photos does not read them. Version 1 kept {uid, member, address, name, file, fields,
  // phoneTime} in clear.
  const base = sealed.base("shopwarranty-photos", 2, (made, before) => {
    if (before < 1) made.createObjectStore("photos", { keyPath: "uid" });
    made.createObjectStore("bytes", { keyPath: "uid" });
  });
  const rows = () => base("readonly", ["photos"], (photos) => photos.getAll()).catch(() => []);
  const isOpen = (row) => Boolean(row.file);  // as version 1 left it

  // `said`: {name, type, address, fields, phoneTime, words}
  const put = async ({ uid, at, state = "waiting" }, said, file) => {
    const row = { uid, member, initials, at, state, said: await sealed.lockText(said) };
    const bytes = file && { uid, ...(await sealed.lock(await file.arrayBuffer())) };
    await base("readwrite", ["photos", "bytes"], (photos, all) => { if (bytes) all.put(bytes); return photos.put(row); });
  };
  const remove = (uid) => base("readwrite", ["photos", "bytes"], (photos, all) => { all.delete(uid); return photos.delete(uid); });
  const sealOpenOnes = async () => {
    for (const row of (await rows()).filter((one) => one.member === member && isOpen(one))) {
      const { uid, address, name, file, fields, phoneTime } = row;
      await put({ uid, at: phoneTime || Date.now() }, { name, type: file.type, address, fields, phoneTime }, file);
    }
  };

  // What no key of this page opens stays as it is and holds nothing up.
  const opened = (row) => sealed.unlockText(row.said).then((said) => ({ ...row, said }), () => ({ ...row, shut: true }));
  const ofMember = async () => Promise.all((await rows()).filter((row) => row.member === member && !isOpen(row)).map(opened));
  const mine = async () => {
    const read = (await ofMember()).filter((row) => !row.shut);
    const found = [...read, ...loose.values()].sort((one, other) => one.at - other.at);
    found.forEach(({ uid }) => known.add(uid));
    return found;
  };
  const fileOf = async ({ uid, said }) => {
    if (loose.has(uid)) return loose.get(uid).file;
    const found = await base("readonly", ["bytes"], (all) => all.get(uid));
    return new File([await sealed.unlock(found)], said.name, { type: said.type });
  };

  // ---- sending
  const say = (uid, state, more) => watching.forEach((watch) => watch(uid, state, more));
  const post = async (row) => {
    const body = new FormData(), file = await fileOf(row);
    for (const [name, value] of row.said.fields) body.append(name, value);
    body.set("uid", row.uid);
    body.set("phone_time", row.said.phoneTime);
    body.set("entry_member", member);
    body.append("photos", file, row.said.name);
    return new Promise((ready) => {
      const request = new XMLHttpRequest();
      request.open("POST", row.said.address);
      request.setRequestHeader("Accept", "application/json");
      request.setRequestHeader("X-CSRFToken", sealed.token());
      request.responseType = "json";
      request.timeout = LIMIT;
      request.upload.addEventListener("progress", ({ loaded, total }) => say(row.uid, "sending", loaded / (total || 1)));
      request.addEventListener("loadend", () => ready(read(request.status, request.response)));
      request.send(body);
    });
  };
  const read = (status, answer) => {
    if (status === 200 && answer?.kept) return { state: "kept" };
    if (status === 422 && answer) return { state: "refused", words: (answer.refused || []).join(" ") };
    if (status === 0) return { state: "failed", away: true };
    if (status < 400 || [401, 403, 409].includes(status)) return { state: "signedOut", away: true };
    if (status >= 500 || status === 429 || status === 408) return { state: "failed" };
    return { state: "refused", words: dataset.gone };
  };
  // A server that stumbles over one photo is sent the others; without an answer at all they wait together.
  const run = async () => {
    let stop = null, later = false;
    const waiting = (await mine()).filter((one) => one.state === "waiting");
    await elsewhere();
    for (const row of waiting) {
      if (!stop && !navigator.onLine) stop = "failed";
      if (stop) { say(row.uid, stop); continue; }
      say(row.uid, "sending", 0);
      const { state, words, away } = await post(row);
      if (state === "kept") { loose.delete(row.uid); pause = 2000; await remove(row.uid).catch(() => {}); }
      else if (state === "refused") await refused(row, words);
      else later = true;
      if (away) stop = state;
      say(row.uid, state, words);
    }
    clearTimeout(timer);
    if (stop === "failed" || (later && !stop)) timer = setTimeout(flush, pause = Math.min(pause * 2, 60000));
    await show(stop);
  };
  // What another page of this browser has sent meanwhile.
  const elsewhere = async () => {
    const here = new Set([...(await rows()).map(({ uid }) => uid), ...loose.keys()]);
    for (const uid of known) if (!here.has(uid)) { known.delete(uid); say(uid, "kept"); }
  };
  const refused = async (row, words) => {
    if (loose.has(row.uid)) Object.assign(row, { state: "refused" }).said.words = words;
    else await put({ ...row, state: "refused" }, { ...row.said, words });
  };
  const flush = () => {
    onceMore = Boolean(running);
    running ??= (navigator.locks ? navigator.locks.request("shopwarranty-photos", run) : run()).catch(() => {}).finally(() => {
      running = null;
      if (onceMore) flush();
    });
    return running;
  };

  // ---- what may be done with them
  const add = async (files, address, fields) => {
    const added = [];
    storing += 1;
    for (const file of files) {
      const row = { uid: crypto.randomUUID(), at: Date.now() + added.length, state: "waiting" };
      const said = { name: file.name, type: file.type, address, fields, phoneTime: file.lastModified || "" };
      await put(row, said, file).catch(() => loose.set(row.uid, { ...row, said, file }));
      added.push({ ...row, said });
    }
    storing -= 1;
    navigator.storage?.persist?.();
    return added;
  };
  const putAway = async (uid) => { known.delete(uid); loose.delete(uid); await remove(uid); await show(); };

  // ---- what waits, in words; a page with the queue says it of its member's own by itself
  const told = (one, many, n) => (n === 1 ? dataset[one] : dataset[many].replace("%n%", n));
  const othersInWords = async () => {
    const whose = new Map();
    for (const row of (await rows()).filter((one) => one.member !== member)) {
      whose.set(row.member, { who: row.initials, n: (whose.get(row.member)?.n || 0) + 1 });
    }
    const words = ({ who, n }) => (who ? told("onePhotoOther", "manyPhotosOther", n).replaceAll("%who%", who) : told("onePhotoWhose", "manyPhotosWhose", n));
    const shut = (await ofMember()).filter((row) => row.shut).length;
    return [...(shut ? [told("oneShut", "manyShut", shut)] : []), ...[...whose.values()].map(words)].join(" ");
  };
  const show = async (stop) => {
    const own = queue ? [] : await mine(), others = await othersInWords();
    const words = [own.length ? told("onePhoto", "manyPhotos", own.length) : "", stop === "signedOut" && own.length ? dataset.signedOut : ""];
    line.querySelector("[data-own]").textContent = words.filter(Boolean).join(" ");
    line.querySelector("[data-others]").textContent = others;
    const link = line.querySelector("a");
    link.hidden = !own.length;
    line.hidden = !own.length && !others;
    if (own.length) link.href = own[0].said.address;
    sealed.tell("photos", own.length || others);
  };

  addEventListener("online", flush);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) flush(); });
  addEventListener("beforeunload", (event) => { if (loose.size || storing) event.preventDefault(); });
  const ready = sealOpenOnes().catch(() => {});
  // the queue of this page, if there is one, first shows what waits
  ready.then(() => { if (!queue) show().then(flush); });
  return { ready, mine, add, flush, putAway, watch: (act) => watching.push(act), show };
})();
