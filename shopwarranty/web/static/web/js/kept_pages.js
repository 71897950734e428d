// The page without network lists what can be opened all the same.
(async () => {
  const list = document.getElementById("kept-pages");
  if (!list || !window.caches) return;
  const store = await caches.open("pages"), found = [];
  for (const { url } of await store.keys()) {
    const text = await (await store.match(url, { ignoreVary: true })).text();
    const title = new DOMParser().parseFromString(text, "text/html").title;
    if (!new URL(url).search) found.push([url, title]);
  }
  for (const [url, title] of found) {
    const link = Object.assign(document.createElement("a"), { href: url, textContent: title, className: "list-row" });
    list.append(Object.assign(document.createElement("li"), {}));
    list.lastElementChild.append(link);
  }
  list.closest("section").hidden = !found.length;
})();
