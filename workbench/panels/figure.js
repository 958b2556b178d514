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

// In a page the footnote is text below the picture: from the page's edge, and wrapped to any width.
const FOOTNOTE_LINE_PX = 15;
const takeFootnote = (layout) => {
  const footnote = layout.annotations?.find(({ name }) => name === "footnote");
  if (!footnote) return "";
  layout.annotations = layout.annotations.filter((one) => one !== footnote);
  const room = FOOTNOTE_LINE_PX * footnote.text.split("<br>").length;
  layout.height -= room;
  layout.margin.b -= room;
  return new DOMParser().parseFromString(footnote.text.replaceAll("<br>", " "), "text/html").body.textContent;
};

const render = ({ model, el }) => {
  const plot = document.createElement("div");
  plot.className = "workbench-figure";
  const note = document.createElement("p");
  note.className = "workbench-note";
  note.setAttribute("aria-hidden", "true"); // it is part of what the figure says
  el.append(plot, note);
  let width = 0;
  let drawing = Promise.resolve();
  const draw = async () => {
    const library = await model.widget_manager.get_model(model.get("library").replace("IPY_MODEL_", ""));
    const Plotly = await (window.workbenchPlotly ??= loadPlotly(library));
    const text = model.get("figure");
    plot.hidden = !text;
    if (!text) { Plotly.purge(plot); note.textContent = ""; return; }
    width = plot.clientWidth;
    if (!width) return; // it is drawn as soon as it is seen
    const { data, layout } = JSON.parse(inColours(text, library.get("dark")));
    note.textContent = takeFootnote(layout);
    await Plotly.react(plot, data, { ...layout, width: Math.max(width, layout.meta?.least_width ?? 0) }, { displayModeBar: false });
    plot.setAttribute("role", "img");
    plot.setAttribute("aria-label", model.get("said"));
  };
  const redraw = () => { drawing = drawing.then(draw, draw); };
  const sizes = new ResizeObserver(() => { if (plot.clientWidth !== width) redraw(); });
  model.on("change:figure", redraw);
  sizes.observe(plot);
  const theme = new MutationObserver(redraw);
  theme.observe(document.body, { attributeFilter: ["data-jp-theme-light"] });
  redraw();
  return () => {
    sizes.disconnect();
    theme.disconnect();
    model.off("change:figure", redraw);
    window.workbenchPlotly?.then((Plotly) => Plotly.purge(plot));
  };
};
export default { render };
