// After a refused form the reader starts at what has to be put right.
(() => {
  const summary = document.querySelector(".wrong[tabindex='-1']");
  if (summary) summary.focus();
})();
