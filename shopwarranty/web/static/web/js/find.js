// "/" goes to the search field, unless somebody is typing.
(() => {
  const typing = (node) => node.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(node.tagName);
  document.addEventListener("keydown", (event) => {
    if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey || typing(event.target)) return;
    const field = document.querySelector("[role='search'] input[type='search']");
    if (!field) return;
    event.preventDefault();
    field.focus();
    field.select();
  });
})();
