// The page of a session: + and -, the running clock, and each form kept until the workbench says that it was taken, so
// that a dropped connection, a reload or a workbench started anew loses nothing; what is sent twice is written once.
const RESEND_MS = 2500;
const KEPT = "workbench-today";

const read = () => { try { return JSON.parse(localStorage.getItem(KEPT)) ?? null; } catch { return null; } };
const keep = (waiting) => {
  try { waiting ? localStorage.setItem(KEPT, JSON.stringify(waiting)) : localStorage.removeItem(KEPT); } catch { /* none */ }
};

// The same on the page of a phone, where forms go the way of all forms.
export const enliven = (el) => {
  for (const button of el.querySelectorAll("button[data-of]")) {
    button.onclick = () => {
      const field = button.form.elements[button.dataset.of];
      field.value = Math.max(0, (parseInt(field.value, 10) || 0) + Number(button.dataset.by));
    };
  }
  const failed = el.querySelector("input[name=failed]");
  const left = el.querySelector("fieldset.left");
  const grey = () => { if (left && failed) left.disabled = failed.checked; };
  if (failed) failed.onchange = grey;
  grey();
  const other = el.querySelector("input[name=other]");
  if (other) other.oninput = () => {
    for (const load of el.querySelectorAll("input[name=load]")) load.closest("label").classList.toggle("unused", other.value.trim() !== "");
  };
  const clock = el.querySelector("button.clock");
  if (!clock) return () => {};
  const [hours, minutes, seconds] = clock.dataset.since.split(":").map(Number);
  const since = new Date();
  since.setHours(hours, minutes, seconds, 0);
  if (since > new Date()) since.setDate(since.getDate() - 1);
  let shown = "";
  const tick = () => {
    const gone = Math.round((Date.now() - since) / 1000);
    clock.hidden = gone > 1800;
    shown = `${Math.floor(gone / 60)}:${String(gone % 60).padStart(2, "0")}`;
    clock.textContent = `${shown} – start the set`;
  };
  clock.onclick = () => { clock.form.elements.rest.value = shown; clearInterval(ticking); clock.textContent = `${shown} rested`; };
  const ticking = setInterval(tick, 1000);
  tick();
  return () => clearInterval(ticking);
};

const render = ({ model, el }) => {
  let stop = () => {};
  let waiting = read();
  let number = 0;
  const told = document.createElement("p");
  told.className = "waiting";
  told.setAttribute("role", "status");
  told.hidden = true;
  const page = document.createElement("div");
  el.append(told, page);

  const send = () => {
    if (!waiting) return;
    try { model.send({ form: waiting, number }); } catch { /* sent again below */ }
  };
  const entered = () => (page.querySelector(".today")?.dataset.entered ?? "").split(" ");
  const draw = () => {
    stop();
    const open = [...page.querySelectorAll("details[open]")].map((one) => one.id);
    page.innerHTML = model.get("html");
    for (const id of open) page.querySelector(`#${id}`)?.setAttribute("open", "");
    stop = enliven(page);
    if (waiting?.do === "set" && entered().includes(waiting.entry)) { waiting = null; keep(null); told.hidden = true; }
  };
  const submit = (event) => {
    event.preventDefault();
    if (waiting) return; // one at a time: a second tap is no second set
    waiting = Object.fromEntries(new FormData(event.target));
    number += 1;
    keep(waiting.do === "set" ? waiting : null);
    send();
  };
  const heard = (answer) => {
    if (answer.taken === undefined) return;
    waiting = null;
    keep(null);
    told.hidden = true;
  };
  const again = setInterval(() => {
    if (!waiting) return;
    told.hidden = false;
    told.textContent = "Not in the log yet: kept here, and sent again until the workbench has it.";
    send();
  }, RESEND_MS);
  page.addEventListener("submit", submit);
  model.on("change:html", draw);
  model.on("msg:custom", heard);
  draw();
  send(); // what was typed before a reload
  return () => { stop(); clearInterval(again); model.off("change:html", draw); model.off("msg:custom", heard); };
};
export default { render };

if (document.body.classList.contains("workbench-phone")) enliven(document);
