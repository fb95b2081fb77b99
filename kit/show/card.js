// A card of exercises, by keyboard: Enter in a box sends what stands there at that moment, in one message; a value and a
// click sent apart may overtake each other. A notebook takes letters, digits and arrows for commands of its own while a
// button or a choice has the keyboard; inside a card they are the learner's (on the window, since JupyterLab listens
// below it). What the boxes have no name for, a reader is told here.

const box = card => card.querySelector(".kit-answer input");

function send(card, from) {
  const to = from.closest(".kit-who") ? "name" : "mark", chosen = card.querySelector(".kit-choice input:checked");
  const written = to === "name" ? card.querySelector(".kit-who input") : box(card);
  written.dispatchEvent(new Event("change", { bubbles: true }));  // Enter alone would leave it unknown to its own widget
  card.kitSend({ to, text: written.value, chosen: chosen ? Number(chosen.value) : null });
}

function listen() {
  if (window.kitCards) return;
  window.kitCards = true;
  window.addEventListener("keydown", event => {
    const card = event.target.closest?.(".kit-card"), own = event.target.closest?.(".kit-panel") && !event.target.matches("button");
    if (!card || own || event.ctrlKey || event.altKey || event.metaKey || ["Tab", "Escape"].includes(event.key)) return;
    event.stopPropagation();
    if (event.key !== "Enter" || !event.target.matches("input") || event.isComposing) return;
    event.preventDefault();
    if (!event.repeat) send(card, event.target);
  }, true);
  window.addEventListener("click", event => {
    const pressed = event.target.closest?.(".kit-card .kit-sends");
    if (!pressed) return;
    event.stopPropagation();
    send(pressed.closest(".kit-card"), pressed);
  }, true);
}

let cards = 0;

function name(card) {
  const question = card.querySelector(".kit-question .widget-html-content"), answer = box(card);
  const said = card.querySelector(".kit-said .widget-html-content");
  if (!question || !answer || !said) return;
  if (!question.id) {
    question.id = `kit-question-${cards += 1}`;
    question.setAttribute("aria-live", "polite");
    card.setAttribute("role", "group");
    card.setAttribute("aria-label", "Exercise");
    answer.setAttribute("aria-describedby", question.id);
  }
  card.querySelectorAll(".kit-choice .widget-radio-box").forEach(group => {
    group.setAttribute("role", "radiogroup");
    group.setAttribute("aria-label", group.parentElement.querySelector(".widget-label").textContent);
    group.setAttribute("aria-describedby", question.id);
  });
}

// What is new comes into sight, and the box stays there, however little of the page is seen.
function show(card) {
  if (!card.contains(document.activeElement)) return;
  for (const part of [".kit-question", ".kit-said", ".kit-pressed", ".kit-answer"]) {
    card.querySelector(part)?.scrollIntoView({ block: "nearest" });
  }
}

export default { render({ model, el }) {
  listen();
  setTimeout(() => {
    const card = el.closest(".kit-card");
    if (!card) return;
    card.kitSend = content => model.send(content);
    const watch = new MutationObserver(changes => {
      name(card);
      if (changes.some(change => change.target.closest?.(".kit-question, .kit-said"))) setTimeout(() => show(card));
    });
    watch.observe(card, { childList: true, subtree: true });
    name(card);
  });
} };
