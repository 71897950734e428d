// The drop-down of the head closes on Escape and on a press elsewhere; opening it works without a script.
(() => {
  const open = () => document.querySelector("details.menu[open]");
  document.addEventListener("keydown", (event) => {
    const menu = open();
    if (event.key !== "Escape" || !menu) return;
    menu.open = false;
    menu.querySelector("summary").focus();
  });
  document.addEventListener("click", (event) => {
    const menu = open();
    if (menu && !menu.contains(event.target)) menu.open = false;
  });
})();
