// What is typed in the bay lies in this browser's own store until the server has said that it keeps it. It is sealed
// with a key that only pages of its member carry: whoever else signs in here sees how many there are, and no more.
const sealed = (() => {
  const box = document.getElementById("unsent");
  if (!box || !isSecureContext || !window.indexedDB || !crypto.subtle) return null;
  const { member, initials, seal } = box.dataset;
  const key = crypto.subtle.importKey("raw", Uint8Array.from(seal.match(/../g), (two) => parseInt(two, 16)), "AES-GCM", false, ["encrypt", "decrypt"]);

  const opened = new Promise((ready, failed) => {
    const ask = indexedDB.open("shopwarranty-entries", 1);
    ask.onupgradeneeded = () => ask.result.createObjectStore("entries", { keyPath: "n", autoIncrement: true });
    ask.onsuccess = () => ready(ask.result);
    ask.onerror = () => failed(ask.error);
  });
  // "strict": written through to the disk before it counts, since the battery may go next.
  const within = async (mode, act) => {
    const work = (await opened).transaction("entries", mode, { durability: "strict" });
    return new Promise((ready, failed) => {
      const ask = act(work.objectStore("entries"));
      work.oncomplete = () => ready(ask.result);
      work.onerror = work.onabort = () => failed(work.error);
    });
  };

  const lock = async (bytes) => {
    const iv = crypto.getRandomValues(new Uint8Array(12));
    return { iv, bytes: await crypto.subtle.encrypt({ name: "AES-GCM", iv }, await key, bytes) };
  };
  const unlock = async ({ iv, bytes }) => crypto.subtle.decrypt({ name: "AES-GCM", iv }, await key, bytes);

  // `said`: {title, page, then, fields, words, fresh}; `files`: [{field, file}]
  const put = async (entry, said, files) => {
    const row = { ...entry, member, initials, said: await lock(new TextEncoder().encode(JSON.stringify(said))) };
    if (files) {
      row.files = [];
      for (const { field, file } of files) {
        row.files.push({ field, name: file.name, type: file.type, sealed: await lock(await file.arrayBuffer()) });
      }
    }
    row.n = await within("readwrite", (store) => store.put(row));
    return row;
  };
  const read = async (entry) => JSON.parse(new TextDecoder().decode(await unlock(entry.said)));
  const filesOf = async (entry) => Promise.all((entry.files || []).map(async ({ field, name, type, sealed: bytes }) => (
    { field, file: new File([await unlock(bytes)], name, { type }) })));
  const all = () => within("readonly", (store) => store.getAll());
  const remove = (n) => within("readwrite", (store) => store.delete(n));
  return { box, member, put, read, filesOf, all, remove };
})();
