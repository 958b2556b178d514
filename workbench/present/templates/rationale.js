// Every figure lies in the page as data, right behind its place; it is drawn when the person it belongs to is first
// shown, since a hidden place has no width to draw into.
"use strict";
(() => {
  const draw = (root) => {
    for (const place of root.querySelectorAll(".figure")) {
      if (place.dataset.drawn || place.closest("[hidden]")) continue;
      place.dataset.drawn = "yes";
      const figure = JSON.parse(place.nextElementSibling.textContent);
      Plotly.newPlot(place, figure.data, figure.layout, { responsive: true, displaylogo: false,
        modeBarButtonsToRemove: ["sendDataToCloud", "lasso2d", "select2d"] });
    }
  };
  const people = [...document.querySelectorAll(".person")];
  const choice = document.getElementById("person");
  const show = () => {
    for (const one of people) one.hidden = choice !== null && one.dataset.person !== choice.value;
    draw(document);
  };
  if (choice) choice.addEventListener("change", show);
  show();
})();
