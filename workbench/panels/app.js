// Landmarks and page titles for screen readers, and a word when the kernel behind the page is gone.
const ASK_MS = 5000;
const PATIENCE_MS = 20000;
// Longer than between two questions: without an answer for so long, the kernel is at work.
const WORKING_MS = 7000;

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

  const tell = (text, { reload = false, working = false } = {}) => {
    if (!gone.hidden && gone.textContent.startsWith(text)) return; // the keyboard may be at its button
    gone.hidden = false;
    gone.classList.toggle("workbench-working", working);
    gone.textContent = text;
    if (!reload) return;
    const button = document.createElement("button");
    button.textContent = "Go on";
    button.onclick = () => window.location.reload();
    gone.append(" ", button);
  };
  let heard = Date.now();
  let idle = 0; // looks in a row at which the kernel had nothing to do, and had not answered all the same
  model.on("msg:custom", () => { heard = Date.now(); idle = 0; gone.hidden = true; });
  // Whether that can be asked: a kernel that was started anew knows nothing of the page. The first question says as well
  // that the page is shown.
  const ask = () => { try { model.send("there?"); return true; } catch { return false; } };
  ask();
  const asking = setInterval(async () => {
    const lost = !ask();
    const silent = () => Date.now() - heard;
    if (!lost && silent() < WORKING_MS) return;
    const state = await kernelState();
    if (!lost && silent() < WORKING_MS) return; // it has answered meanwhile
    if (!lost && (state === "busy" || state === "unknown")) {
      idle = 0;
      if (state === "busy") tell("Still working … What is pressed meanwhile is done after it.", { working: true });
      return;
    }
    if (!lost && (silent() < PATIENCE_MS || (state !== "gone" && state !== "no server" && ++idle < 2))) return;
    if (state === "no server") tell("The workbench was ended. All that was entered lies in the gym's folder: open it again.");
    else tell("The workbench behind this page was started anew. All that was entered is kept.", { reload: true });
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
