// The specimen and the checklist follow what is typed. Without this script the button "Check what is typed" does it.
(() => {
  const form = document.querySelector("[data-beside]");
  const beside = document.getElementById("beside");
  if (!form || !beside || !window.fetch) return;
  let waiting = 0;
  let asked = 0;
  const look = async () => {
    const mine = ++asked;
    const typed = new FormData(form);
    typed.set("beside", "1");
    try {
      const answer = await fetch(form.action || window.location.href, { method: "POST", body: typed });
      if (answer.ok && mine === asked) beside.innerHTML = await answer.text();
    } catch {
      // offline: the last answer stays
    }
  };
  form.addEventListener("input", () => {
    window.clearTimeout(waiting);
    waiting = window.setTimeout(look, 700);
  });
})();
