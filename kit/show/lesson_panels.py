"""What a learner sees: an exercise to answer, progress by skill, and pictures that move with one to three dials."""

import json

import ipywidgets as widgets
import numpy as np
import traitlets
from IPython.display import Javascript, display

from .. import page
from ..balance import hydration, total_hydration, total_percentage
from ..errors import AmountError, KitError, must
from ..formula import Formula
from ..lessons import Progress, exercises, mark, next_exercise, read_progress
from ..lessons.kinds import LESSONS, holds
from ..lessons.marking import NO_BASE
from ..process.dome import Dome
from ..words import figure, kept, listing, plural
from . import lesson_drawings, look
from .panel import ROW, Dial, Panel, radio, status, tiles

LEVEL_WORDS = {1: "round numbers", 2: "finer numbers", 3: "numbers as a formula card has them"}
AGAIN = "That answer is marked already: change it, ask for the hint, or go on with next."
FIRST_ANSWER = "Answer this one first. A wrong answer takes nothing away: the kind comes back sooner, that is all."

# Enter in an answer presses mark, and mark takes what stands in the card at that moment, in one message: a value and
# a click sent apart may overtake each other. A notebook takes letters, digits and arrows for commands of its own while
# a button or a choice has the keyboard; inside a card they are the learner's (on the window, since JupyterLab listens
# below it).
_KEYS = Javascript("""
if (!window.kitCardKeys) {
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
}
""")


class ExerciseCard(widgets.VBox):
    """One exercise at a time: answer, mark, hint, next; what was wrong comes back sooner.

    lesson 1, 2, 3, its name, or None for all; progress the name of a file of the learner's own, in which it is kept
    at each answer, or None to keep nothing; seed decides the numbers where there is no file. `progress` may be
    watched with observe. Raises UnknownName, FileError.
    """

    progress = traitlets.Any()

    def __init__(self, lesson=None, progress=None, learner="", seed=1):
        self.lesson = _lesson(lesson)
        start = Progress(learner, seed) if progress is None else read_progress(progress, learner)
        self._head, self._feedback, self._told = widgets.HTML(), widgets.HTML(), widgets.HTML()
        wide = {"description_width": "initial"}
        self.answer = widgets.Text(
            continuous_update=False, placeholder="number and unit", layout={"width": "300px"}, style=wide
        )
        self.answer.add_class("kit-answer")
        self._sent = widgets.Text(continuous_update=False, layout={"display": "none"})
        self._sent.add_class("kit-sent")
        self._sent.observe(lambda change: self._take(change["new"]), "value")
        self.choice = widgets.VBox(
            layout={"margin": "0 0 0 12px"}
        )  # what per cent of, or which word: made anew for each exercise
        names = {"mark": "Mark this answer; Enter does the same", "hint": "Show a hint", "next": "Go on"}
        self.buttons = {
            name: widgets.Button(description=name, tooltip=words, layout={"width": "84px"})
            for name, words in names.items()
        }
        self.buttons["mark"].add_class("kit-mark")
        self.buttons["mark"].button_style = "primary"
        self.buttons["mark"].on_click(lambda _: self.mark())
        self.buttons["hint"].on_click(lambda _: self.hint())
        self.buttons["next"].on_click(lambda _: self.next())
        super().__init__(
            [
                self._told,
                self._head,
                widgets.Box([self.answer, self.choice, self._sent], layout=ROW),
                widgets.Box(list(self.buttons.values()), layout=ROW),
                self._feedback,
            ],
            layout={"width": "100%", "max_width": "760px", "overflow": "hidden"},
            progress=start,
        )
        self.add_class("kit-card")
        self._told.value = _said(start.told, "alert") if start.told else ""
        self._ask()

    @property
    def choosing(self):
        """The buttons to choose from, a base or a word; None when the exercise has none."""
        return self.choice.children[0] if self.choice.children else None

    def _ask(self):
        """Show the exercise that the progress asks for."""
        task = self.exercise = next_exercise(self.progress, self.lesson)
        self.tries, self.result = [], None
        self._head.value = _question(task)
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
        except KitError as error:  # the learner goes on; what is not kept is told
            self.progress = progress
            self._told.value = _said(f"Your progress was not saved: {error}.", "alert")
        else:
            self._told.value = _said(self.progress.told, "alert") if self.progress.told else ""

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

    def _ipython_display_(self):
        display(self._repr_mimebundle_(), raw=True)
        display(_KEYS)


def _lesson(given):
    """Return the name of a lesson given by number or name, None for all. Raises UnknownName."""
    name = dict(enumerate(LESSONS, 1)).get(given, given)
    exercises(name if name is None else str(name))
    return name


def _question(task):
    caution = (
        f'<p role="note" style="margin:6px 0;padding-left:10px;border-left:3px solid #8a6d1f;font-size:12.5px">'
        f"{page.escape(task.caution)}</p>"
        if task.caution
        else ""
    )
    title = f"{task.title[0].upper()}{task.title[1:]}"
    level = f"{task.skill}; level {task.level} of {len(LEVEL_WORDS)}, {LEVEL_WORDS[task.level]}"
    return (
        f'<div style="color:{look.INK};line-height:1.45"><p style="margin:2px 0;font-size:15px;font-weight:600">'
        f'{page.escape(title)} <span style="font-weight:400;font-size:12.5px;color:{look.QUIET}">'
        f"{page.escape(level)}</span></p>"
        f'<p style="margin:6px 0;font-size:18px">{page.escape(kept(task.question))}</p>{caution}</div>'
    )


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
    lines = [f"You answered {text}. {result.words}", f"Hint: {result.hint} Try once more." if result.hint else ""]
    shown = _said(" ".join(filter(None, lines)), "alert", look.WRONG)
    if not result.steps:
        return shown
    steps = "".join(f'<li style="margin:3px 0">{page.escape(kept(step))}</li>' for step in result.steps)
    return (
        f'{shown}<div style="color:{look.INK};font-size:15px;line-height:1.45"><p style="margin:6px 0 2px;'
        f'font-weight:600">Worked with your numbers:</p><ol style="margin:2px 0">{steps}</ol>'
        '<p style="margin:2px 0">Type it again, or go on with next: this kind comes back soon.</p></div>'
    )


class ProgressView(widgets.VBox):
    """Progress by skill: first tries right and wrong as bars, kinds met, and what comes back soon.

    of: an ExerciseCard, which it follows, or a Progress; lesson 1, 2, 3, its name, or None for all.
    """

    def __init__(self, of, lesson=None):
        self.lesson = _lesson(lesson)
        self._shown = widgets.HTML()
        super().__init__([self._shown], layout={"width": "100%", "max_width": "760px", "overflow": "hidden"})
        if isinstance(of, Progress):
            self._show(of)
        else:
            of.observe(lambda change: self._show(change["new"]), "progress")
            self._show(of.progress)

    def _show(self, progress):
        self.progress = progress
        self._shown.value = self._repr_html_()

    def _repr_html_(self):
        frame = self.progress.to_frame()
        frame = frame[frame["lesson"] == self.lesson] if self.lesson else frame
        said = self.progress.say() if self.progress.answered else "Nothing answered yet: begin with the exercise."
        rows = "".join(_skill(row) for row in frame.to_dict("records"))
        return (
            f'<div style="color:{look.INK};font-size:14px;line-height:1.4"><p role="status" style="margin:4px 0">'
            f'{page.escape(said)}</p><div style="display:grid;grid-template-columns:max-content 1fr;'
            f'column-gap:12px;align-items:center">{rows}</div></div>'
        )


def _skill(row):
    """Return one skill as a bar of first tries [count]: right in the answer's colour, wrong hollow, and in words."""
    right, wrong = row["right at first"], row["wrong at first"]
    told = f"{plural(row['tried'], 'kind')} of {row['kinds']} met"
    if right + wrong:
        told += f"; first tries: {right} right, {wrong} wrong"
    if row["past level 1"]:
        told += f"; {row['past level 1']} past level 1"
    boxes = "".join(
        f'<span style="display:inline-block;width:11px;height:11px;margin-right:2px;border:1px solid {look.ACCENT};'
        f'background:{look.ACCENT if n < right else "#fff"}"></span>'
        for n in range(min(right + wrong, 30))
    )
    return (
        f'<span style="font-weight:600">{page.escape(row["skill"])}</span><span>{boxes} '
        f'<span style="color:{look.QUIET};font-size:13px">{page.escape(told)}</span></span>'
    )


# pictures that move

BUN = {
    "bread flour": 100.0, "milk": 32.0, "water": 14.0, "egg": 16.0, "butter": 18.0, "sugar": 16.0, "salt": 1.6,
    "fresh yeast": 4.0,
}  # fmt: skip


class _Picture(Panel):
    """One figure and the few dials that move it; what it shows is worked out by the kit."""

    size = (640, 250)  # [px]
    place = (0.135, 0.02, 0.85, 0.87)

    def __init__(self, dials):
        super().__init__(dials)
        self.start = self._state()
        self.result = self._work()
        chart = look.figure(*self.size)
        self._handle = self._draw(chart.add_axes(self.place))
        self._lay((chart,))
        self._show()
        if max(len(dial.label) for dial in dials.values()) > 12:
            for dial in dials.values():
                dial.view.layout.flex = "1 1 380px"  # two in a row: the names are long
        self.children = [
            self._still,
            widgets.Box([dial.view for dial in dials.values()], layout=ROW),
            widgets.Box([self.undo_button, self.reset_button], layout=ROW),
            self._problem,
            self._live,
        ]

    def _check_typed(self, name, value):
        dial = self.dials[name]
        if value > dial.high:
            most, got = (f"{figure(v)} {dial.unit}" for v in (dial.high, value))
            raise AmountError(must(dial.label, f"at most {most} in this picture", got, "type less"))

    def _update(self, moving):
        self.result = self._work()
        self._handle.update(self.result)
        self._show()

    def _show(self):
        said = status(kept(self._sentence()))
        self._live.value = f'<div style="line-height:1.35">{tiles(self._numbers())}{self._marks()}{said}</div>'

    @property
    def alt(self):
        """The figure in words."""
        return (self._sentence(),)

    def _value(self, name):
        return self.dials[name].value


def _percent(name, high, value=None):
    return Dial(name, BUN[name] if value is None else value, 0.0, high, 0.5)


class FlourIs100(_Picture):
    """A dough's lines on 100 flour beside the same on 100 dough: move one and see which of the others move."""

    def __init__(self):
        super().__init__({"milk": _percent("milk", 45.0), "butter": _percent("butter", 30.0),
                          "sugar": _percent("sugar", 25.0)})  # fmt: skip

    def _work(self):
        dough = Formula.from_weights("bun", BUN).vary({name: self._value(name) for name in self.dials}, water=0)
        self.total = total_percentage(dough)
        values = {name: dough.of_kind(name) for name in ("flour", "milk", "egg", "butter", "sugar")}
        values["fat"] = values.pop("butter")
        values["rest"] = self.total - sum(values.values())
        return values, {name: 100 * value / self.total for name, value in values.items()}

    def _draw(self, ax):
        return lesson_drawings.flour_is_100(ax, self.result, 275)

    def _numbers(self):
        on_flour, of_dough = self.result
        return [
            ("flour", "100 %", "", "of total flour, always"),
            ("total percentage", f"{figure(self.total)} %", "", "of total flour"),
            ("butter", f"{figure(on_flour['fat'])} %", "", "of total flour"),
            ("the same butter", f"{figure(of_dough['fat'])} %", "", "of dough"),
            ("flour for 1,000 g of dough", f"{figure(100_000 / self.total, 0)} g", "", "1,000 x 100 / total"),
        ]

    def _sentence(self):
        on_flour, of_dough = self.result
        return (
            f"On 100 flour there are milk {figure(on_flour['milk'])}, butter {figure(on_flour['fat'])} and sugar "
            f"{figure(on_flour['sugar'])}; all lines together are {figure(self.total)} %. Of the dough the flour is "
            f"only {figure(of_dough['flour'])} %. The dashed line is 100. Move one dial: in the upper bar nothing else "
            "changes its size, in the lower bar everything does."
        )


class WaterHides(_Picture):
    """What is weighed beside the water in it, ingredient by ingredient: egg, butter and yeast bring some too."""

    size = (640, 300)
    place = (0.075, 0.09, 0.915, 0.82)

    def __init__(self):
        super().__init__({"milk": _percent("milk", 50.0), "egg": _percent("egg", 40.0),
                          "butter": _percent("butter", 50.0)})  # fmt: skip

    def _work(self):
        dough = Formula.from_weights("bun", BUN).vary({name: self._value(name) for name in self.dials})
        self.poured, self.total = hydration(dough), total_hydration(dough)
        names = ("milk", "water", "egg", "butter", "fresh yeast")
        weighed = {name: self._value(name) if name in self.dials else BUN[name] for name in names}
        return {name: (value, value * holds(name, "water") / 100) for name, value in weighed.items()}

    def _draw(self, ax):
        return lesson_drawings.Glasses(ax, self.result, 58)

    def _numbers(self):
        hidden = sum(self.result[name][1] for name in ("egg", "butter", "fresh yeast"))
        return [
            ("hydration", f"{figure(self.poured)} %", "", "of total flour, as poured: milk and water"),
            ("total hydration", f"{figure(self.total)} %", "", "of total flour, all water but the flour's own"),
            ("hidden", f"{figure(hidden)} %", "", "of total flour: in egg, butter and yeast"),
        ]

    def _sentence(self):
        told = listing(f"{name} {figure(wet)} of {figure(weighed)}" for name, (weighed, wet) in self.result.items())
        return (
            f"Water, % of total flour: {told}. Poured liquid as weighed makes {figure(self.poured)} %, all water "
            f"{figure(self.total)} %."
        )


class MilkForEgg(_Picture):
    """Egg replaced by milk, weight for weight: the water rises, since egg holds less of it."""

    size = (640, 190)
    place = (0.09, 0.02, 0.9, 0.83)

    def __init__(self):
        super().__init__({"egg": _percent("egg", 30.0, 20.0),
                          "moved": Dial("egg replaced by milk", 10.0, 0.0, 30.0, 0.5, "points")})  # fmt: skip

    def _work(self):
        egg, moved = self._value("egg"), self._value("moved")
        if moved > egg:
            got = f"{figure(moved)} points"
            raise AmountError(
                must("egg replaced by milk", f"at most the egg there is, {figure(egg)} points", got, "less")
            )
        lines = ({"milk": 30.0, "egg": egg}, {"milk": 30.0 + moved, "egg": egg - moved})
        self.more = float(
            np.diff([total_hydration(Formula.from_weights("bun", {"bread flour": 100.0} | side)) for side in lines])[0]
        )
        return tuple({name: value * holds(name, "water") / 100 for name, value in side.items()} for side in lines)

    def _draw(self, ax):
        return lesson_drawings.milk_for_egg(ax, self.result, 66)

    def _numbers(self):
        moved = self._value("moved")
        return [
            ("water rises by", f"{figure(self.more, 2)} points", "", "of total flour"),
            (
                "egg",
                f"{figure(self._value('egg') - moved)} %",
                "",
                f"of total flour, before {figure(self._value('egg'))}",
            ),
            ("milk", f"{figure(30 + moved)} %", "", "of total flour, before 30.0"),
        ]

    def _sentence(self):
        milk, egg = (holds(name, "water") for name in ("milk", "egg"))
        before = self._value("egg")
        return (
            f"100 g of milk hold {figure(milk)} g of water, 100 g of egg {figure(egg)} g. Of {figure(before)} % egg, "
            f"{figure(self._value('moved'))} points replaced by as much milk bring {figure(self.more, 2)} points more "
            "water; the egg's fat and solids go."
        )


class SpongeFoldedIn(_Picture):
    """Sponge and final dough beside the total formula that they come from: it stays as it is, the bowls share it."""

    size = (640, 260)
    place = (0.14, 0.02, 0.85, 0.87)

    def __init__(self):
        super().__init__({"share": Dial("flour in the sponge", 30.0, 5.0, 60.0, 1.0),
                          "own": Dial("milk on the sponge's flour", 80.0, 50.0, 110.0, 1.0),
                          "milk": Dial("milk in all", 50.0, 40.0, 65.0, 1.0)})  # fmt: skip

    def _work(self):
        total = Formula.from_weights("bun", {"bread flour": 100.0, "milk": self._value("milk"), "fresh yeast": 4.0})
        made = total.with_preferment("sponge", self._value("share"), {"milk": self._value("own")})
        self.hydration = hydration(made)
        return tuple(
            tuple(float(made.part(name).percentage(made.ingredients.find(key))) for key in ("bread flour", "milk"))
            for name in ("sponge", "dough")
        )

    def _draw(self, ax):
        return lesson_drawings.FoldedIn(ax, self.result, 215)

    def _numbers(self):
        (sponge, milk), (flour, left) = self.result
        return [
            ("prefermented flour", f"{figure(sponge)} %", "", "of total flour"),
            (
                "milk for the final dough",
                f"{figure(left)} %",
                "",
                f"of total flour: {figure(left + milk)} - {figure(milk)}",
            ),
            ("the final dough's own", f"{figure(100 * left / flour)} %", "", "milk on the flour that goes in there"),
            ("hydration of the whole", f"{figure(self.hydration)} %", "", "of total flour, whatever the bowls"),
        ]

    def _sentence(self):
        (sponge, milk), (flour, left) = self.result
        return (
            f"The sponge takes {figure(sponge)} of the 100 flour and {figure(milk)} of the milk; {figure(flour)} flour "
            f"and {figure(left)} milk are left for the final dough. Folded in, the whole has "
            f"{figure(self.hydration)} % of total flour, as before."
        )


class DiscReachesSides(_Picture):
    """A bun under its disc of topping: a disc as wide as the bun leaves the sides bare."""

    size = (640, 330)
    place = (0.02, 0.125, 0.96, 0.8)

    def __init__(self):
        def millimetres(label, value, low, high):
            return Dial(label, value, low, high, 1.0, "mm", "length", per=10)

        super().__init__({"width": millimetres("bun, flattened, wide", 80.0, 50.0, 120.0),
                          "height": millimetres("bun high", 30.0, 10.0, 40.0),
                          "disc": millimetres("disc wide", 80.0, 40.0, 150.0)})  # fmt: skip

    def _work(self):
        return Dome(self._value("width") / 20, self._value("height") / 10), self._value("disc")

    def _draw(self, ax):
        return lesson_drawings.DiscOnDome(ax, self.result, 78, 48)

    @property
    def cover(self):
        """Share of the dome that the disc covers [%]: the disc's area on the dome's."""
        dome, disc = self.result
        return min(100.0, 100 * (disc / (10 * dome.whole_disc)) ** 2)

    def _numbers(self):
        dome, disc = self.result
        return [
            ("disc that covers it all", f"{figure(10 * dome.whole_disc, 0)} mm", "", "wide"),
            (
                "the bun beneath",
                f"{figure(20 * dome.radius, 0)} mm",
                "",
                f"wide, {figure(10 * dome.height, 0)} mm high",
            ),
            ("this disc covers", f"{figure(self.cover, 0)} %", "", "of the dome"),
        ]

    def _sentence(self):
        dome, disc = self.result
        missing = 10 * dome.whole_disc - disc
        end = f"it is {figure(missing, 0)} mm too small to reach the tray" if missing > 0.5 else "it reaches the tray"
        return (
            f"A disc {figure(disc, 0)} mm wide on a bun {figure(20 * dome.radius, 0)} mm wide and "
            f"{figure(10 * dome.height, 0)} mm high covers {figure(self.cover, 0)} % of the dome; {end}. Geometry of a "
            "round piece before it proofs, not a verdict on your crust."
        )
