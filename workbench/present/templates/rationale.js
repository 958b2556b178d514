// Every figure lies in the page as data, right behind its place; it is drawn when it is first seen, since a place that is
// hidden or folded away has no width to draw into.
"use strict";
(() => {
  // Figures come in light colours; on a dark screen each is put into its dark one, on paper never.
  const darkForLight = {{ dark_for_light | tojson }};
  const screenIsDark = matchMedia("(prefers-color-scheme: dark)");
  const PAPER = { width: 690, height: 880 }; // px; what A4 and Letter both hold between their margins, and a heading
  const figureOf = (place, { dark, paper }) => {
    let text = place.nextElementSibling.textContent;
    if (dark) for (const [light, instead] of Object.entries(darkForLight)) text = text.replaceAll(light, instead);
    const figure = JSON.parse(text);
    const least = figure.layout.meta?.least_width;
    if (paper) figure.layout.width = Math.max(PAPER.width, least ?? 0);
    else if (least > place.clientWidth) figure.layout.width = least; // it scrolls
    const { width, height } = figure.layout;
    place.style.zoom = paper ? Math.min(1, PAPER.width / width, PAPER.height / height) : 1;
    return figure;
  };
  const draw = (look) => {
    for (const place of document.querySelectorAll(".figure")) {
      if (place.clientWidth === 0 || place.dataset.drawn === JSON.stringify(look)) continue;
      place.dataset.drawn = JSON.stringify(look);
      const figure = figureOf(place, look);
      Plotly.react(place, figure.data, figure.layout, { responsive: true, displaylogo: false,
        modeBarButtonsToRemove: ["sendDataToCloud", "lasso2d", "select2d"] });
    }
  };
  let printing = false; // what opens for paper says so later, and shall not be drawn for the screen then
  const onScreen = () => { if (!printing) draw({ dark: screenIsDark.matches, paper: false }); };
  const people = [...document.querySelectorAll(".person")];
  const choice = document.getElementById("person");
  const show = () => {
    for (const one of people) one.hidden = choice !== null && one.dataset.person !== choice.value;
    onScreen();
  };
  if (choice) choice.addEventListener("change", show);
  for (const one of document.querySelectorAll("details")) one.addEventListener("toggle", onScreen);
  screenIsDark.addEventListener("change", onScreen);
  // Paper cannot be pressed: all but code is opened for it, and closed again.
  let opened = [];
  addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("details:not([open]):not(.code)")];
    for (const one of opened) one.open = true;
    printing = true;
    draw({ dark: false, paper: true });
  });
  addEventListener("afterprint", () => {
    for (const one of opened) one.open = false;
    printing = false;
    onScreen();
  });
  show();
})();
