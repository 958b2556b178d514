// One plotly.js for the whole page: its source comes once from the kernel, so nothing is asked of any network.
const loadPlotly = async (model) => {
  const library = await model.widget_manager.get_model(model.get("library").replace("IPY_MODEL_", ""));
  const address = URL.createObjectURL(new Blob([library.get("source")], { type: "text/javascript" }));
  const script = document.createElement("script");
  await new Promise((loaded, failed) => {
    Object.assign(script, { src: address, onload: loaded, onerror: failed });
    document.head.append(script);
  });
  URL.revokeObjectURL(address);
  return window.Plotly;
};

const render = ({ model, el }) => {
  const plot = document.createElement("div");
  plot.className = "workbench-figure";
  el.append(plot);
  let width = 0;
  let drawing = Promise.resolve();
  const draw = async () => {
    const Plotly = await (window.workbenchPlotly ??= loadPlotly(model));
    const text = model.get("figure");
    plot.hidden = !text;
    if (!text) { Plotly.purge(plot); return; }
    width = plot.clientWidth;
    if (!width) return; // it is drawn as soon as it is seen
    const { data, layout } = JSON.parse(text);
    await Plotly.react(plot, data, { ...layout, width }, { displayModeBar: false });
    plot.setAttribute("role", "img");
    plot.setAttribute("aria-label", model.get("said"));
  };
  const redraw = () => { drawing = drawing.then(draw, draw); };
  const sizes = new ResizeObserver(() => { if (plot.clientWidth !== width) redraw(); });
  model.on("change:figure", redraw);
  sizes.observe(plot);
  redraw();
  return () => {
    sizes.disconnect();
    model.off("change:figure", redraw);
    window.workbenchPlotly?.then((Plotly) => Plotly.purge(plot));
  };
};
export default { render };
