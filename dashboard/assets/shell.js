// The frame of every page: which word is the current one, light or dark, and whether the garden computer answers.
(function () {
  "use strict";

  const SILENT_MS = 12000;
  let heardAt = new Date();

  function strip(sentence) {
    const place = document.getElementById("cut-off");
    if (!place) return;
    place.hidden = !sentence;
    place.textContent = sentence || "";
  }

  function heard() {
    heardAt = new Date();
    strip("");
  }

  function lost() {
    const at = heardAt.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
    const today = heardAt.toDateString() === new Date().toDateString();
    const day = today ? "today" : heardAt.toLocaleDateString("en-GB", { weekday: "long" });
    strip(`This page cannot reach the garden computer. What you see is from ${at} ${day}. It keeps trying.`);
  }

  function failed() {
    strip("The garden computer could not work this page out. No reading is lost by that. Its log says why; load the page again.");
  }

  function judge(response) {
    if (response.status === 401) window.location.assign("/sign-in?next=" + encodeURIComponent(window.location.pathname));
    else if ([502, 503, 504].includes(response.status)) lost();
    else if (response.status >= 500) failed();
    else heard();
  }

  // Dash asks for itself and for every update through fetch, so this is where a lost computer shows first.
  const fetchAsBefore = window.fetch;
  window.fetch = function (...request) {
    const answer = fetchAsBefore.apply(this, request);
    if (String(request[0] && request[0].url ? request[0].url : request[0]).includes("/_dash-")) {
      const patience = window.setTimeout(lost, SILENT_MS);
      answer.then(judge, (error) => error.name === "AbortError" || lost()).finally(() => window.clearTimeout(patience));
    }
    return answer;
  };
  window.addEventListener("offline", lost);

  function here(path) {
    const current = path.startsWith("/bed/") ? ["/beds", path] : [path];
    const words = Array.from(document.querySelectorAll(".bar .word"));
    return words.map((word) => {
      const isHere = current.includes(new URL(word.href).pathname);
      if (isHere) word.setAttribute("aria-current", "page");
      else word.removeAttribute("aria-current");
      return isHere ? "word here" : "word";
    });
  }

  // A phone keeps what was last known, for when it cannot reach the garden computer. Browsers allow that over TLS and on this
  // computer only.
  if ("serviceWorker" in navigator) {
    const ask = () => navigator.serviceWorker.ready.then((worker) => worker.active.postMessage("keep"));
    navigator.serviceWorker.register("/service-worker.js").then(ask, () => undefined);
    window.setInterval(ask, 300000);
  }

  const prefersDark = window.matchMedia("(prefers-color-scheme: dark)");

  function mode(storeId) {
    const now = () => (prefersDark.matches ? "dark" : "light");
    prefersDark.onchange = () => window.dash_clientside.set_props(storeId, { data: now() });
    return now();
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, { shell: { here, mode } });
})();
