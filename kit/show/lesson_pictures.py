"""The pictures of the lessons: each asks first where something will stand, then shows it and follows its dials."""

from dataclasses import dataclass
from typing import Any

import ipywidgets as widgets

from ..balance import hydration, measure, total_hydration
from ..errors import AmountError, KitError, must
from ..formula import Formula
from ..lessons import Exercise
from ..lessons.kinds import holds
from ..lessons.steps import told
from ..process.dome import Dome
from ..tables import table
from ..words import figure, kept, listing, one_of, signed
from .charts import Bars
from .drawings import DiscOnDome
from .panel import Dial, Panel, button, status

PICTURES = {row.picture: row for row in table("lesson_pictures").rows}
OF_KIND = {kind: row.picture for row in PICTURES.values() for kind in row.kinds.split()}  # of an exercise's plain case
KINDS = {"%": ("percentage", 1), "points": ("percentage", 1), "g": ("mass", 1), "mm": ("length", 10)}


@dataclass(frozen=True)
class Seen:
    """What a picture shows, where its mark belongs, and what its words say of it."""

    at: Any  # the row, or the part of a drawing, that the mark is set on
    answer: float  # where it stands
    shown: Any  # the chart's value
    before: Any  # the same while it is asked
    said: dict[str, Any]  # for the slots of its words


def _seen(at, shown, said, answer=None, before=None, unseen=()):
    """Return the Seen of bars: while it is asked, the row of the mark is not seen, nor what else would tell it."""
    hidden = {row: (dict.fromkeys(shown[row][0], 0), "?") for row in (at, *unseen)}
    answer = sum(shown[at][0].values()) if answer is None else answer
    return Seen(at, answer, shown, (before or shown) | hidden, said)


def _made(lines):
    return Formula.from_weights("bun", lines)


def _what_is_100(lines=None, ingredient="sugar", **topping):
    lines = lines or topping
    base = {name: grams for name, grams in lines.items() if "flour" in name or name == "cocoa"}
    named, whole, amount = listing(base), sum(base.values()), lines[ingredient]
    share = 100 * amount / whole
    parts = {name: 100 * grams / whole for name, grams in base.items()}
    shown = {named: (parts, "100 %"), ingredient: ({ingredient: share}, f"{figure(share)} %")}
    said = {"base": named, "ingredient": ingredient, "amount": round(amount), "whole": round(whole), "share": share}
    return _seen(ingredient, shown, said)


def _flour_is_100(lines, **_):
    flour = sum(value for name, value in lines.items() if "flour" in name)
    total = measure(_made(lines), "total_percentage")
    parts = {name.split()[-1]: 100 * value / flour for name, value in lines.items() if "flour" not in name}
    parts = {"flour": 100.0} | {name: value for name, value in parts.items() if value > 5}
    parts |= {"rest": total - sum(parts.values())}
    of_dough = {name: 100 * value / total for name, value in parts.items()}
    shown = {"% of flour": (parts, f"{figure(total)} %"), "% of dough": (of_dough, "100 %: the dough")}
    return _seen("% of dough", shown, {"total": total, "flour": of_dough["flour"]}, of_dough["flour"])


def _water_hides(lines, **_):
    lines = {name: 100 * value / lines["flour"] for name, value in lines.items()}
    poured, total = hydration(_made(lines)), total_hydration(_made(lines))
    wet = {n: v for n, v in lines.items() if "flour" not in n and holds(n, "water") > 15}
    water = {name: value * holds(name, "water") / 100 for name, value in wet.items()}
    hidden = [name for name in wet if name not in ("milk", "water")]
    of_poured = total - sum(water[name] for name in hidden)
    shown, before = {}, {}
    for name, value in wet.items():
        in_words = f"{figure(water[name])} of {figure(value)}"
        shown[name] = {"water": water[name], "no water": value - water[name]}, in_words
        before[name] = {"water": 0, "no water": value}, figure(value)
    shown["all water"] = water, f"{figure(total)} %"
    said = {"poured": poured, "solids": poured - of_poured, "of_poured": of_poured, "hidden": listing(hidden)}
    return _seen("all water", shown, said | {"hides": total - of_poured, "total": total}, total, before)


def _exchange(before, after):
    sides = {"before": before, "after": after}
    water = {row: {n: v * holds(n, "water") / 100 for n, v in lines.items()} for row, lines in sides.items()}
    had, has = (sum(parts.values()) for parts in water.values())
    shown = {row: (parts, f"{figure(sum(parts.values()))} %") for row, parts in water.items()}
    more = {name: water["after"][name] - water["before"][name] for name in before}
    changed = [name for name in before if after[name] != before[name]]
    each = (f"{name} {signed(after[name] - before[name])} is water {signed(more[name], 2)}" for name in changed)
    return _seen("after", shown, {"changes": listing(each), "rise": figure(has - had, 2)})


def _richer(liquid, poured, **moved):
    names = [name for name in ("egg", "butter") if f"{name}_after" in moved]
    before, after = ({name: moved[f"{name}_{when}"] for name in names} for when in ("before", "after"))
    return _exchange({liquid: poured} | before, {liquid: poured} | after)


def _milk_for_egg(egg, milk, **_):
    return _exchange({"egg": egg, "milk": 0}, {"egg": 0, "milk": milk})


def _folded_in(share, of_sponge, liquid, name="milk", asked="final dough", **_):
    total = _made({"bread flour": 100.0, name: liquid})
    made = total.with_preferment("sponge", share, {name: of_sponge})
    first, left = (float(made.part(part).percentage(made.ingredients.find(name))) for part in ("sponge", "dough"))
    flour, whole = 100 - share, hydration(made)

    def on(much, base):
        return f"{figure(much)} on {figure(base)}: {figure(100 * much / base)} %"

    sponge = {"sponge flour": share, f"sponge {name}": first}
    both = {"sponge flour": share, "flour": flour, f"sponge {name}": first, name: left}
    shown = {
        "sponge": (sponge, on(first, share)),
        "final dough": ({"flour": flour, name: left}, on(left, flour)),
        "total formula": (both, on(whole, 100)),
    }
    before = shown | {"total formula": (both | {"flour": 100, name: liquid} | dict.fromkeys(sponge, 0), "")}
    said = {"share": float(share), "first": first, "liquid": float(liquid), "name": name, "flour": float(flour)}
    return _seen(asked, shown, said | {"left": left, "whole": whole, "asked": asked}, before=before)


def _both_bowls(final_flour, final_liquid, sponge_flour, sponge_liquid, liquid):
    """Return the figures of that picture for two bowls that are added up."""
    flour = (final_flour + sponge_flour) / 100
    of = {"share": sponge_flour / flour, "of_sponge": 100 * sponge_liquid / sponge_flour}
    return of | {"liquid": (final_liquid + sponge_liquid) / flour, "name": liquid, "asked": "total formula"}


def _what_is_left(baked, loss, **_):
    part = 1 - loss / 100
    raw, added = baked / part, baked * (1 + loss / 100)
    shown = {
        "baked": ({"bun": baked}, f"{figure(baked, 0)} g"),
        "raw": ({"bun": baked, "lost": raw - baked}, f"{figure(raw)} g: {figure(raw - baked)} lost"),
        "baked + loss": ({"bun": baked, "added": added - baked}, f"{figure(added)} g: too little"),
    }
    said = {"loss": round(loss), "kept": round(100 * part), "part": figure(part, 2), "baked": round(baked), "raw": raw}
    return _seen("raw", shown, said | {"added": added, "back": added * part}, unseen=["baked + loss"])


def _disc_reaches_sides(width, height, disc):
    dome = Dome(width / 20, height / 10)
    whole = 10 * dome.whole_disc
    on_tray = max(0.0, (width**2 + disc**2 - whole**2) ** 0.5 / 2 - width / 2) if disc > whole else 0.0  # area for area
    reach = f"it is {figure(whole - disc, 0)} mm too small to reach the tray"
    if whole - disc < 0.5:
        reach = f"it reaches the tray, and {figure(on_tray, 0)} mm of it lie there all round"
    covers = round(min(100, 100 * (disc / whole) ** 2))  # the disc's area on the dome's
    said = {"width": round(width), "height": round(height), "disc": round(disc), "covers": covers, "reach": reach}
    return Seen("", whole, (dome, disc, on_tray), (dome, None, 0.0), said)


WORK = {
    "what is 100": _what_is_100,
    "flour is 100": _flour_is_100,
    "sponge folded in": _folded_in,
    "water hides": _water_hides,
    "milk for egg": _milk_for_egg,
    "richer dough": _richer,
    "what is left": _what_is_left,
    "disc reaches sides": _disc_reaches_sides,
}


def _cells(text):
    """Return the cells "name = value" of a text as {name: number, or a word}."""
    cells = dict(cell.split(" = ") for cell in text.split("; ") if cell)
    return {name: float(value) if value[0].isdigit() else value for name, value in cells.items()}


def picture_for(task):
    """Return the LessonPicture of an Exercise, which asks first; None where none helps, or a level takes it away."""
    return LessonPicture(OF_KIND[task.kind], task) if task.level == 1 and task.kind in OF_KIND else None


class LessonPicture(Panel):
    """A picture of the lessons, by name: it asks first where something will stand, then shows it and moves.

    name: "what is 100", "flour is 100", "sponge folded in", "water hides", "milk for egg", "richer dough", "what is
    left" or "disc reaches sides"; exercise: an Exercise whose numbers it shows, still, once `reveal` is called. Raises
    UnknownName.
    """

    def __init__(self, name: str, exercise: Exercise | None = None) -> None:
        self.picture_of = PICTURES[one_of("name", name, PICTURES, "choose a picture")]
        self.exercise, self.asking, dials = exercise, True, {}
        if exercise is not None:
            self.given = _both_bowls(**exercise.figures) if exercise.kind == "folded_in" else exercise.figures
        else:
            lines, numbers = _cells(self.picture_of.lines), _cells(self.picture_of.numbers)
            self.given, moves = numbers | ({"lines": lines} if lines else {}), _cells(self.picture_of.moves)
            dials = {each: _dial(called, (numbers | lines)[each]) for each, called in moves.items()}
        self.chart, self.highest = DiscOnDome if name == "disc reaches sides" else Bars, 150.0
        if self.chart is Bars:
            ends = ({}, *({name: dial.high} for name, dial in dials.items()))
            self.highest = 1.25 * max(self._longest(moved) for moved in ends)
        self.mark = _dial(f"your mark, {self.picture_of.unit}", 0, self.highest)
        super().__init__(dials | {"mark": self.mark})
        self.show_button = button("show", "See where it stands", self.reveal)
        self.asks = widgets.HTML()
        buttons = [self.show_button, self.undo_button, self.reset_button]
        self._begin(self.asks, [*(dial.view for dial in self.dials.values()), *buttons])

    def _worked(self, moved):
        lines = {"lines": self.given["lines"] | moved} if "lines" in self.given else moved
        return WORK[self.picture_of.picture](**(self.given | lines))

    def _told(self, words):
        """Return words of the picture with what is seen in their slots: whole numbers as such, others to a tenth."""
        seen = self.result.said.items()
        said = {
            name: each if isinstance(each, str) else figure(each, 0 if isinstance(each, int) else 1)
            for name, each in seen
        }
        return kept(told(words, said))

    def _longest(self, moved):
        """Return how long the longest row is; 0 where that cannot be."""
        try:
            return max(sum(parts.values()) for parts, _ in self._worked(moved).shown.values())
        except KitError:
            return 0

    def reveal(self):
        """Show where it stands, beside the mark that was set: what is drawn moves there."""
        self.add_class("kit-moves")
        self.asking = False
        self._history.clear()
        self.start = self._state()
        self._recompute(None)

    def _idle(self):
        return [name for name in self.dials if (name == "mark") != self.asking]

    def _hide(self):
        super()._hide()
        self.asks.value = status(self._told(self.picture_of.asks)) if self.asking else ""
        here = self.exercise is None or self.exercise.stage == "worked"  # else the card shows it, once it is answered
        self.show_button.layout.display = None if self.asking and here else "none"
        for each in (self.undo_button, self.reset_button):
            each.layout.display = "none" if self.asking or len(self.dials) == 1 else None

    def _check_typed(self, name, value):
        dial = self.dials[name]
        if value > dial.high:
            most, got = (f"{figure(v)} {dial.unit}" for v in (dial.high, value))
            raise AmountError(must(dial.label, f"at most {most} in this picture", got, "type less"))

    def _work_out(self, moving):
        if moving:  # by a dial, which it follows at once
            self.remove_class("kit-moves")
        return self._worked({name: dial.value for name, dial in self.dials.items() if name != "mark"})

    def _charts(self):
        seen = self.result
        beside = {"title": self.picture_of.title, "highest": self.highest, "mark": (seen.at, self.mark.value)}
        return [(self.chart, seen.before if self.asking else seen.shown, beside)]

    def _numbers(self):
        return []

    def _words(self):
        if self.asking:
            return [""]  # a place kept for them, so that the marks stay in the page and can move
        seen, mark = self.result, f"{figure(self.mark.value)} {self.picture_of.unit}"
        set_at = f"Your mark is at {mark}; it is {figure(seen.answer)}. " if self.mark.value else ""
        return [kept(set_at) + self._told(self.picture_of.words)]

    @property
    def alt(self):
        """The figure in words."""
        asked = f"{self._told(self.picture_of.asks)} Your mark is at {figure(self.mark.value)}."
        return (asked,) if self.asking else tuple(self._words())


def _dial(called, value, high=None):
    """Return the Dial of a number, from half of it to half as much again, or from 0 to `high`."""
    label, unit = called.rsplit(", ", 1)
    kind, per = KINDS[unit]
    return Dial(
        label, value, 0 if high else value / 2, high or value * 1.5, 1 if unit in "g mm" else 0.5, unit, kind, per
    )
