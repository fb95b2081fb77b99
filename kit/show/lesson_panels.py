"""What a learner sees: an exercise to answer, and progress by skill."""

from dataclasses import replace
from pathlib import Path

import anywidget
import ipywidgets as widgets
import traitlets

from .. import page
from ..errors import KitError
from ..formula import Formula
from ..lessons import Progress, bench_task, learners, mark, next_exercise, open_learner
from ..lessons.kinds import lesson_named
from ..lessons.marking import NO_BASE
from ..lessons.progress import STAGES
from ..units import read_above
from ..words import capital, kept, plain, plural
from . import look
from .lesson_pictures import picture_for
from .panel import ROW, Controls, SliderNames, _close, button, folded, radio, status, text
from .strips import alert, small

WIDE = {"width": "100%", "max_width": "760px", "overflow": "hidden"}
AGAIN = "That answer is marked already: change it, ask for the hint, or go on with next."
FIRST_ANSWER = "Answer this one first, or press I don't know: that costs nothing."
NOTHING_LOST = "Nothing is lost: it comes back with its steps shown. Here is the next one."
HINTED = " You read the hint first, so it comes back once more."
SHOWN = "Type the answer, or go on with next: it comes back, and this costs nothing."
WHOSE = "Your first name keeps what you do and gives you numbers of your own."
TO_DO = {  # by stage
    "worked": "Read how it is done, then press got it.",
    "last step": "The last step is yours: type the answer, press Enter.",
    "two steps": "The last two steps are yours: type the answer, press Enter.",
    "alone": "All yours: type the answer, press Enter.",
}
REST = 6  # cards between two ends of a session


class CardKeys(anywidget.AnyWidget):
    """Enter marks, the letters typed in a card stay in it, and a reader is told which question a box belongs to."""

    _esm = Path(__file__).with_name("card.js")
    _css = f"""
    .kit-card :focus-visible {{ outline: 3px solid {look.INK} !important; outline-offset: -3px !important }}
    .kit-card .widget-radio-box {{ flex-wrap: wrap; height: auto }}
    .kit-card .widget-radio-box label {{ white-space: nowrap; width: auto }}
    """  # else the buttons lie over the choices of a narrow page


class ExerciseCard(Controls):
    """One exercise at a time: worked first, then with steps left out; what was not right comes back sooner.

    lesson 1, 2, 3, its name, or None for all; folder: where the files of the learners lie, `progress` beside the
    notebook unless said; seed decides the numbers of a learner who gives no name. `progress` may be watched with
    observe. Raises UnknownName.
    """

    progress = traitlets.Any()

    def __init__(self, lesson: int | str | None = None, folder: str | Path | None = None, seed: int = 1) -> None:
        self.lesson, self.folder = lesson_named(lesson), folder
        self._head, self._feedback, self._told, self._stands = (widgets.HTML() for _ in range(4))
        self.answer = text("answer", "", "number and unit", "300px")
        self.name = text("first name", "", "", "210px")
        self.who = widgets.Box(layout=ROW)
        # what per cent of, or which word: made anew for each exercise
        self.choice, self.meant = widgets.VBox(layout={"margin": "0 0 0 12px"}), widgets.Box(layout=ROW)
        self.buttons = {
            "mark": button("mark", "Mark this answer; Enter does the same", self.mark, 84),
            "got it": button("got it", "Go on to the next card", self.got_it, 84),
            "hint": button("hint", "Show a hint", self.hint, 84),
            "show me": button("show me", "Show the steps; this costs nothing", self.show_me, 84),
            "I don't know": button("I don't know", "Go on; this costs nothing", self.give_up, 110),
            "next": button("next", "Go on", self.next, 84),
            "go on": button("go on", "Begin another session", self._another, 84),
        }
        self._answering = widgets.Box([self.answer, self.choice], layout=ROW)
        self._pressed, self.picture = widgets.Box(list(self.buttons.values()), layout=ROW), widgets.VBox()
        keys = CardKeys()
        keys.on_msg(lambda _, sent, __: self._take(sent))
        inside = [self.who, self._told, self._head, self._answering, self.meant, self._pressed, self._feedback]
        super().__init__([], layout=WIDE, progress=Progress("", seed))
        fold = widgets.VBox([folded("Your progress", self._stands), SliderNames()])
        fold.add_class("kit-panel")  # whose keys are its own
        self.children = [*inside, self.picture, fold, keys]
        self.observe(lambda _: self._show_progress(), "progress")
        self._show_progress()
        self.seed, self.rested = seed, 0
        for part, named in (
            (self, "card"), (self._head, "question"), (self.answer, "answer"), (self.choice, "choice"),
            (self._feedback, "said"), (self.who, "who"), (self._pressed, "pressed"), (self.buttons["mark"], "sends"),
        ):  # fmt: skip
            part.add_class(f"kit-{named}")
        for each in ("mark", "got it", "go on"):
            self.buttons[each].button_style = "primary"
        self._nobody()
        self._ask()

    @property
    def choosing(self):
        """The buttons to choose from, a base or a word; None when the exercise has none."""
        return self.choice.children[0] if self.choice.children else None

    @property
    def overlays(self):
        """The figures of the picture that it holds."""
        return [overlay for each in self.picture.children for overlay in each.overlays]

    # whose card it is

    def _nobody(self):
        keep = button("keep", "Keep what you do in a file of your own", lambda: self.named(self.name.value), 72)
        keep.add_class("kit-sends")
        self.who.children = [self.name, keep, widgets.HTML(small(WHOSE, 12))]

    def _offered(self, words, *acts):
        """Say something in the place of the name, beside buttons: (what one says, what it does)."""
        pressed = [button(name, "", act, None) for name, act in acts]
        self.who.children = [widgets.HTML(small(words, 14)), *pressed]
        pressed[0].focus()

    def named(self, name: str) -> None:
        """Keep the progress in the file of a learner of that first name; where there is one, ask whether it is them."""
        same = [one for one in learners(self.folder) if plain(one.learner) == plain(name)]
        if not same:
            self._open(lambda: open_learner(name, self.folder))
            return
        them = [
            (f"that's me: {plural(len(one.cards), 'card')}", lambda one=one: self._open(lambda: one)) for one in same
        ]
        other = (f"another {name}", lambda: self._open(lambda: open_learner(name, self.folder, another=True)))
        words = f"{same[0].learner} is here already. Is it you?"
        self._offered(words, *them, other, ("back", self._nobody))

    def _open(self, opened):
        try:
            opened = opened()
            self.progress = replace(opened, cards=(*opened.cards, *self.progress.cards)).save()
        except KitError as error:
            self._tell(f"{error}.")
            self._nobody()
            return
        self._tell(opened.told)
        self._signed()
        self._another()

    def _signed(self):
        self._offered(f"{self.progress.who}'s card.", ("not me", self._leave), ("delete", self._sure))

    def _sure(self):
        words = f"Delete all that {self.progress.learner} has done?"
        self._offered(words, ("keep it", self._signed), ("delete it all", self._forget))

    def _forget(self):
        try:
            self.progress.forget()
        except KitError as error:
            self._tell(f"{error}.")
            self._signed()
            return
        self._leave()

    def _leave(self):
        self.name.value, self.progress = "", Progress("", self.seed)
        self._nobody()
        self._ask()
        self.name.focus()

    # an exercise

    def _ask(self):
        """Show the exercise that the progress asks for, with as many of its steps as its stage shows."""
        task = self.exercise = next_exercise(self.progress, self.lesson)
        self.tries, self.result, self.hinted = [], None, False
        hidden = STAGES.index(task.stage) if task.stage != STAGES[-1] else len(task.steps)
        self._head.value = _question(task, task.steps[: len(task.steps) - hidden])
        worked = task.stage == "worked"
        self._clear("got it" if worked else "mark hint show me I don't know next")
        self._answering.layout.display = "none" if worked else "flex"
        self.answer.layout.display = "none" if task.choices else None
        self.answer.description = f"answer, {task.unit}" if task.unit else "answer"
        self.answer.value = ""
        self.answer.send_state("value")  # what was typed may not have come yet: cleared all the same
        options, name = (task.choices, "answer") if task.choices else (sorted(task.bases), "per cent of")
        self.choice.children = [radio(name, options, None)] if task.choices or task.ask_base else []
        self.picture.children = [each for each in (picture_for(task),) if each]

    def _clear(self, offered):
        """Take away the last exercise, and offer these buttons."""
        _close(self.picture.children)
        self._feedback.value, self.meant.children, self.picture.children = "", [], []
        self._answering.layout.display = "none"
        for name, each in self.buttons.items():
            each.layout.display = None if name in offered else "none"

    def _focus(self):
        """Give the keyboard to what is to be done next."""
        box = self.choosing if self.exercise.choices else self.answer
        (self.buttons["got it"] if self.exercise.stage == "worked" else box).focus()

    def _take(self, sent):
        """Do what the page sent: a name, or an answer and which of the choices stands beside it.

        The text is not written into the box: the learner may be typing the next one there.
        """
        if sent["to"] == "name":
            self.named(sent["text"])
            return
        if self.choosing:
            self.choosing.index = sent["chosen"]
        self.mark(sent["text"])

    def mark(self, text=None):
        """Mark the answer, else what the box holds, and say what it was worth; go on when it was right already."""
        if self.result and self.result.right:
            self.next()
            return
        text = (self.answer.value if text is None else text).strip()
        chosen = self.choosing.value if self.choosing else None
        if self.exercise.choices:
            text = chosen or ""
        elif chosen and text and " of " not in text:
            text = f"{text} of {chosen}"
        self._feedback.value, self.meant.children = "", []
        if text and text in self.tries:
            self._feedback.value = status(AGAIN)
            return
        self.result = result = mark(self.exercise, text, attempt=len(self.tries) + 1)
        if result.counts:
            self.tries.append(text)
            self._keep(self.progress.after(self.exercise, result, self.hinted))
        if result.right or result.steps:
            self._reveal()
        self._feedback.value = _feedback(result, text, self.hinted)
        self.meant.children = [button(said, "", lambda to=to: self.mark(to), None) for said, to in result.choices]
        if self.meant.children:
            self.meant.children[0].focus()

    def _keep(self, progress):
        try:
            self.progress = progress.save() if progress.path else progress
            self._tell(self.progress.told)
        except KitError as error:  # the learner goes on; what is not kept is told
            self.progress = progress
            self._tell(f"Your progress was not saved: {error}.")

    def weighed(self, lesson, predicted, measured):
        """Keep what was predicted and weighed at a lesson's end, masses as they are written."""
        masses = (read_above(each, "mass") for each in (predicted, measured))
        self._keep(self.progress.weighed(lesson, *masses))

    def _tell(self, words):
        self._told.value = words and alert(kept(words))

    def _show_progress(self):
        """Show how each kind stands, and when it comes back."""
        progress = self.progress
        said = progress.words if progress.cards else "Nothing done yet: begin with the card."
        self._stands.value = status(said) + page.table(progress.columns, progress.frame_rows(self.lesson))

    def _reveal(self):
        for each in self.picture.children:
            each.reveal()

    def hint(self):
        """Show a hint."""
        self.hinted = self.hinted or not self.tries
        self._feedback.value = status(kept(f"Hint: {self.exercise.hint}"))
        self._focus()

    def show_me(self):
        """Show the steps with their numbers; it costs nothing, and the kind comes back."""
        self._keep(self.progress.shown(self.exercise))
        self._reveal()
        self.tries = self.tries or [""]
        self._feedback.value = _listed(self.exercise.steps) + _words(SHOWN)
        self._focus()

    def give_up(self):
        """Go on to the next; it costs nothing, and the kind comes back with its steps."""
        self.got_it()
        self._feedback.value = self._feedback.value or status(NOTHING_LOST)

    def got_it(self):
        """Go on from a worked example."""
        self._keep(self.progress.shown(self.exercise))
        self._go_on()

    def next(self):
        """Go on to the next exercise; one that was not answered stays."""
        if not self.tries:
            self._feedback.value = status(FIRST_ANSWER)
            return
        self._go_on()

    def _go_on(self):
        cards = len(self.progress.cards)
        if self.progress.session_over and cards >= self.rested + REST:
            self.rested = cards
            self._clear("go on")
            self._head.value = _words(capital(self.progress.session_words), 18)
            self.buttons["go on"].focus()
        else:
            self._another()

    def _another(self):
        """Show the next exercise, and give it the keyboard."""
        self._ask()
        self._focus()


def _words(text, size=15, weight="normal"):
    style = f"margin:4px 0;font-size:{size}px;line-height:1.45;font-weight:{weight};color:{look.INK}"
    return f'<p style="{style}">{page.escape(kept(text))}</p>'


def _listed(steps):
    style = f"margin:4px 0;font-size:16px;line-height:1.45;color:{look.INK}"
    return f'<ol style="{style}">{page.items(map(kept, steps))}</ol>'


def _question(task, steps):
    """Return what to do, the question, and the steps that are shown of it, as HTML."""
    to_do = small(f"{capital(task.title)}. {TO_DO[task.stage]}", 14)
    return to_do + _words(task.question, 18) + (_listed(steps) if steps else "")


def _feedback(result, text, hinted):
    """Return a mark in words: what the learner wrote, the mistake with its numbers, a hint first, then the steps."""
    if result.right:
        return status(kept(f"{result.words}{HINTED * hinted} Enter or next goes on."))
    if not result.counts:
        choose = " Or choose it beside the answer." if result.verdict == NO_BASE else ""
        return alert(kept(f"{result.words}{choose}"))
    hint = f" Hint: {result.hint} Try once more." if result.hint else ""
    shown = alert(kept(f"You answered {text}. {result.words}{hint}"))
    if result.steps:
        shown += _words("Worked with your numbers:", 15, "bold") + _listed(result.steps)
        shown += _words("Type it again, or go on with next: this kind comes back soon.")
    return shown


class BenchCard(Controls):
    """From the page to the bench: predict, do, enter what the scale shows, compare.

    lesson: 1, 2, 3 or its name; formula: what is weighed, else the demo bun; of: an ExerciseCard, whose learner's file
    keeps both. Raises UnknownName, FormulaError.
    """

    def __init__(self, lesson: int | str, formula: Formula | None = None, of: ExerciseCard | None = None) -> None:
        self.task, self.of = bench_task(lesson, formula), of
        task = self.task
        self.predicted, self.measured = text("I predict, g", "", "", "200px"), text("I weighed, g", "", "", "200px")
        self._said = widgets.HTML()
        for each in (self.predicted, self.measured):
            each.observe(lambda _: self._weigh(), "value")
        do = _words(f"Do: {task.do}") + _words(f"Then weigh {task.measure}.") + small(" ".join(task.cautions), 12)
        asked = widgets.HTML(_words(task.title, 16, "bold") + _words(f"Predict: {task.predict}", 16))
        super().__init__([asked, self.predicted, widgets.HTML(do), self.measured, self._said], layout=WIDE)
        self._weigh()

    def _weigh(self):
        predicted, measured = self.predicted.value, self.measured.value
        self.measured.layout.display = None if predicted else "none"
        self._said.value = ""
        if predicted and measured:
            try:
                self._said.value = status(kept(self.task.weighed(predicted, measured)))
                if self.of:
                    self.of.weighed(self.task.row.lesson, predicted, measured)
            except KitError as error:
                self._said.value = alert(f"{error}.")
