// Dash calls the labels of a choice options of a list box, which labels may not be (ARIA in HTML). The radio buttons inside
// say all of it by themselves, so the labels are left to be labels. The field of a picture has no label at all.
(function () {
  "use strict";

  const LIST = ".dash-options-list";
  const ITEM = ".dash-options-list-option";

  function mend(root) {
    for (const one of root.querySelectorAll('.of-picture input[type="file"]:not([aria-label])')) {
      one.setAttribute("aria-label", "Picture");
    }
    for (const one of root.querySelectorAll(`${LIST}, ${ITEM}`)) {
      for (const name of ["role", "aria-selected", "aria-multiselectable", "aria-activedescendant"]) {
        if (one.hasAttribute(name)) one.removeAttribute(name);
      }
    }
  }

  new MutationObserver(() => mend(document)).observe(document.documentElement, {
    subtree: true,
    childList: true,
    attributes: true,
    attributeFilter: ["role", "aria-selected"],
  });
})();
