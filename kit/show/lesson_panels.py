"""What a learner sees: an exercise to answer, and progress by skill."""

import json
from pathlib import Path

import anywidget
import ipywidgets as widgets
import traitlets

from .. import page
from ..errors import KitError
from ..lessons import Progress, mark, next_exercise, read_progress
from ..lessons.kinds import LESSONS
from ..lessons.marking import NO_BASE
from ..words import kept, one_of
from . import look
from .panel import ROW, Controls, button, radio, status

AGAIN = "That answer is marked already: change it, ask for the hint, or go on with next."
WIDE = {"width": "100%", "max_width": "760px", "overflow": "hidden"}
FIRST_ANSWER = "Answer this one first. A wrong answer takes nothing away: the kind comes back sooner, that is all."


# Enter in an answer presses mark, and mark takes what stands in the card at that moment, in one message: a value and
# a click sent apart may overtake each other. A notebook takes letters, digits and arrows for commands of its own while
# a button or a choice has the keyboard; inside a card they are the learner's (on the window, since JupyterLab listens
# below it).
class CardKeys(anywidget.AnyWidget):
    """Enter marks, and the letters typed in a card stay in it."""

    _esm = """
export default { render() { if (!window.kitCardKeys) {
  let count = 0;
  window.kitCardKeys = true;
  const send = card => {
    const to = card.querySelector('.kit-sent input'), chosen = card.querySelector('input[type=radio]:checked');
    const box = card.querySelector('.kit-answer input'), text = box.value;
    box.dispatchEvent(new Event('change', {bubbles: true}));  // Enter alone would leave it unknown to its own widget
    to.value = JSON.stringify({text, chosen: chosen ? Number(chosen.value) : null, count: count += 1});
    to.dispatchEvent(new Event('change', {bubbles: true}));
  };
  window.addEventListener('keydown', event => {
    const card = event.target.closest?.('.kit-card');
    if (!card || event.ctrlKey || event.altKey || event.metaKey || ['Tab', 'Escape'].includes(event.key)) return;
    event.stopPropagation();
    if (event.key === 'Enter' && event.target.matches('input') && !event.isComposing) {
      event.preventDefault();
      if (!event.repeat) send(card);
    }
  }, true);
  window.addEventListener('click', event => {
    if (!event.target.closest?.('.kit-card .kit-mark')) return;
    event.stopPropagation();
    send(event.target.closest('.kit-card'));
  }, true);
} } };
"""


class ExerciseCard(Controls):
    """One exercise at a time: answer, mark, hint, next; what was wrong comes back sooner.

    lesson 1, 2, 3, its name, or None for all; progress the name of a file of the learner's own, in which it is kept
    at each answer, or None to keep nothing; seed decides the numbers where there is no file. `progress` may be
    watched with observe. Raises UnknownName, FileError.
    """

    progress = traitlets.Any()

    def __init__(
        self,
        lesson: int | str | None = None,
        progress: str | Path | None = None,
        learner: str = "",
        seed: int = 1,
    ) -> None:
        self.lesson = _lesson(lesson)
        start = Progress(learner, seed) if progress is None else read_progress(progress, learner)
        self._head, self._feedback, self._told = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.answer = widgets.Text(
            continuous_update=False,
            placeholder="number and unit",
            layout={"width": "300px"},
            style={"description_width": "initial"},
        )
        self.answer.add_class("kit-answer")
        self._sent = widgets.Text(continuous_update=False, layout={"display": "none"})
        self._sent.add_class("kit-sent")
        self._sent.observe(lambda change: self._take(change["new"]), "value")
        # what per cent of, or which word: made anew for each exercise
        self.choice = widgets.VBox(layout={"margin": "0 0 0 12px"})
        self.buttons = {
            "mark": button("mark", "Mark this answer; Enter does the same", self.mark, 84),
            "hint": button("hint", "Show a hint", self.hint, 84),
            "next": button("next", "Go on", self.next, 84),
        }
        self.buttons["mark"].add_class("kit-mark")
        self.buttons["mark"].button_style = "primary"
        written = widgets.Box([self.answer, self.choice, self._sent], layout=ROW)
        pressed = widgets.Box(list(self.buttons.values()), layout=ROW)
        inside = [self._told, self._head, written, pressed, self._feedback, CardKeys()]
        super().__init__(inside, layout=WIDE, progress=start)
        self.add_class("kit-card")
        self._tell(start.told)
        self._ask()

    @property
    def choosing(self):
        """The buttons to choose from, a base or a word; None when the exercise has none."""
        return self.choice.children[0] if self.choice.children else None

    def _ask(self):
        """Show the exercise that the progress asks for."""
        task = self.exercise = next_exercise(self.progress, self.lesson)
        self.tries, self.result = [], None
        self._head.value = task._repr_html_()
        self.answer.layout.display = "none" if task.choices else None
        self.answer.description = f"answer, {task.unit}" if task.unit else "answer"
        self.answer.value = ""
        self.answer.send_state("value")  # what was typed may not have come yet: cleared all the same
        options, name = (task.choices, "answer") if task.choices else (sorted(task.bases), "per cent of")
        self.choice.children = [radio(name, options, None)] if task.choices or task.ask_base else []
        self._feedback.value = ""

    def _written(self, text):
        """Return what the learner answered, with the base or word chosen."""
        chosen = self.choosing.value if self.choosing else None
        if self.exercise.choices:
            return chosen or ""
        text = text.strip()
        return f"{text} of {chosen}" if chosen and text and " of " not in text else text

    def _take(self, sent):
        """Mark what the page sent: the text, and which of the buttons is chosen.

        The text is not written into the box: the learner may be typing the next one there.
        """
        sent = json.loads(sent)
        if self.choosing:
            self.choosing.index = sent["chosen"]
        self.mark(sent["text"])

    def mark(self, text=None):
        """Mark the answer, else what the box holds, and say what it was worth; go on when it was right already."""
        if self.result and self.result.right:
            self.next()
            return
        text = self._written(self.answer.value if text is None else text)
        if text and text in self.tries:
            self._feedback.value = _said(AGAIN, "status")
            return
        self.result = mark(self.exercise, text, attempt=len(self.tries) + 1)
        if self.result.counts:
            self.tries.append(text)
            self._keep(self.progress.after(self.exercise, self.result))
        self._feedback.value = _feedback(self.result, text)

    def _keep(self, progress):
        try:
            self.progress = progress.save() if progress.path else progress
            self._tell(self.progress.told)
        except KitError as error:  # the learner goes on; what is not kept is told
            self.progress = progress
            self._tell(f"Your progress was not saved: {error}.")

    def _tell(self, words):
        self._told.value = words and _said(words, "alert")

    def hint(self):
        """Show the hint: the misconception's when one was recognised, else the exercise's."""
        known = self.result and self.result.misconception
        hints = {key: hint for key, _, _, hint in self.exercise.misconceptions}
        self._feedback.value = _said(f"Hint: {hints[known] if known else self.exercise.hint}", "status")

    def next(self):
        """Go on to the next exercise; one that was not answered stays."""
        if not self.tries:
            self._feedback.value = _said(FIRST_ANSWER, "status")
            return
        self._ask()
        self.answer.focus()


def _lesson(given):
    """Return the name of a lesson given by number or name, None for all. Raises UnknownName."""
    name = dict(enumerate(LESSONS, 1)).get(given, given)
    return None if given is None else one_of("lesson", name, LESSONS)


def _said(text, role, colour=look.ACCENT):
    return (
        f'<p role="{role}" style="margin:4px 0;padding:4px 10px;border-left:4px solid {colour};background:#f4f7f9;'
        f'color:{look.INK};font-size:15px;line-height:1.45">{page.escape(kept(text))}</p>'
    )


def _feedback(result, text):
    """Return a mark in words: what the learner wrote, the misconception, a hint first, then the steps."""
    if result.right:
        return _said(f"{result.words} Enter or next goes on.", "status", "#2e6b34")
    if not result.counts:
        choose = " Or choose it beside the answer." if result.verdict == NO_BASE else ""
        return _said(f"{result.words}{choose}", "alert", look.WRONG)
    hint = f" Hint: {result.hint} Try once more." if result.hint else ""
    shown = _said(f"You answered {text}. {result.words}{hint}", "alert", look.WRONG)
    if not result.steps:
        return shown
    return (
        f'{shown}<div style="color:{look.INK};font-size:15px;line-height:1.45"><b>Worked with your numbers:</b>'
        f'<ol style="margin:2px 0">{page.items(map(kept, result.steps))}</ol>'
        "Type it again, or go on with next: this kind comes back soon.</div>"
    )


class ProgressView(Controls):
    """Progress by skill: kinds met, first tries right and wrong, and what comes back soon.

    of: an ExerciseCard, which it follows, or a Progress; lesson 1, 2, 3, its name, or None for all.
    """

    def __init__(self, of: ExerciseCard | Progress, lesson: int | str | None = None) -> None:
        self.lesson = _lesson(lesson)
        self._shown = widgets.HTML()
        super().__init__([self._shown], layout=WIDE)
        if not isinstance(of, Progress):
            of.observe(lambda change: self._show(change["new"]), "progress")
            of = of.progress
        self._show(of)

    def _show(self, progress):
        self.progress = progress
        said = progress.words if progress.answered else "Nothing answered yet: begin with the exercise."
        rows = [row for lesson, *row in progress.frame_rows() if self.lesson in (None, lesson)]
        self._shown.value = status(said) + page.table(progress.columns[1:], rows)
