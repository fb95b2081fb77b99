"""The pictures of the lessons: each asks first where something will stand, then shows it and follows its dials."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import ipywidgets as widgets

from ..balance import hydration, measure, total_hydration
from ..errors import AmountError, KitError, must
from ..formula import Formula
from ..lessons import Exercise
from ..lessons.kinds import holds
from ..process.dome import Dome
from ..words import capital, figure, kept, listing, one_of, signed
from .chart import Chart
from .lesson_drawings import Bars, DiscOnDome
from .panel import Dial, Panel, button, status

BUN = {"flour": 100, "milk": 32, "water": 14, "egg": 16, "butter": 18, "sugar": 16, "salt": 1.6, "fresh yeast": 4}
OF_FLOUR = "of total flour"


@dataclass(frozen=True)
class Seen:
    """What a picture asks, where its mark belongs, what it then shows, and what it shows until then."""

    asks: str
    at: Any  # the row, or the part of a drawing, that the mark is set on
    answer: float  # where it stands
    shown: Any  # the chart's value
    before: Any  # the same while it is asked
    words: str


def _unseen(shown, *rows):
    """Return rows of bars of which these are not seen yet."""
    return shown | {row: (dict.fromkeys(shown[row][0], 0), "?") for row in rows}


def _made(lines):
    return Formula.from_weights("bun", lines)


def _what_is_100(lines=None, ingredient="sugar", **topping):
    lines = lines or topping
    base = {name: grams for name, grams in lines.items() if "flour" in name or name == "cocoa"}
    named = listing(base)
    whole, amount = sum(base.values()), lines[ingredient]
    per_cent = f"{figure(100 * amount / whole)} %"
    shown = {
        named: ({name: 100 * grams / whole for name, grams in base.items()}, "100 %"),
        ingredient: ({ingredient: 100 * amount / whole}, per_cent),
    }
    words = f"{capital(ingredient)}: {figure(amount, 0)} / {figure(whole, 0)} = {per_cent} of {named}."
    asks = f"{capital(named)}: 100. Where will the {ingredient} end?"
    return Seen(asks, ingredient, 100 * amount / whole, shown, _unseen(shown, ingredient), words)


def _flour_is_100(lines, **_):
    flour = sum(value for name, value in lines.items() if "flour" in name)
    total = measure(_made(lines), "total_percentage")
    parts = {name.split()[-1]: 100 * value / flour for name, value in lines.items() if "flour" not in name}
    parts = {"flour": 100.0} | {name: value for name, value in parts.items() if value > 5}
    parts |= {"the rest": total - sum(parts.values())}
    of_dough = {name: 100 * value / total for name, value in parts.items()}
    shown = {"% of flour": (parts, f"{figure(total)} %"), "% of dough": (of_dough, "100 %: the dough")}
    words = (
        f"All lines together are {figure(total)} % of flour. Of the dough the flour is only "
        f"{figure(of_dough['flour'])} %. Move one line: on flour that line alone changes, on dough all do."
    )
    asks = "Count the whole dough as 100. Where will the flour end?"
    return Seen(asks, "% of dough", of_dough["flour"], shown, _unseen(shown, "% of dough"), words)


def _water_hides(lines, **_):
    lines = {name: 100 * value / lines["flour"] for name, value in lines.items()}
    poured, total = hydration(_made(lines)), total_hydration(_made(lines))
    wet = {n: v for n, v in lines.items() if "flour" not in n and holds(n, "water") > 15}
    water = {name: value * holds(name, "water") / 100 for name, value in wet.items()}
    hidden = [name for name in wet if name not in ("milk", "water")]
    of_poured = total - sum(water[name] for name in hidden)
    rows = {name: {"water": water[name], "no water": value - water[name]} for name, value in wet.items()}
    shown = {name: (parts, f"{figure(water[name])} of {figure(wet[name])}") for name, parts in rows.items()}
    before = {name: ({"water": 0, "no water": value}, figure(value)) for name, value in wet.items()}
    in_all = {"all water": (water, f"{figure(total)} %")}
    words = (
        f"Poured liquid as weighed is {figure(poured)} % of total flour; {figure(poured - of_poured)} of it are the "
        f"milk's fat and solids, so {figure(of_poured)} are water. {capital(listing(hidden))} hide "
        f"{figure(total - of_poured)} more: all water is {figure(total)} %."
    )
    asks = "How much of each is water? Where will all the water end?"
    return Seen(asks, "all water", total, shown | in_all, before | _unseen(in_all, "all water"), words)


def _exchange(before, after):
    water = {
        row: {name: value * holds(name, "water") / 100 for name, value in lines.items()}
        for row, lines in (("before", before), ("after", after))
    }
    had, has = (sum(parts.values()) for parts in water.values())
    more = {name: water["after"][name] - water["before"][name] for name in before}
    changed = [name for name in before if after[name] != before[name]]
    shown = {row: (parts, f"{figure(sum(parts.values()))} %") for row, parts in water.items()}
    told = listing(f"{name} {signed(after[name] - before[name])} is water {signed(more[name], 2)}" for name in changed)
    words = f"{capital(told)}: all water rises by {figure(has - had, 2)} points of flour, unless some is taken out."
    asks = "Where will the water of these stand after the exchange?"
    return Seen(asks, "after", has, shown, _unseen(shown, "after"), words)


def _richer(liquid, poured, **moved):
    before, after = (
        {liquid: poured} | {name: moved[f"{name}_{when}"] for name in ("egg", "butter") if f"{name}_{when}" in moved}
        for when in ("before", "after")
    )
    return _exchange(before, after)


def _milk_for_egg(egg, milk, **_):
    return _exchange({"egg": egg, "milk": 0}, {"egg": 0, "milk": milk})


def _folded_in(share, of_sponge, liquid, name="milk", asked="final dough", **_):
    total = Formula.from_weights("bun", {"bread flour": 100.0, name: liquid})
    made = total.with_preferment("sponge", share, {name: of_sponge})
    first, left = (float(made.part(part).percentage(made.ingredients.find(name))) for part in ("sponge", "dough"))
    flour, whole = 100 - share, hydration(made)

    def on(much, base):
        return f"{figure(much)} on {figure(base)}: {figure(100 * much / base)} %"

    sponge, final = {"sponge flour": share, f"sponge {name}": first}, {"flour": flour, name: left}
    both = {"sponge flour": share, "flour": flour, f"sponge {name}": first, name: left}
    shown = {
        "sponge": (sponge, on(first, share)),
        "final dough": (final, on(left, flour)),
        "total formula": (both, on(whole, 100)),
    }
    before = _unseen(shown, asked) | {
        "total formula": (both | {"flour": 100, name: liquid} | dict.fromkeys(sponge, 0), "")
    }
    words = (
        f"The sponge takes {figure(share)} of the 100 flour and {figure(first)} of the {figure(liquid)} {name}; "
        f"{figure(flour)} flour and {figure(left)} {name} are left. Both bowls together: {figure(whole)} % again."
    )
    asks = f"Where will the {asked} end, flour and {name} together?"
    if asked == "total formula":
        before = _unseen(shown, asked)
    return Seen(asks, asked, sum(shown[asked][0].values()), shown, before, words)


def _what_is_left(baked, loss, **_):
    kept_share = 1 - loss / 100
    raw, added = baked / kept_share, baked * (1 + loss / 100)
    wrong = "baked + loss"
    shown = {
        "baked": ({"bun": baked}, f"{figure(baked, 0)} g"),
        "raw": ({"bun": baked, "lost": raw - baked}, f"{figure(raw)} g: {figure(raw - baked)} lost"),
        wrong: ({"bun": baked, "added": added - baked}, f"{figure(added)} g: too little"),
    }
    words = (
        f"The loss is per cent of the raw weight, of which {figure(100 * kept_share, 0)} % are left: "
        f"{figure(baked, 0)} / {figure(kept_share, 2)} = {figure(raw)} g. {figure(loss, 0)} % added to the baked "
        f"weight are {figure(added)} g, and those bake to {figure(added * kept_share)} g."
    )
    asks = f"{figure(loss, 0)} % of the raw weight are lost. Where will the raw weight stand?"
    return Seen(asks, "raw", raw, shown, _unseen(shown, "raw", wrong), words)


def _disc_reaches_sides(width, height, disc):
    dome = Dome(width / 20, height / 10)
    whole = 10 * dome.whole_disc
    covers = f"{figure(min(100, 100 * (disc / whole) ** 2), 0)} %"  # the disc's area on the dome's
    on_tray = max(0.0, (width**2 + disc**2 - whole**2) ** 0.5 / 2 - width / 2) if disc > whole else 0.0  # area for area
    wide, high = f"{figure(width, 0)} mm wide", f"{figure(height, 0)} mm high"
    reach = f"it is {figure(whole - disc, 0)} mm too small to reach the tray"
    if whole - disc < 0.5:
        reach = f"it reaches the tray, and {figure(on_tray, 0)} mm of it lie there all round"
    words = (
        f"A disc {figure(disc, 0)} mm wide on a bun {wide} and {high} covers {covers} of the dome; {reach}. Geometry "
        "of a round piece before it proofs, not a verdict on your crust."
    )
    asks = f"A bun is {wide} and {high}. How wide is the disc that covers it all?"
    return Seen(asks, "", whole, (dome, disc, on_tray), (dome, None, 0.0), words)


@dataclass(frozen=True)
class Shown:
    """What a picture is made of: what it works out, its title, the numbers it begins with, and which of them move."""

    work: Callable[..., Seen]
    title: str
    begins: dict[str, Any]
    moves: dict[str, str] = field(default_factory=dict)  # {name: what it is called and its unit}
    unit: str = "%"  # of the mark
    chart: type[Chart] = Bars


def _each(*names):
    return {name: f"{name}, %" for name in names}


PICTURES = {
    "what is 100": Shown(
        _what_is_100,
        "One ingredient beside its 100, %",
        {"flour": 80, "cocoa": 20, "sugar": 85},
    ),
    "flour is 100": Shown(
        _flour_is_100,
        "One dough, counted in % of flour and in % of dough",
        {"lines": BUN},
        _each("milk", "butter", "sugar"),
    ),
    "sponge folded in": Shown(
        _folded_in,
        "Two bowls, one dough: flour and liquid, % of total flour",
        {"share": 30, "of_sponge": 80, "liquid": 50},
        {"share": "flour in the sponge, %", "of_sponge": "liquid on its flour, %", "liquid": "liquid in all, %"},
    ),
    "water hides": Shown(
        _water_hides,
        "Weighed (outline) and the water in it, % of total flour",
        {"lines": BUN},
        _each("milk", "egg", "butter"),
    ),
    "milk for egg": Shown(
        _milk_for_egg,
        "Water that each brings, % of total flour",
        {"egg": 20, "milk": 20},
        _each("egg", "milk"),
    ),
    "richer dough": Shown(
        _richer,
        "Water, poured and hidden, % of total flour",
        {"butter_before": 18, "butter_after": 28, "poured": 46, "liquid": "water"},
    ),
    "what is left": Shown(
        _what_is_left,
        "Baked, raw, and a loss that was added, g",
        {"baked": 75, "loss": 12},
        unit="g",
    ),
    "disc reaches sides": Shown(
        _disc_reaches_sides,
        "A bun from the side under its disc, to scale",
        {"width": 80, "height": 30, "disc": 80},
        {"width": "bun, flattened, wide, mm", "height": "bun high, mm", "disc": "disc wide, mm"},
        "mm",
        DiscOnDome,
    ),
}
KINDS = {"%": ("percentage", 1), "points": ("percentage", 1), "g": ("mass", 1), "mm": ("length", 10)}


def _both_bowls(final_flour, final_liquid, sponge_flour, sponge_liquid, liquid):
    flour = (final_flour + sponge_flour) / 100
    of = {"share": sponge_flour / flour, "of_sponge": 100 * sponge_liquid / sponge_flour}
    return of | {"liquid": (final_liquid + sponge_liquid) / flour, "name": liquid, "asked": "total formula"}


# Which picture shows the plain case of which kind of exercise.
OF_KIND = {
    "percentage_from_weight": "what is 100",
    "topping_base": "what is 100",
    "flour_from_dough": "flour is 100",
    "share_of_dough": "flour is 100",
    "final_dough": "sponge folded in",
    "folded_in": "sponge folded in",
    "hydration_as_weighed": "water hides",
    "all_water": "water hides",
    "hold_the_water": "richer dough",
    "milk_for_egg": "milk for egg",
    "raw_from_baked": "what is left",
}


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
        self.exercise, self.asking, self.given, dials = exercise, True, self.picture_of.begins, {}
        if exercise is not None:
            self.given = _both_bowls(**exercise.figures) if exercise.kind == "folded_in" else exercise.figures
        else:
            starts = self.given | self.given.get("lines", {})
            dials = {each: _dial(called, starts[each]) for each, called in self.picture_of.moves.items()}
        self.highest = 150.0
        if self.picture_of.chart is Bars:
            ends = ({}, *({name: dial.high} for name, dial in dials.items()))
            self.highest = 1.5 * max(self._longest(moved) for moved in ends)
        self.mark = _dial(f"your mark, {self.picture_of.unit}", 0, self.highest)
        super().__init__(dials | {"mark": self.mark})
        self.show_button = button("show", "See where it stands", self.reveal)
        self.asks = widgets.HTML()
        buttons = [self.show_button, self.undo_button, self.reset_button]
        self._begin(self.asks, [*(dial.view for dial in self.dials.values()), *buttons])

    def _worked(self, moved):
        lines = {"lines": self.given["lines"] | moved} if "lines" in self.given else moved
        return self.picture_of.work(**(self.given | lines))

    def _longest(self, moved):
        """Return how long the longest row is; 0 where that cannot be."""
        try:
            return max(sum(parts.values()) for parts, _ in self._worked(moved).shown.values())
        except KitError:
            return 0

    def reveal(self):
        """Show where it stands, beside the mark that was set."""
        self.asking = False
        self._history.clear()
        self.start = self._state()
        self._recompute(None)

    def _idle(self):
        return [name for name in self.dials if (name == "mark") != self.asking]

    def _hide(self):
        super()._hide()
        self.asks.value = status(kept(self.result.asks)) if self.asking else ""
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
        return self._worked({name: dial.value for name, dial in self.dials.items() if name != "mark"})

    def _charts(self):
        seen = self.result
        beside = {"title": self.picture_of.title, "highest": self.highest, "mark": (seen.at, self.mark.value)}
        return [(self.picture_of.chart, seen.before if self.asking else seen.shown, beside)]

    def _numbers(self):
        return []

    def _words(self):
        if self.asking:
            return []
        seen, mark = self.result, f"{figure(self.mark.value)} {self.picture_of.unit}"
        set_at = f"Your mark is at {mark}; it is {figure(seen.answer)}. " if self.mark.value else ""
        return [kept(set_at + seen.words)]

    @property
    def alt(self):
        """The figure in words."""
        return tuple(self._words()) or (f"{self.result.asks} Your mark is at {figure(self.mark.value)}.",)


def _dial(called, value, high=None):
    """Return the Dial of a number, from half of it to half as much again, or from 0 to `high`."""
    label, unit = called.rsplit(", ", 1)
    kind, per = KINDS[unit]
    return Dial(
        label, value, 0 if high else value / 2, high or value * 1.5, 1 if unit in "g mm" else 0.5, unit, kind, per
    )
