// A notice stays until somebody puts it away; nothing vanishes by itself.
(() => {
  for (const button of document.querySelectorAll(".notice [data-put-away]")) {
    button.hidden = false;
    button.addEventListener("click", () => {
      button.closest(".notice").remove();
      document.getElementById("main").focus();
    });
  }
})();
