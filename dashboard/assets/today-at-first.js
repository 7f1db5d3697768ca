// Takes off what stood there at first, when dash shows the same; what was opened in it stays open.
(function () {
  "use strict";

  const first = document.querySelector(".at-first");
  if (!first) return;

  // Its cuts are drawn by what stands beside them.
  for (const told of first.querySelectorAll("template[data-cut]")) {
    window.dash_clientside.cut.lay_out(told.previousElementSibling, JSON.parse(told.dataset.cut));
  }

  const entry = document.getElementById("react-entry-point");
  const arrival = new MutationObserver(() => {
    if (!entry.querySelector("main .today, main .plain, main .one-bed")) return;
    arrival.disconnect();
    const opened = Array.from(first.querySelectorAll("details"), (one) => one.open);
    entry.querySelectorAll("main details").forEach((one, place) => {
      one.open = Boolean(opened[place]);
    });
    first.remove();
  });
  arrival.observe(entry, { childList: true, subtree: true });
})();
