// Serves the bay pages of a job that was opened here when there is no network. Pages are kept only when the server
// says so (X-Kept), and are thrown away when somebody signs out or another member takes the device over.
const PARTS = {{ parts|safe }}, EDITION = "parts {{ edition }}", PAGES = "pages", PATIENCE = 6000, FRESH = 30 * 60000;

addEventListener("install", (event) => {
  event.waitUntil(caches.open(EDITION).then((store) => store.addAll(PARTS)).then(() => skipWaiting()));
});
addEventListener("activate", (event) => {
  const old = async () => {
    for (const name of await caches.keys()) if (![EDITION, PAGES].includes(name)) await caches.delete(name);
    await clients.claim();
  };
  event.waitUntil(old());
});

// A browser tells the page by this header that it comes from the phone, and of when it is.
const keep = async (address, answer) => {
  if (!answer.ok || answer.redirected || !answer.headers.get("X-Kept")) return;
  const headers = new Headers(answer.headers), at = Date.now();
  headers.set("Server-Timing", `kept;dur=${at}`);
  headers.set("X-Kept-At", String(at));
  await (await caches.open(PAGES)).put(address, new Response(await answer.blob(), { headers }));
};
const kept = async (address) => {
  const store = await caches.open(PAGES), there = await store.match(address, { ignoreVary: true });
  // of a job's photos one page is kept, whatever panel it was asked for
  if (there || !new URL(address).pathname.endsWith("/photos/")) return there;
  return store.match(address, { ignoreVary: true, ignoreSearch: true });
};
const forget = () => caches.delete(PAGES);
const bare = (address) => address.split("#")[0];

const within = (time, promise) => new Promise((ready, failed) => {
  setTimeout(() => failed(new Error("no answer")), time);
  promise.then(ready, failed);
});
const isOut = (path) => path.startsWith("/sign-") || path.startsWith("/bay/");

const page = async (request) => {
  const address = bare(request.url), there = request.method === "GET" ? await kept(address) : null;
  try {
    const answer = await within(there ? PATIENCE : 120000, fetch(request));
    if ([502, 503, 504].includes(answer.status) && there) return there;
    if (isOut(new URL(address).pathname)) await forget();
    else if (request.method === "GET") await keep(address, answer.clone());
    return answer;
  } catch {
    return there || caches.match("{% url 'offline' %}", { ignoreVary: true });
  }
};
const part = async (request) => {
  try { return await fetch(request); } catch (error) {
    const there = await caches.match(request, { ignoreVary: true });
    if (there) return there;
    throw error;
  }
};
addEventListener("fetch", (event) => {
  const { request } = event, address = new URL(request.url);
  if (address.origin !== location.origin) return;
  if (request.mode === "navigate") event.respondWith(page(request));
  else if (request.method === "GET" && PARTS.includes(address.pathname)) event.respondWith(part(request));
});

// One after the other, and only what is missing or old, so that a phone does not take the bay's network for itself.
const gather = async (addresses) => {
  for (const [address, changed] of addresses) {
    const there = await kept(address), at = Number(there?.headers.get("X-Kept-At") || 0);
    if (at > Math.max(changed, Date.now() - FRESH)) continue;
    await keep(address, await fetch(address, { headers: { "X-Keep": "1" } }));
  }
};
addEventListener("message", (event) => {
  if (event.data === "forget") event.waitUntil(forget());
  else if (event.data?.gather) event.waitUntil(gather(event.data.gather).catch(() => {}));
});
