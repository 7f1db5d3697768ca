// Puts the two halves of a cut together: the drawing that stays is fetched once by its address, what changes is laid into it.
// The server draws both from numbers alone; no word of the garden file is in them.
(function () {
  "use strict";

  const stills = new Map();

  function still(address) {
    if (!stills.has(address)) {
      const answer = fetch(address, { credentials: "same-origin" }).then((response) => {
        if (!response.ok) {
          throw new Error("the picture of a bed did not come: " + response.status);
        }
        return response.text();
      });
      answer.catch(() => stills.delete(address));
      stills.set(address, answer);
    }
    return stills.get(address);
  }

  function lay(picture) {
    picture.firstElementChild.setAttribute("class", picture.cut.known);
    picture.setAttribute("aria-label", picture.cut.words);
    for (const [name, content] of Object.entries(picture.cut.now)) {
      for (const place of picture.querySelectorAll('[data-now="' + name + '"]')) {
        if (place.innerHTML !== content) {
          place.innerHTML = content;
        }
      }
    }
  }

  async function draw(picture, cut) {
    picture.cut = cut;
    const svg = await still(cut.still);
    if (picture.cut.still !== cut.still) {
      return;
    }
    if (picture.drawn !== cut.still) {
      picture.innerHTML = svg;
      picture.drawn = cut.still;
    }
    lay(picture);
  }

  // A page that loads its charts puts its elements up late, and the store speaks earlier: then what it said waits here.
  const waiting = new Map();
  const arrivals = new MutationObserver(() => {
    for (const [name, cut] of waiting) {
      begin(name, cut);
    }
    if (waiting.size === 0) {
      arrivals.disconnect();
    }
  });

  function begin(name, cut) {
    const picture = document.getElementById(name);
    if (picture) {
      waiting.delete(name);
      draw(picture, cut).catch((error) => console.warn(error.message));
    } else {
      waiting.set(name, cut);
      arrivals.observe(document.body, { childList: true, subtree: true });
    }
  }

  window.dash_clientside = window.dash_clientside || {};
  window.dash_clientside.cut = {
    lay_out: function (picture, cut) {
      draw(picture, cut).catch((error) => console.warn(error.message));
    },
    draw: function (cut, id) {
      if (cut) {
        begin(JSON.stringify(Object.fromEntries(Object.entries(id).sort())), cut);
      }
      return window.dash_clientside.no_update;
    },
  };
})();
