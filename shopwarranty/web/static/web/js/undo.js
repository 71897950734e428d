// What can be taken back stays so for ten seconds, also when the next page is opened before: one press recorded it, so
// one press has to undo it. On its own page the notice stays until it is put away.
(() => {
  const TEN = 10000, form = document.querySelector(".notice form[data-undo]");
  const token = () => (document.cookie.match(/(?:^|; )(?:__Host-)?csrftoken=([^;]+)/) || [])[1] || "";
  const forget = () => sessionStorage.removeItem("undo");
  if (form) {
    const words = form.closest(".notice").querySelector("p").textContent, said = form.querySelector("button").textContent;
    sessionStorage.setItem("undo", JSON.stringify({ words, said, action: form.getAttribute("action"), until: Date.now() + TEN }));
    form.addEventListener("submit", forget);
    return;
  }
  const kept = JSON.parse(sessionStorage.getItem("undo") || "null");
  if (!kept || kept.until < Date.now()) return forget();
  const make = (tag, more, ...inside) => {
    const node = Object.assign(document.createElement(tag), more);
    node.append(...inside);
    return node;
  };
  const field = make("input", { type: "hidden", name: "csrfmiddlewaretoken", value: token() });
  const button = make("button", { type: "submit", className: "press press-plain" }, kept.said);
  const again = make("form", { method: "post", action: kept.action }, field, button);
  again.addEventListener("submit", forget);
  const notice = make("div", { className: "notice notice-success" }, make("p", {}, kept.words), again);
  const main = document.getElementById("main");
  main.prepend(make("div", { className: "notices", role: "status" }, notice));
})();
