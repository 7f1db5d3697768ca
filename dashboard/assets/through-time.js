// Lays a slider of the browser's own into its place: dash's input of that type throws, and its slider tells a reader no name.
(function () {
  "use strict";

  // A finger on the way is not asked for each hour that it passes.
  const RESTS_MS = 120;

  function lay(rail, reach) {
    const slider = document.createElement("input");
    Object.assign(slider, { id: reach.slider, type: "range", min: reach.first, max: reach.last, step: 1, value: 0 });
    let resting = 0;
    slider.addEventListener("input", () => {
      clearTimeout(resting);
      resting = setTimeout(() => window.dash_clientside.set_props(reach.store, { data: Number(slider.value) }), RESTS_MS);
    });
    rail.replaceChildren(slider);
  }

  // A page that loads its charts puts its elements up late, and the store speaks earlier.
  function begin(reach, tries) {
    const rail = document.getElementById(reach.rail);
    if (rail) {
      lay(rail, reach);
    } else if (tries > 0) {
      setTimeout(() => begin(reach, tries - 1), 50);
    }
  }

  window.dash_clientside = window.dash_clientside || {};
  window.dash_clientside.through_time = {
    lay: function (reach) {
      if (reach) {
        begin(reach, 200);
      }
      return window.dash_clientside.no_update;
    },
  };
})();
