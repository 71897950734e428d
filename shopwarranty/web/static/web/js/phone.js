// Installs the worker that serves kept pages, gives it the pages of this job, and says when a page comes from the phone.
(() => {
  const box = document.getElementById("unsent"), words = document.getElementById("from-phone");
  if (!box || !words) return;
  const { member } = box.dataset;
  if (!isSecureContext || !navigator.serviceWorker) {
    words.hidden = !document.querySelector("[data-pages]");
    words.textContent = words.dataset.insecure;
    return;
  }
  const [navigation] = performance.getEntriesByType("navigation");
  const from = navigation?.serverTiming?.find((one) => one.name === "kept");
  if (from) {
    const time = new Date(from.duration).toLocaleTimeString(document.documentElement.lang, { hour: "numeric", minute: "2-digit" });
    words.textContent = words.dataset.kept.replace("%time%", time);
    words.hidden = false;
  }
  const pages = () => [...document.querySelectorAll("[data-pages]")].flatMap((group) => {
    const changed = Number(localStorage.getItem(`changed ${group.dataset.group}`) || 0);
    return group.dataset.pages.trim().split(/\s+/).map((address) => [new URL(address, location.href).href, changed]);
  });
  const begin = async () => {
    await navigator.serviceWorker.register(box.dataset.worker);
    const { active } = await navigator.serviceWorker.ready;
    if (localStorage.getItem("member here") !== member) active.postMessage("forget");
    localStorage.setItem("member here", member);
    const gather = from ? [] : pages();
    if (gather.length && !navigator.connection?.saveData) active.postMessage({ gather });
  };
  begin().catch(() => {});
})();
