// A name for each slider, and what is folded within reach of the keyboard: ipywidgets leaves them without.

const opened = header => header.setAttribute(
  "aria-expanded", header.parentElement.classList.contains("jupyter-widget-Collapse-open"));

function reach(header) {
  header.tabIndex = 0;
  header.setAttribute("role", "button");
  header.dataset.lmSuppressShortcuts = "true";
  header.addEventListener("click", () => setTimeout(() => opened(header)));
  header.addEventListener("keydown", event => {
    if (event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault();
    header.click();
  });
}

function name(panel) {
  panel.querySelectorAll("[role=slider]:not([aria-label])").forEach(handle => {
    const label = handle.closest(".widget-slider")?.querySelector(".widget-label");
    if (label) handle.setAttribute("aria-label", label.textContent);
  });
  panel.querySelectorAll(".jupyter-widget-Collapse-header").forEach(header => {
    if (header.tabIndex < 0) reach(header);
    opened(header);
  });
  // JupyterLab would take the arrow keys that choose in these for its own
  panel.querySelectorAll("select, input[type=radio]").forEach(e => { e.dataset.lmSuppressShortcuts = "true"; });
}

export default { render({ el }) {
  setTimeout(() => {
    const panel = el.closest(".kit-panel");
    if (!panel) return;
    const watch = new MutationObserver(() => name(panel));
    watch.observe(panel, { childList: true, subtree: true });
    setTimeout(() => watch.disconnect(), 5000);  // what is folded is in the page by then
    panel.addEventListener("focusin", () => name(panel));
    // a number written into a box moves the caret in it: no editor of the notebook need look where
    panel.addEventListener("selectionchange", event => event.stopPropagation());
    name(panel);
  });
} };
