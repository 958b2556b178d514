// Every figure lies in the page as data, right behind its place; it is drawn when the person it belongs to is first
// shown, since a hidden place has no width to draw into.
"use strict";
(() => {
  // Figures come in light colours; on a dark screen each is put into its dark one, on paper never.
  const darkForLight = {{ dark_for_light | tojson }};
  const screenIsDark = matchMedia("(prefers-color-scheme: dark)");
  const figureOf = (place, dark) => {
    let text = place.nextElementSibling.textContent;
    if (dark) for (const [light, instead] of Object.entries(darkForLight)) text = text.replaceAll(light, instead);
    const figure = JSON.parse(text);
    const least = figure.layout.meta?.least_width;
    if (least > place.clientWidth && !matchMedia("print").matches) figure.layout.width = least; // it scrolls
    return figure;
  };
  const recolour = (dark) => {
    for (const place of document.querySelectorAll(".figure[data-drawn]")) {
      const figure = figureOf(place, dark);
      Plotly.react(place, figure.data, figure.layout);
    }
  };
  const draw = (root) => {
    for (const place of root.querySelectorAll(".figure")) {
      if (place.dataset.drawn || place.closest("[hidden]")) continue;
      place.dataset.drawn = "yes";
      const figure = figureOf(place, screenIsDark.matches);
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
  screenIsDark.addEventListener("change", (change) => recolour(change.matches));
  addEventListener("beforeprint", () => recolour(false));
  addEventListener("afterprint", () => recolour(screenIsDark.matches));
  show();
})();
