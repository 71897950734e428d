// What is typed or photographed in the bay lies in this browser's own store until the server has said that it keeps it.
// It is sealed with a key that only pages of its member carry: whoever else signs in here sees how many there are, and
// no more.
const sealed = (() => {
  const box = document.getElementById("unsent");
  if (!box || !isSecureContext || !window.indexedDB || !crypto.subtle) return null;
  const { member, initials, seal } = box.dataset;
  // The first key seals; the others are of secret keys that were changed since, and only open.
  const bytesOf = (hex) => Uint8Array.from(hex.match(/../g), (two) => parseInt(two, 16));
  const keys = seal.split(" ").map((hex) => crypto.subtle.importKey("raw", bytesOf(hex), "AES-GCM", false, ["encrypt", "decrypt"]));

  // `within("readwrite", ["rows"], (rows) => rows.put(...))`: one transaction, and what its act found.
  const base = (name, version, upgrade) => {
    const opened = new Promise((ready, failed) => {
      const ask = indexedDB.open(name, version);
      ask.onupgradeneeded = ({ oldVersion }) => upgrade(ask.result, oldVersion);
      ask.onsuccess = () => { ask.result.onversionchange = () => ask.result.close(); ready(ask.result); };
      ask.onerror = () => failed(ask.error);
      ask.onblocked = () => failed(new Error("an older page holds the store"));
    });
    opened.catch(() => {});
    // "strict": written through to the disk before it counts, since the battery may go next.
    return async (mode, stores, act) => {
      const work = (await opened).transaction(stores, mode, { durability: "strict" });
      return new Promise((ready, failed) => {
        const ask = act(...stores.map((store) => work.objectStore(store)));
        work.oncomplete = () => ready(ask.result);
        work.onerror = work.onabort = () => failed(work.error);
      });
    };
  };
  const entries = base("shopwarranty-entries", 1, (made) => made.createObjectStore("entries", { keyPath: "n", autoIncrement: true }));
  const within = (mode, act) => entries(mode, ["entries"], act);

  const lock = async (bytes) => {
    const iv = crypto.getRandomValues(new Uint8Array(12));
    return { iv, bytes: await crypto.subtle.encrypt({ name: "AES-GCM", iv }, await keys[0], bytes) };
  };
  const unlock = async ({ iv, bytes }) => {
    const opened = keys.map(async (key) => crypto.subtle.decrypt({ name: "AES-GCM", iv }, await key, bytes));
    return Promise.any(opened);
  };
  const lockText = (said) => lock(new TextEncoder().encode(JSON.stringify(said)));
  const unlockText = async (locked) => JSON.parse(new TextDecoder().decode(await unlock(locked)));

  // `said`: {title, page, then, fields, words, fresh}; `files`: [{field, file}]
  const put = async (entry, said, files) => {
    const row = { ...entry, member, initials, said: await lockText(said) };
    if (files) {
      row.files = [];
      for (const { field, file } of files) {
        const named = await lockText({ name: file.name, type: file.type });
        row.files.push({ field, named, sealed: await lock(await file.arrayBuffer()) });
      }
    }
    row.n = await within("readwrite", (store) => store.put(row));
    return row;
  };
  const read = (entry) => unlockText(entry.said);
  const fileOf = async ({ field, named, sealed: bytes, ...before }) => {
    const { name, type } = named ? await unlockText(named) : before;  // an older version left the name open
    return { field, file: new File([await unlock(bytes)], name, { type }) };
  };
  const filesOf = (entry) => Promise.all((entry.files || []).map(fileOf));
  // What no key of this page opens stays as it is, is nobody's here, and holds nothing up.
  const opens = (entry) => unlockText(entry.said).then(() => true, () => false);
  const seen = async (entry) => (entry.member !== member || await opens(entry) ? entry : { ...entry, member: "", shut: true });
  const all = async () => Promise.all((await within("readonly", (store) => store.getAll())).map(seen));
  const remove = (n) => within("readwrite", (store) => store.delete(n));

  const token = () => (document.cookie.match(/(?:^|; )(?:__Host-)?csrftoken=([^;]+)/) || [])[1] || "";
  // The box is there while one of those who fill it has something to say.
  const told = new Set();
  const tell = (who, says) => { told[says ? "add" : "delete"](who); box.hidden = !told.size; };
  return { box, member, initials, base, lock, unlock, lockText, unlockText, put, read, filesOf, all, remove, token, tell };
})();
