// The later photo over the earlier one. The slider works by arrow keys, the three pieces by one press; without a
// script the two photos stand side by side.
(() => {
  const over = document.getElementById("over"), acts = document.getElementById("over-acts");
  const share = document.getElementById("share");
  if (!over || !share) return;
  over.hidden = false;
  acts.hidden = false;
  const show = () => over.style.setProperty("--covered", `${100 - Number(share.value)}%`);
  share.addEventListener("input", show);
  acts.addEventListener("click", (event) => {
    const piece = event.target.closest("[data-share]");
    if (!piece) return;
    share.value = piece.dataset.share;
    show();
  });
  show();
})();
