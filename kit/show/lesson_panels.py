"""What a learner sees: an exercise to answer, progress by skill, and pictures that move with one to three dials."""

import json

import ipywidgets as widgets
import traitlets
from IPython.display import Javascript, display

from .. import page
from ..balance import hydration, total_hydration, total_percentage
from ..errors import AmountError, KitError, must
from ..formula import Formula
from ..lessons import Progress, mark, next_exercise, read_progress
from ..lessons.kinds import LESSONS, holds
from ..lessons.marking import NO_BASE
from ..process.dome import Dome
from ..words import figure, kept, listing, one_of, plural
from . import lesson_drawings, look
from .panel import ROW, Dial, Panel, radio, status, tiles

AGAIN = "That answer is marked already: change it, ask for the hint, or go on with next."
WIDE = {"width": "100%", "max_width": "760px", "overflow": "hidden"}
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
        acts = {
            "mark": ("Mark this answer; Enter does the same", self.mark),
            "hint": ("Show a hint", self.hint),
            "next": ("Go on", self.next),
        }
        self.buttons = {}
        for name, (words, act) in acts.items():
            button = widgets.Button(description=name, tooltip=words, layout={"width": "84px"})
            button.on_click(lambda _, act=act: act())
            self.buttons[name] = button
        self.buttons["mark"].add_class("kit-mark")
        self.buttons["mark"].button_style = "primary"
        written = widgets.Box([self.answer, self.choice, self._sent], layout=ROW)
        pressed = widgets.Box(list(self.buttons.values()), layout=ROW)
        super().__init__([self._told, self._head, written, pressed, self._feedback], layout=WIDE, progress=start)
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

    def _ipython_display_(self):
        display(self._repr_mimebundle_(), raw=True)
        display(_KEYS)


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


class ProgressView(widgets.VBox):
    """Progress by skill: first tries right and wrong as bars, kinds met, and what comes back soon.

    of: an ExerciseCard, which it follows, or a Progress; lesson 1, 2, 3, its name, or None for all.
    """

    def __init__(self, of, lesson=None):
        self.lesson = _lesson(lesson)
        self._shown = widgets.HTML()
        super().__init__([self._shown], layout=WIDE)
        if not isinstance(of, Progress):
            of.observe(lambda change: self._show(change["new"]), "progress")
            of = of.progress
        self._show(of)

    def _show(self, progress):
        self.progress = progress
        self._shown.value = self._repr_html_()

    def _repr_html_(self):
        frame = self.progress.to_frame()
        frame = frame[frame["lesson"] == self.lesson] if self.lesson else frame
        said = self.progress.words if self.progress.answered else "Nothing answered yet: begin with the exercise."
        rows = "".join(_skill(row) for row in frame.to_dict("records"))
        return (
            f'{status(said)}<div style="color:{look.INK};font-size:14px;line-height:1.4;display:grid;'
            f'grid-template-columns:max-content 1fr;column-gap:12px;align-items:center">{rows}</div>'
        )


def _skill(row):
    """Return one skill as a bar of first tries [count]: right in the answer's colour, wrong hollow, and in words."""
    right, wrong = row["right at first"], row["wrong at first"]
    told = f"{plural(row['tried'], 'kind')} of {row['kinds']} met"
    if right + wrong:
        told += f"; first tries: {right} right, {wrong} wrong"
    if row["past level 1"]:
        told += f"; {row['past level 1']} past level 1"
    box = '<span style="display:inline-block;width:11px;height:11px;margin-right:2px;border:1px solid'
    filled, hollow = (f'{box} {look.ACCENT};background:{colour}"></span>' for colour in (look.ACCENT, "#fff"))
    boxes = "".join(([filled] * right + [hollow] * wrong)[:30])
    return (
        f'<span style="font-weight:600">{page.escape(row["skill"])}</span><span>{boxes} '
        f'<span style="color:{look.QUIET};font-size:13px">{page.escape(told)}</span></span>'
    )


# pictures that move

BUN = {
    "bread flour": 100.0,
    "milk": 32.0,
    "water": 14.0,
    "egg": 16.0,
    "butter": 18.0,
    "sugar": 16.0,
    "salt": 1.6,
    "fresh yeast": 4.0,
}


class _Picture(Panel):
    """One figure and the few dials that move it.

    A picture says its `controls`, {name: arguments of Dial}; `_work` takes their values and returns what the drawing
    shows, the numbers under it [(name, value, base)] and the sentence, all worked out by the kit.
    """

    size = (640, 250)  # [px]
    place = (0.135, 0.02, 0.85, 0.87)

    def __init__(self):
        super().__init__({name: Dial(*given) for name, given in self.controls.items()})
        self.start = self._state()
        self.result = self._work(**self.start)
        chart = look.figure(*self.size)
        self._drawn = self._draw(chart.add_axes(self.place), self.result[0])
        self._lay((chart,))
        self._show()
        if max(len(dial.label) for dial in self.dials.values()) > 12:
            for dial in self.dials.values():
                dial.view.layout.flex = "1 1 380px"  # two in a row: the names are long
        dials = widgets.Box([dial.view for dial in self.dials.values()], layout=ROW)
        buttons = widgets.Box([self.undo_button, self.reset_button], layout=ROW)
        self.children = [self._still, dials, buttons, self._problem, self._live]

    def _check_typed(self, name, value):
        dial = self.dials[name]
        if value > dial.high:
            most, got = (f"{figure(v)} {dial.unit}" for v in (dial.high, value))
            raise AmountError(must(dial.label, f"at most {most} in this picture", got, "type less"))

    def _update(self, moving):
        self.result = self._work(**self._state())
        self._drawn.update(self.result[0])
        self._show()

    def _show(self):
        _, numbers, sentence = self.result
        shown = tiles((name, value, "", base) for name, value, base in numbers)
        self._live.value = f'<div style="line-height:1.35">{shown}{self._marks()}{status(kept(sentence))}</div>'

    @property
    def alt(self):
        """The figure in words."""
        return self.result[2:]


class FlourIs100(_Picture):
    """A dough's lines on 100 flour beside the same on 100 dough: move one and see which of the others move."""

    controls = {
        "milk": ("milk", BUN["milk"], 0.0, 45.0, 0.5),
        "butter": ("butter", BUN["butter"], 0.0, 30.0, 0.5),
        "sugar": ("sugar", BUN["sugar"], 0.0, 25.0, 0.5),
    }

    def _draw(self, ax, shown):
        return lesson_drawings.flour_is_100(ax, shown, 275)

    def _work(self, milk, butter, sugar):
        dough = Formula.from_weights("bun", BUN | {"milk": milk, "butter": butter, "sugar": sugar}).vary(water=0)
        total = total_percentage(dough)
        lines = {"flour": 100.0, "milk": milk, "egg": BUN["egg"], "fat": butter, "sugar": sugar}
        lines["rest"] = total - sum(lines.values())
        of_dough = {name: 100 * value / total for name, value in lines.items()}
        numbers = [
            ("flour", "100 %", "of total flour, always"),
            ("total percentage", f"{figure(total)} %", "of total flour"),
            ("butter", f"{figure(butter)} %", "of total flour"),
            ("the same butter", f"{figure(of_dough['fat'])} %", "of dough"),
            ("flour for 1,000 g of dough", f"{figure(100_000 / total, 0)} g", "1,000 x 100 / total"),
        ]
        sentence = (
            f"On 100 flour there are milk {figure(milk)}, butter {figure(butter)} and sugar {figure(sugar)}; all lines "
            f"together are {figure(total)} %. Of the dough the flour is only {figure(of_dough['flour'])} %. The dashed "
            "line is 100. Move one dial: in the upper bar nothing else changes its size, in the lower bar everything "
            "does."
        )
        return (lines, of_dough), numbers, sentence


class WaterHides(_Picture):
    """What is weighed beside the water in it, ingredient by ingredient: egg, butter and yeast bring some too."""

    size = (640, 300)
    place = (0.075, 0.09, 0.915, 0.82)
    controls = {
        "milk": ("milk", BUN["milk"], 0.0, 50.0, 0.5),
        "egg": ("egg", BUN["egg"], 0.0, 40.0, 0.5),
        "butter": ("butter", BUN["butter"], 0.0, 50.0, 0.5),
    }

    def _draw(self, ax, shown):
        return lesson_drawings.Glasses(ax, shown, 58)

    def _work(self, **moved):
        lines = BUN | moved
        dough = Formula.from_weights("bun", lines)
        poured, total = (f"{figure(of(dough))} %" for of in (hydration, total_hydration))
        names = ("milk", "water", "egg", "butter", "fresh yeast")
        wet = {name: (lines[name], lines[name] * holds(name, "water") / 100) for name in names}
        hidden = sum(wet[name][1] for name in ("egg", "butter", "fresh yeast"))
        numbers = [
            ("hydration", poured, "of total flour, as poured: milk and water"),
            ("total hydration", total, "of total flour, all water but the flour's own"),
            ("hidden", f"{figure(hidden)} %", "of total flour: in egg, butter and yeast"),
        ]
        told = listing(f"{name} {figure(water)} of {figure(weighed)}" for name, (weighed, water) in wet.items())
        sentence = f"Water, % of total flour: {told}. Poured liquid as weighed makes {poured}, all water {total}."
        return wet, numbers, sentence


class MilkForEgg(_Picture):
    """Egg replaced by milk, weight for weight: the water rises, since egg holds less of it."""

    size = (640, 190)
    place = (0.09, 0.02, 0.9, 0.83)
    controls = {
        "egg": ("egg", 20.0, 0.0, 30.0, 0.5),
        "moved": ("egg replaced by milk", 10.0, 0.0, 30.0, 0.5, "points"),
    }

    def _draw(self, ax, shown):
        return lesson_drawings.milk_for_egg(ax, shown, 66)

    def _work(self, egg, moved):
        if moved > egg:
            most = f"at most the egg there is, {figure(egg)} points"
            raise AmountError(must("egg replaced by milk", most, f"{figure(moved)} points", "less"))
        before, after = {"milk": 30.0, "egg": egg}, {"milk": 30.0 + moved, "egg": egg - moved}
        doughs = (Formula.from_weights("bun", {"bread flour": 100.0} | side) for side in (before, after))
        had, has = (total_hydration(dough) for dough in doughs)
        more = f"{figure(has - had, 2)} points"
        numbers = [
            ("water rises by", more, "of total flour"),
            ("egg", f"{figure(after['egg'])} %", f"of total flour, before {figure(egg)}"),
            ("milk", f"{figure(after['milk'])} %", f"of total flour, before {figure(before['milk'])}"),
        ]
        of_milk, of_egg = (figure(holds(name, "water")) for name in ("milk", "egg"))
        sentence = (
            f"100 g of milk hold {of_milk} g of water, 100 g of egg {of_egg} g. Of {figure(egg)} % egg, "
            f"{figure(moved)} points replaced by as much milk bring {more} more water; the egg's fat and solids go."
        )
        water = [{name: value * holds(name, "water") / 100 for name, value in side.items()} for side in (before, after)]
        return water, numbers, sentence


class SpongeFoldedIn(_Picture):
    """Sponge and final dough beside the total formula that they come from: it stays as it is, the bowls share it."""

    size = (640, 260)
    place = (0.14, 0.02, 0.85, 0.87)
    controls = {
        "share": ("flour in the sponge", 30.0, 5.0, 60.0, 1.0),
        "own": ("milk on the sponge's flour", 80.0, 50.0, 110.0, 1.0),
        "milk": ("milk in all", 50.0, 40.0, 65.0, 1.0),
    }

    def _draw(self, ax, shown):
        return lesson_drawings.FoldedIn(ax, shown, 215)

    def _work(self, share, own, milk):
        total = Formula.from_weights("bun", {"bread flour": 100.0, "milk": milk, "fresh yeast": 4.0})
        made = total.with_preferment("sponge", share, {"milk": own})
        sponge, final = (
            [float(made.part(name).percentage(made.ingredients.find(line))) for line in ("bread flour", "milk")]
            for name in ("sponge", "dough")
        )
        whole = f"{figure(hydration(made))} %"
        flour, left = (figure(value) for value in final)
        numbers = [
            ("prefermented flour", f"{figure(share)} %", "of total flour"),
            ("milk for the final dough", f"{left} %", f"of total flour: {figure(milk)} - {figure(sponge[1])}"),
            ("the final dough's own", f"{figure(100 * final[1] / final[0])} %", "milk on the flour that goes in there"),
            ("hydration of the whole", whole, "of total flour, whatever the bowls"),
        ]
        sentence = (
            f"The sponge takes {figure(share)} of the 100 flour and {figure(sponge[1])} of the milk; {flour} flour and "
            f"{left} milk are left for the final dough. Folded in, the whole has {whole} of total flour, as before."
        )
        return (sponge, final), numbers, sentence


class DiscReachesSides(_Picture):
    """A bun under its disc of topping: a disc as wide as the bun leaves the sides bare."""

    size = (640, 330)
    place = (0.02, 0.125, 0.96, 0.8)
    controls = {
        "width": ("bun, flattened, wide", 80.0, 50.0, 120.0, 1.0, "mm", "length", 10),
        "height": ("bun high", 30.0, 10.0, 40.0, 1.0, "mm", "length", 10),
        "disc": ("disc wide", 80.0, 40.0, 150.0, 1.0, "mm", "length", 10),
    }

    def _draw(self, ax, shown):
        return lesson_drawings.DiscOnDome(ax, shown, 78, 48)

    def _work(self, width, height, disc):
        dome = Dome(width / 20, height / 10)
        whole = 10 * dome.whole_disc
        covers = f"{figure(min(100, 100 * (disc / whole) ** 2), 0)} %"  # the disc's area on the dome's
        wide, high = f"{figure(width, 0)} mm wide", f"{figure(height, 0)} mm high"
        numbers = [
            ("disc that covers it all", f"{figure(whole, 0)} mm", "wide"),
            ("the bun beneath", f"{figure(width, 0)} mm", f"wide, {high}"),
            ("this disc covers", covers, "of the dome"),
        ]
        missing = f"it is {figure(whole - disc, 0)} mm too small to reach the tray"
        sentence = (
            f"A disc {figure(disc, 0)} mm wide on a bun {wide} and {high} covers {covers} of the dome; "
            f"{missing if whole - disc > 0.5 else 'it reaches the tray'}. Geometry of a round piece before it proofs, "
            "not a verdict on your crust."
        )
        return (dome, disc), numbers, sentence
