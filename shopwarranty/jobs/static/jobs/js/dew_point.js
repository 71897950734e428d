// While figures are typed, the sentence about the dew point comes from the server; without a script it comes after saving.
(() => {
  const place = document.getElementById("dew-point"), form = document.getElementById("reading");
  if (!place || !form) return;
  let waiting, latest = 0;
  const ask = async () => {
    const asked = ++latest, words = new URLSearchParams(new FormData(form));
    words.delete("csrfmiddlewaretoken");
    try {
      const answer = await fetch(`${place.dataset.source}?${words}`, { headers: { Accept: "text/html" } });
      if (answer.ok && asked === latest) place.textContent = (await answer.text()).trim();
    } catch { /* no network: the sentence comes after saving */ }
  };
  form.addEventListener("input", () => { clearTimeout(waiting); waiting = setTimeout(ask, 250); });
})();
