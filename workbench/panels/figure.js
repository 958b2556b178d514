// One plotly.js for the whole page: its source comes once from the kernel, so nothing is asked of any network.
const loadPlotly = async (library) => {
  const address = URL.createObjectURL(new Blob([library.get("source")], { type: "text/javascript" }));
  const script = document.createElement("script");
  await new Promise((loaded, failed) => {
    Object.assign(script, { src: address, onload: loaded, onerror: failed });
    document.head.append(script);
  });
  URL.revokeObjectURL(address);
  return window.Plotly;
};

// A figure comes in light colours; on a dark page each is put into its dark one.
const inColours = (text, dark) => {
  if (document.body.dataset.jpThemeLight !== "false") return text;
  for (const [light, instead] of Object.entries(dark)) text = text.replaceAll(light, instead);
  return text;
};

// In a page title and footnote are text above and below the picture: from the page's edge, and wrapped to any width.
const TITLE_PX = 34;
const [FOOTNOTE_LINE_PX, FOOTNOTE_GAP_PX] = [15, 8];
const plain = (text) => new DOMParser().parseFromString(text.replaceAll("<br>", " "), "text/html").body.textContent;
const takeWords = (layout) => {
  const title = layout.title?.text ?? "";
  const footnote = layout.annotations?.find(({ name }) => name === "footnote")?.text ?? "";
  layout.annotations = layout.annotations?.filter(({ name }) => name !== "footnote");
  delete layout.title;
  const above = title ? TITLE_PX : 0;
  const below = footnote ? FOOTNOTE_LINE_PX * footnote.split("<br>").length + FOOTNOTE_GAP_PX : 0;
  layout.height -= above + below;
  layout.margin.t -= above;
  layout.margin.b -= below;
  if (layout.legend?.yref === "container") layout.legend.y = 1;
  return [plain(title), plain(footnote)];
};

// A figure out of sight waits until its page has been at rest for so long: what is seen follows a drag, and key presses.
const REST_MS = 1000;

const render = ({ model, el }) => {
  const plot = document.createElement("div");
  plot.className = "workbench-figure";
  const [title, note] = ["workbench-figure-title", "workbench-note"].map((name) => {
    const line = document.createElement("p");
    line.className = name;
    line.setAttribute("aria-hidden", "true"); // it is part of what the figure says
    return line;
  });
  el.append(title, plot, note);
  let drawn = ""; // what is there: the figure in its colours, and how wide it is
  let width = 0, seen = true, waiting = 0;
  let drawing = Promise.resolve();
  const draw = async () => {
    const library = await model.widget_manager.get_model(model.get("library").replace("IPY_MODEL_", ""));
    const Plotly = await (window.workbenchPlotly ??= loadPlotly(library));
    const text = inColours(model.get("figure"), library.get("dark"));
    plot.hidden = !text;
    if (!text) {
      Plotly.purge(plot);
      drawn = title.textContent = note.textContent = "";
      return;
    }
    width = plot.clientWidth;
    if (!width || drawn === width + text) return; // without a width it is drawn as soon as it has one
    const { data, layout } = JSON.parse(text);
    [title.textContent, note.textContent] = takeWords(layout);
    await Plotly.react(plot, data, { ...layout, width: Math.max(width, layout.meta?.least_width ?? 0) }, { displayModeBar: false });
    drawn = width + text;
    plot.classList.toggle("workbench-again");
    plot.setAttribute("role", "img");
    plot.setAttribute("aria-label", model.get("said"));
  };
  const now = () => {
    clearTimeout(waiting);
    waiting = 0;
    drawing = drawing.then(draw, draw);
  };
  const redraw = () => {
    clearTimeout(waiting);
    if (seen) now();
    else waiting = setTimeout(now, REST_MS);
  };
  const sight = new IntersectionObserver((changes) => {
    seen = changes.at(-1).isIntersecting;
    if (seen && waiting) now();
  });
  const sizes = new ResizeObserver(() => { if (plot.clientWidth !== width) redraw(); });
  model.on("change:figure", redraw);
  sight.observe(el);
  sizes.observe(plot);
  const theme = new MutationObserver(redraw);
  theme.observe(document.body, { attributeFilter: ["data-jp-theme-light"] });
  window.addEventListener("beforeprint", now);
  redraw();
  return () => {
    clearTimeout(waiting);
    sight.disconnect();
    sizes.disconnect();
    theme.disconnect();
    window.removeEventListener("beforeprint", now);
    model.off("change:figure", redraw);
    window.workbenchPlotly?.then((Plotly) => Plotly.purge(plot));
  };
};
export default { render };
