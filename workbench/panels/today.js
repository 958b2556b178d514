// The page of a session: + and -, the running clock, and each form kept until the workbench says that it was taken, so
// that a dropped connection, a reload or a workbench started anew loses nothing; what is sent twice is written once.
const RESEND_MS = 2500;
const KEPT = "workbench-today";
// A second tap of a double one comes sooner than this, and finds the next set in the place of the last.
const DOUBLE_MS = 600;

const read = (name) => { try { return JSON.parse(localStorage.getItem(`${KEPT} ${name}`)); } catch { return null; } };
const keep = (name, value) => {
  try {
    if (value) localStorage.setItem(`${KEPT} ${name}`, JSON.stringify(value));
    else localStorage.removeItem(`${KEPT} ${name}`);
  } catch { /* a browser that keeps nothing: the page still works */ }
};
const fill = (form, values) => {
  for (const field of form?.querySelectorAll("input:not([type=hidden])") ?? []) {
    if (field.type === "radio" || field.type === "checkbox") field.checked = values[field.name] === field.value;
    else if (field.name in values) field.value = values[field.name];
  }
};

// When "Set done" was pressed, by this device's clock: between two presses lie the rest and the set. A press that was
// refused, or taken back, stays the press of its set; what another device sent in between leaves the rest unknown.
const pressed = (el) => {
  const { session, entered } = el.querySelector(".today").dataset;
  const [name, before] = [`pressed ${session}`, entered.split(" ").pop()];
  const last = () => read(name);
  const since = () => (before && last()?.entry === before ? last().at : null);
  const press = (form) => {
    const { entry, between } = form.elements;
    if (last()?.entry !== entry.value) {
      keep(name, { entry: entry.value, at: Date.now(), between: since() ? (Date.now() - since()) / 1000 : "" });
    }
    between.value = last()?.between ?? "";
  };
  return { since, press };
};

// What comes next, or why something was not taken, is where the eye and the keyboard are; no field is, for on a phone
// that would open its keyboard.
const lookAt = (node) => {
  if (!node) return;
  node.focus({ preventScroll: true });
  const { top, bottom } = node.getBoundingClientRect();
  if (top < 0 || bottom > window.innerHeight / 2) node.scrollIntoView({ block: "start" });
};

// The same on the page of a phone, where forms go the way of all forms.
export const enliven = (el) => {
  for (const button of el.querySelectorAll("button[data-of]")) {
    button.onclick = () => {
      const field = button.form.elements[button.dataset.of];
      field.value = Math.max(0, (parseInt(field.value, 10) || 0) + Number(button.dataset.by));
    };
  }
  const main = el.querySelector("button.main");
  // The key that puts a phone's keyboard away is no word that the set is done.
  for (const field of el.querySelectorAll("form.set input:not([type=hidden])")) {
    field.onkeydown = (event) => { if (event.key === "Enter") { event.preventDefault(); field.blur(); main.focus(); } };
  }
  if (main) { main.disabled = true; setTimeout(() => { main.disabled = false; }, DOUBLE_MS); }
  const failed = el.querySelector("input[name=failed]");
  const left = el.querySelector("fieldset.left");
  const grey = () => { if (left && failed) left.disabled = failed.checked; };
  if (failed) failed.onchange = grey;
  grey();
  const other = el.querySelector("input[name=other]");
  const unused = () => {
    for (const load of el.querySelectorAll("input[name=load]")) load.closest("label").classList.toggle("unused", other.value.trim() !== "");
  };
  if (other) { other.oninput = unused; unused(); }
  const form = el.querySelector("form.set");
  if (!form) return () => {};
  const presses = pressed(el);
  form.onsubmit = () => presses.press(form);
  const [clock, since] = [el.querySelector("button.clock"), presses.since()];
  if (!clock || !since) return () => {};
  form.elements.rest.placeholder = "as counted";
  let shown = "";
  const tick = () => {
    const gone = Math.round((Date.now() - since) / 1000);
    clock.hidden = gone > 1800;
    shown = `${Math.floor(gone / 60)}:${String(gone % 60).padStart(2, "0")}`;
    clock.textContent = `rested ${shown} – start`;
  };
  clock.onclick = () => { form.elements.rest.value = shown; clearInterval(ticking); clock.textContent = `rested ${shown}`; };
  const ticking = setInterval(tick, 1000);
  tick();
  return () => clearInterval(ticking);
};

const render = ({ model, el }) => {
  let stop = () => {};
  let session = "";
  let waiting = null; // a form that the workbench has not yet said it took
  let number = 0;
  const told = document.createElement("p");
  told.className = "waiting";
  told.setAttribute("role", "status");
  told.hidden = true;
  const page = document.createElement("div");
  el.append(told, page);

  const today = () => page.querySelector(".today");
  const setForm = () => page.querySelector("form.set");
  const send = () => { try { model.send({ form: waiting, number }); } catch { /* sent again below */ } };
  const taken = () => { waiting = null; told.hidden = true; keep(session, null); };
  const draw = () => {
    stop();
    const [before, sent] = [today()?.dataset.entry, waiting];
    const open = [...page.querySelectorAll("details[open]")].map((one) => one.id);
    page.innerHTML = model.get("html");
    for (const id of open) page.querySelector(`#${id}`)?.setAttribute("open", "");
    if (today() && session !== today().dataset.session) {
      session = today().dataset.session;
      waiting = read(session); // typed before a reload
    }
    if (waiting?.do === "set" && today()?.dataset.entered.split(" ").includes(waiting.entry)) taken();
    const draft = read("draft");
    if (draft && draft.entry === setForm()?.elements.entry.value) fill(setForm(), draft);
    stop = enliven(page);
    if (sent && page.querySelector(".trouble:not(:empty)")) lookAt(page.querySelector(".trouble"));
    else if (sent && before !== today()?.dataset.entry) lookAt(page.querySelector(".next h3"));
  };
  const submit = (event) => {
    event.preventDefault();
    if (waiting) return; // one at a time: a second tap is no second set
    waiting = Object.fromEntries(new FormData(event.target));
    number += 1;
    if (waiting.do === "set") keep(session, waiting);
    send();
  };
  const note = () => { if (setForm()) keep("draft", Object.fromEntries(new FormData(setForm()))); };
  const heard = (answer) => {
    if (answer.taken !== number || !waiting) return;
    if (answer.refused) { fill(setForm(), waiting); stop(); stop = enliven(page); }
    else keep("draft", null);
    taken();
  };
  const again = setInterval(() => {
    if (!waiting) return;
    const unseen = told.hidden;
    (setForm() ?? el).append(told); // under the button that was pressed
    told.hidden = false;
    told.textContent = "Not in the log yet: kept here, and sent again until the workbench has it.";
    if (unseen) told.scrollIntoView({ block: "nearest" });
    send();
  }, RESEND_MS);
  page.addEventListener("submit", submit);
  page.addEventListener("input", note);
  page.addEventListener("click", note);
  model.on("change:html", draw);
  model.on("msg:custom", heard);
  draw();
  if (waiting) send();
  return () => { stop(); clearInterval(again); model.off("change:html", draw); model.off("msg:custom", heard); };
};
export default { render };

if (document.body.classList.contains("workbench-phone")) enliven(document);
