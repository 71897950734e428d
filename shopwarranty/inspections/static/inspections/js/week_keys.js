// The week by arrow keys: up and down within a day, left and right to the day beside it, Home and End to the
// first and last of the day. Tab goes through everything as it always does.
(() => {
  "use strict";
  const week = document.querySelector(".week");
  if (!week) return;
  const days = [...week.children].map((day) => [...day.querySelectorAll("a, button")]).filter((day) => day.length);

  const beside = (day, at, step) => {
    const there = days[days.indexOf(day) + step];
    if (!there) return null;
    const height = at.getBoundingClientRect().top;
    const away = (one) => Math.abs(one.getBoundingClientRect().top - height);
    return there.reduce((nearest, one) => (away(one) < away(nearest) ? one : nearest));
  };
  const moves = {
    ArrowUp: (day, at) => day[day.indexOf(at) - 1],
    ArrowDown: (day, at) => day[day.indexOf(at) + 1],
    ArrowLeft: (day, at) => beside(day, at, document.dir === "rtl" ? 1 : -1),
    ArrowRight: (day, at) => beside(day, at, document.dir === "rtl" ? -1 : 1),
    Home: (day) => day[0],
    End: (day) => day[day.length - 1],
  };

  week.addEventListener("keydown", (event) => {
    const at = event.target.closest("a, button");
    const day = days.find((one) => one.includes(at));
    const move = moves[event.key];
    if (!day || !move || event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    move(day, at)?.focus();
  });
})();
