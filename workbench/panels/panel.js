// ipywidgets gives a slider's handle no name and no unit, so a screen reader says "slider, 67.5" and nothing else, and
// then the same number as text.
const put = (node, name, value) => { if (node.getAttribute(name) !== value) node.setAttribute(name, value); };

const nameControls = (controls, help) => {
  for (const slider of controls.querySelectorAll(".widget-slider, .widget-inline-hbox")) {
    const label = slider.querySelector(".widget-label");
    const readout = slider.querySelector(".widget-readout");
    for (const handle of slider.querySelectorAll(".noUi-handle")) {
      if (label) put(handle, "aria-label", label.textContent);
      if (readout) {
        put(handle, "aria-valuetext", readout.textContent);
        put(readout, "aria-hidden", "true");
      }
    }
    // The box to tick has its words behind it, and an empty label before.
    const words = label?.textContent.replaceAll("\u200b", "").trim();
    if (words) for (const field of slider.querySelectorAll("select, input")) put(field, "aria-label", words);
    for (const field of slider.querySelectorAll("select[title]:not([aria-label])")) put(field, "aria-label", field.title);
    const sentence = help[words] ?? help[label?.textContent];
    if (sentence) {
      put(slider, "data-help", sentence);
      put(label, "title", sentence);
      for (const field of slider.querySelectorAll("select, input, textarea, .noUi-handle")) {
        put(field, "title", sentence);
        put(field, "aria-description", sentence);
      }
    }
    // A readout that is typed into reads 67,5 as 67: numbers are typed into the line beside it.
    if (readout) put(readout, "contenteditable", "false");
    const typed = readout && slider.closest(".workbench-number")?.querySelector(".workbench-typed input");
    if (label && typed) put(typed, "aria-label", `${label.textContent}, typed`);
  }
  // What is wrong stands below the line that it is about: said at once, and part of what the line is called.
  for (const field of controls.querySelectorAll(".workbench-field")) {
    const said = field.querySelector(":scope > .workbench-said");
    const line = field.querySelector(":scope > .widget-inline-hbox :is(input, select, textarea)");
    if (!said || !line) continue;
    put(said, "aria-live", "polite");
    put(said, "id", `${line.id || (line.id = `field-${++fields}`)}-said`);
    put(line, "aria-describedby", said.id);
    put(line, "aria-invalid", String(field.classList.contains("workbench-wrong")));
  }
};
let fields = 0;

// Who works by keyboard is at one control. Where a redraw takes that control away, hides or disables it, the keyboard
// goes on at the one of the same name, else at the one that now stands in its place.
const PLACES = ".workbench-panel, .workbench-start";
const STOPS = "input, select, textarea, button, summary, a[href], [tabindex='0']";
const canBeAt = (node) => node.isConnected && !node.disabled && node.getClientRects().length > 0;
const nameOf = (node) => node.getAttribute("aria-label") ?? node.labels?.[0]?.textContent ?? node.textContent;
const keepPlace = () => {
  let last = null;
  const stops = (place) => [...place.querySelectorAll(STOPS)].filter(canBeAt);
  document.addEventListener("focusin", ({ target }) => {
    const place = target.closest(PLACES);
    last = place && { node: target, place, name: nameOf(target), at: stops(place).indexOf(target) };
  });
  document.addEventListener("pointerdown", () => { last = null; });
  const look = () => {
    if (!last || canBeAt(last.node) || ![document.body, last.node].includes(document.activeElement)) return;
    const found = last.place.isConnected ? stops(last.place) : [];
    const alike = found.filter((node) => nameOf(node) === last.name);
    (alike[0] ?? found[Math.min(last.at, found.length - 1)])?.focus();
  };
  // Once a frame: to ask where a node stands lays out the page, which a redraw changes many times before it is seen.
  let frame = 0;
  const lookSoon = () => { frame ||= requestAnimationFrame(() => { frame = 0; look(); }); };
  new MutationObserver(() => { if (last) lookSoon(); }).observe(
    document.body, { childList: true, subtree: true, attributeFilter: ["style", "class", "disabled"] },
  );
  return true;
};

// What scrolls sideways can be reached and moved by the keyboard.
const letScroll = (panel) => {
  for (const place of panel.querySelectorAll(".workbench-table .widget-html-content, .workbench-figure")) {
    const more = place.scrollWidth > place.clientWidth;
    place.toggleAttribute("data-more", more);
    if (!more) { place.removeAttribute("tabindex"); continue; }
    put(place, "tabindex", "0");
    if (place.classList.contains("workbench-figure")) continue; // it has its role and its words
    put(place, "role", "region");
    put(place, "aria-label", place.querySelector("caption")?.textContent ?? "table");
  }
};

// What folds is opened by the keyboard too, and says whether it is open; ipywidgets makes its heading for the mouse alone.
const FOLD = ".jupyter-widget-Collapse-header";
const nameFolds = (panel) => {
  for (const heading of panel.querySelectorAll(FOLD)) {
    put(heading, "role", "button");
    put(heading, "tabindex", "0");
    put(heading, "aria-label", heading.textContent.trim());
    put(heading, "aria-expanded", String(heading.parentElement.classList.contains("jupyter-widget-Collapse-open")));
  }
};
const foldByKey = (event) => {
  // A panel inside another has been heard already.
  if (event.defaultPrevented || !["Enter", " "].includes(event.key) || !event.target.matches(FOLD)) return;
  event.preventDefault();
  event.target.click();
};

// The sentence of help stands below the control that the keyboard is at. It goes when the mouse is up again: what moves
// while a button is pressed down slips from under the mouse.
const showHelp = () => {
  let helped = null, down = false;
  const turn = () => {
    const at = document.activeElement;
    const wanted = at?.matches(":focus-visible") ? at.closest(".workbench-panel [data-help]") : null;
    if (down || wanted === helped) return;
    helped?.classList.remove("workbench-helped");
    wanted?.classList.add("workbench-helped");
    helped = wanted;
  };
  const later = () => setTimeout(turn);
  for (const moved of ["focusin", "focusout"]) document.addEventListener(moved, later);
  document.addEventListener("pointerdown", () => { down = true; }, true);
  for (const up of ["pointerup", "pointercancel"]) document.addEventListener(up, () => { down = false; later(); }, true);
  return true;
};

// A panel that has been at work for so long is late: what stands there is then shown to be of an earlier choice.
const LATE_MS = 300;
const seeLateness = (panel) => {
  let waiting = 0;
  const observer = new MutationObserver(() => {
    if (panel.classList.contains("workbench-busy")) {
      waiting ||= setTimeout(() => panel.classList.add("workbench-late"), LATE_MS);
    } else if (waiting) { // to take away what is not there is a change, too
      clearTimeout(waiting);
      waiting = 0;
      panel.classList.remove("workbench-late");
    }
  });
  observer.observe(panel, { attributeFilter: ["class"] });
  return observer;
};

const render = ({ model, el }) => {
  const help = model.get("help");
  window.workbenchKeepsPlace ??= keepPlace();
  window.workbenchShowsHelp ??= showHelp();
  // A redraw changes much at once: it is measured when it is done, once a frame.
  let frame = 0;
  const measure = () => {
    frame ||= requestAnimationFrame(() => {
      frame = 0;
      const panel = el.closest(".workbench-panel");
      if (!panel) return;
      letScroll(panel);
      nameFolds(panel);
    });
  };
  const widths = new ResizeObserver(measure);
  const shown = new MutationObserver(measure);
  const marks = new MutationObserver(() => {
    for (const controls of el.closest(PLACES)?.querySelectorAll(".workbench-controls") ?? []) {
      nameControls(controls, help);
    }
  });
  const start = () => {
    const panel = el.closest(PLACES);
    if (!panel) { waiting = requestAnimationFrame(start); return; }
    // A key typed in a control is the control's: d twice in a notebook would delete the panel.
    put(panel, "data-lm-suppress-shortcuts", "true");
    for (const answer of panel.querySelectorAll(".workbench-answer")) put(answer, "role", "status");
    for (const trouble of panel.querySelectorAll(".workbench-trouble")) put(trouble, "role", "alert");
    for (const answers of panel.querySelectorAll(".workbench-answers, .workbench-table")) {
      shown.observe(answers, { childList: true, subtree: true });
    }
    widths.observe(panel);
    lateness = seeLateness(panel);
    panel.addEventListener("keydown", foldByKey);
    panel.addEventListener("click", measure);
    for (const controls of panel.querySelectorAll(".workbench-controls")) {
      marks.observe(controls, { childList: true, subtree: true, characterData: true, attributeFilter: ["class"] });
      nameControls(controls, help);
    }
  };
  let lateness, waiting = requestAnimationFrame(start);
  return () => {
    cancelAnimationFrame(waiting);
    cancelAnimationFrame(frame);
    const panel = el.closest(PLACES);
    panel?.removeEventListener("keydown", foldByKey);
    panel?.removeEventListener("click", measure);
    marks.disconnect();
    shown.disconnect();
    widths.disconnect();
    lateness?.disconnect();
  };
};
export default { render };
