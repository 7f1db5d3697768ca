// Says how old the page of what was last known is, where the garden computer does not answer.
(function () {
  "use strict";

  const strip = document.getElementById("as-of");

  function age() {
    const seconds = (Date.now() - Number(strip.dataset.asOfMs)) / 1000;
    // A simulated garden's clock is another than the phone's: then the moment alone is told.
    if (seconds < 60 || seconds > 90 * 86400) return "";
    const [amount, unit] =
      seconds < 5400 ? [seconds / 60, "minute"] : seconds < 129600 ? [seconds / 3600, "hour"] : [seconds / 86400, "day"];
    const whole = Math.round(amount);
    return `, ${whole} ${unit}${whole === 1 ? "" : "s"} ago`;
  }

  function gone() {
    strip.textContent = `The garden computer cannot be reached. This is what it said on ${strip.dataset.said}${age()}.`;
  }

  // Its health is well or not: what counts here is that it answers, and not something before it in its place.
  fetch("/health", { cache: "no-store" })
    .then((answer) => answer.json())
    .catch(gone);
  window.addEventListener("offline", gone);
})();
