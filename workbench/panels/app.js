// Landmarks and page titles for screen readers, and a word when the kernel behind the page is gone.
const ASK_MS = 5000;
const PATIENCE_MS = 20000;

const kernelState = async () => {
  const config = document.getElementById("jupyter-config-data");
  const { baseUrl, kernelId } = JSON.parse(config?.textContent ?? "{}");
  if (!kernelId) return "unknown";
  try {
    const answer = await fetch(`${baseUrl}api/kernels/${kernelId}`);
    return answer.ok ? (await answer.json()).execution_state : "gone";
  } catch { return "no server"; }
};

// Only the app's own page has this choice; in JupyterLab its theme decides.
const chooseLook = () => {
  const label = document.createElement("label");
  label.className = "workbench-look";
  label.textContent = "Look";
  const choice = document.createElement("select");
  for (const [value, words] of [["", "as this machine"], ["light", "light"], ["dark", "dark"]]) choice.add(new Option(words, value));
  choice.value = localStorage.getItem("workbench-look") ?? "";
  choice.onchange = () => {
    if (choice.value) localStorage.setItem("workbench-look", choice.value);
    else localStorage.removeItem("workbench-look");
    window.workbenchLook();
  };
  label.append(choice);
  return label;
};

// Seen on a phone only, where the list of pages would fill the screen.
const openPages = () => {
  const button = document.createElement("button");
  button.className = "workbench-pages";
  button.textContent = "Pages";
  const show = (open) => button.setAttribute("aria-expanded", String(open));
  button.onclick = () => show(button.getAttribute("aria-expanded") === "false");
  show(false);
  return button;
};

const render = ({ model, el }) => {
  const gone = document.createElement("div");
  gone.className = "workbench-gone";
  gone.setAttribute("role", "alert");
  gone.hidden = true;
  el.append(gone);

  const tell = (text, reload) => {
    gone.hidden = false;
    gone.textContent = text;
    if (!reload) return;
    const button = document.createElement("button");
    button.textContent = "Go on";
    button.onclick = () => window.location.reload();
    gone.append(" ", button);
  };
  let heard = Date.now();
  model.on("msg:custom", () => { heard = Date.now(); gone.hidden = true; });
  const asking = setInterval(async () => {
    let lost = false;
    try { model.send("there?"); } catch { lost = true; } // the kernel was started anew and knows nothing of the page
    if (!lost && Date.now() - heard < PATIENCE_MS) return;
    const state = await kernelState();
    if (!lost && (state === "busy" || state === "unknown")) return;
    if (state === "no server") tell("The workbench was ended. All that was entered lies in the gym's folder: open it again.");
    else tell("The workbench behind this page was started anew. All that was entered is kept.", true);
  }, ASK_MS);

  const mark = () => {
    const app = el.closest(".workbench-app");
    if (!app) { waiting = requestAnimationFrame(mark); return; }
    const steps = app.querySelector(".workbench-steps");
    if (document.body.dataset.voila) {
      document.title = `${model.get("page")} – Workbench`;
      if (!steps.querySelector(".workbench-look")) steps.append(chooseLook());
    }
    if (!steps.querySelector(".workbench-pages")) steps.prepend(openPages());
    steps.setAttribute("role", "navigation");
    steps.setAttribute("aria-label", "Pages");
    app.querySelector(".workbench-place")?.setAttribute("role", "main");
    for (const step of app.querySelectorAll(".workbench-steps .widget-button")) {
      if (step.classList.contains("workbench-here")) step.setAttribute("aria-current", "page");
      else step.removeAttribute("aria-current");
    }
  };
  let waiting = requestAnimationFrame(mark);
  const turn = () => {
    const app = el.closest(".workbench-app");
    app?.scrollIntoView();
    app?.querySelector(".workbench-pages")?.setAttribute("aria-expanded", "false");
    // The keyboard goes on at the top of the page that was turned to.
    const heading = app?.querySelector(".workbench-place h1");
    heading?.setAttribute("tabindex", "-1");
    heading?.focus({ preventScroll: true });
    waiting = requestAnimationFrame(mark);
  };
  model.on("change:page", turn);
  return () => { clearInterval(asking); cancelAnimationFrame(waiting); model.off("change:page", turn); };
};
export default { render };
