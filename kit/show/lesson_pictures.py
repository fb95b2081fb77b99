"""The pictures that move in the lessons: one figure, and the one to three dials that move it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from ..balance import hydration, measure, total_hydration
from ..errors import AmountError, must
from ..formula import Formula
from ..lessons.kinds import holds
from ..process.dome import Dome
from ..words import figure, kept, listing, one_of
from .chart import Chart
from .lesson_drawings import Bars, DiscOnDome
from .panel import Dial, Panel

BUN = {"flour": 100, "milk": 32, "water": 14, "egg": 16, "butter": 18, "sugar": 16, "salt": 1.6, "fresh yeast": 4}
OF_FLOUR = "of total flour"

# What each picture shows of its dials, the numbers under it [(name, value, base)] and its sentence, all by the kit.


def _flour_is_100(milk, butter, sugar):
    lines = BUN | {"milk": milk, "butter": butter, "sugar": sugar}
    total = measure(Formula.from_weights("bun", lines).vary(water=0), "total_percentage")
    parts = {"flour": 100.0, "milk": milk, "egg": lines["egg"], "butter": butter, "sugar": sugar}
    parts["salt, yeast"] = total - sum(parts.values())
    of_dough = {name: 100 * value / total for name, value in parts.items()}
    numbers = [
        ("flour", "100 %", "of total flour, always"),
        ("total percentage", f"{figure(total)} %", OF_FLOUR),
        ("butter", f"{figure(butter)} %", OF_FLOUR),
        ("the same butter", f"{figure(of_dough['butter'])} %", "of dough"),
        ("flour for 1,000 g of dough", f"{figure(100_000 / total, 0)} g", "1,000 x 100 / total"),
    ]
    sentence = (
        f"On 100 flour there are milk {figure(milk)}, butter {figure(butter)} and sugar {figure(sugar)}; all lines "
        f"together are {figure(total)} %. Of the dough the flour is only {figure(of_dough['flour'])} %. Move one dial: "
        "above only that line changes, below all do."
    )
    shown = {"% of flour": (parts, f"{figure(total)} %"), "% of dough": (of_dough, "100 %: the dough")}
    return shown, numbers, sentence


def _water_hides(**moved):
    lines = BUN | moved
    poured, total = (f"{figure(of(Formula.from_weights('bun', lines)))} %" for of in (hydration, total_hydration))
    wet = {n: lines[n] * holds(n, "water") / 100 for n in ("milk", "water", "egg", "butter", "fresh yeast")}
    hidden = sum(wet[name] for name in ("egg", "butter", "fresh yeast"))
    numbers = [
        ("hydration", poured, "of total flour, as poured: milk and water"),
        ("total hydration", total, "of total flour, all water but the flour's own"),
        ("hidden", f"{figure(hidden)} %", "of total flour: in egg, butter and yeast"),
    ]
    told = {name: f"{figure(water)} of {figure(lines[name])}" for name, water in wet.items()}
    said = listing(f"{name} {text}" for name, text in told.items())
    sentence = f"Water, % of total flour: {said}. Poured liquid as weighed makes {poured}, all water {total}."
    shown = {n: ({"water": water, "no water": lines[n] - water}, told[n]) for n, water in wet.items()}
    return shown, numbers, sentence


def _milk_for_egg(egg, moved):
    if moved > egg:
        most = f"at most the egg there is, {figure(egg)} points"
        raise AmountError(must("egg replaced by milk", most, f"{figure(moved)} points", "less"))
    sides = {"before": {"milk": 30.0, "egg": egg}, "after": {"milk": 30.0 + moved, "egg": egg - moved}}
    had, has = (total_hydration(Formula.from_weights("bun", {"flour": 100} | side)) for side in sides.values())
    more = f"{figure(has - had, 2)} points"
    numbers = [
        ("water rises by", more, OF_FLOUR),
        ("egg", f"{figure(egg - moved)} %", f"of total flour, before {figure(egg)}"),
        ("milk", f"{figure(30 + moved)} %", "of total flour, before 30.0"),
    ]
    of_milk, of_egg = (figure(holds(name, "water")) for name in ("milk", "egg"))
    sentence = (
        f"100 g of milk hold {of_milk} g of water, 100 g of egg {of_egg} g. Of {figure(egg)} % egg, "
        f"{figure(moved)} points replaced by as much milk bring {more} more water; the egg's fat and solids go."
    )
    water = {row: {n: value * holds(n, "water") / 100 for n, value in side.items()} for row, side in sides.items()}
    shown = {row: (parts, f"{figure(sum(parts.values()))} %") for row, parts in water.items()}
    return shown, numbers, sentence


def _sponge_folded_in(share, own, milk):
    total = Formula.from_weights("bun", {"bread flour": 100.0, "milk": milk, "fresh yeast": 4.0})
    made = total.with_preferment("sponge", share, {"milk": own})
    (flour_first, milk_first), (flour, left) = (
        [float(made.part(name).percentage(made.ingredients.find(line))) for line in ("bread flour", "milk")]
        for name in ("sponge", "dough")
    )
    whole = f"{figure(hydration(made))} %"
    numbers = [
        ("prefermented flour", f"{figure(share)} %", OF_FLOUR),
        ("milk for the final dough", f"{figure(left)} %", f"of total flour: {figure(milk)} - {figure(milk_first)}"),
        ("the final dough's own", f"{figure(100 * left / flour)} %", "milk on the flour that goes in there"),
        ("hydration of the whole", whole, "of total flour, whatever the bowls"),
    ]
    sentence = (
        f"The sponge takes {figure(share)} of the 100 flour and {figure(milk_first)} of the milk; {figure(flour)} "
        f"flour and {figure(left)} milk are left. Folded in, the whole has {whole} of total flour, as before."
    )
    sponge = {"sponge flour": flour_first, "sponge milk": milk_first}
    final = {"flour": flour, "milk": left}
    both = {"sponge flour": flour_first, "flour": flour, "sponge milk": milk_first, "milk": left}
    shown = {
        "sponge": (sponge, f"{figure(own, 0)} % milk on its flour"),
        "final dough": (final, f"{figure(100 * left / flour, 0)} % milk on its flour"),
        "total formula": (both, f"{figure(milk, 0)} % of total flour"),
    }
    return shown, numbers, sentence


def _disc_reaches_sides(width, height, disc):
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


@dataclass(frozen=True)
class Shown:
    """What a picture is made of: what it works out, the chart of that, and dials {name: arguments of Dial}."""

    work: Callable[..., Any]
    chart: type[Chart]
    beside: dict[str, Any]  # what the chart takes beside its value
    dials: dict[str, tuple[Any, ...]]


PICTURES = {
    "flour is 100": Shown(
        _flour_is_100,
        Bars,
        {"title": "One dough, counted in % of flour and in % of dough", "highest": 275, "line": 100},
        {name: (name, BUN[name], 0, most, 0.5) for name, most in (("milk", 45), ("butter", 30), ("sugar", 25))},
    ),
    "water hides": Shown(
        _water_hides,
        Bars,
        {"title": "Weighed, and the water in it, % of total flour", "highest": 62},
        {name: (name, BUN[name], 0, most, 0.5) for name, most in (("milk", 50), ("egg", 40), ("butter", 50))},
    ),
    "milk for egg": Shown(
        _milk_for_egg,
        Bars,
        {"title": "Water that egg and milk bring, % of total flour", "highest": 66},
        {"egg": ("egg", 20, 0, 30, 0.5), "moved": ("egg replaced by milk", 10, 0, 30, 0.5, "points")},
    ),
    "sponge folded in": Shown(
        _sponge_folded_in,
        Bars,
        {"title": "Two bowls, one dough: flour and milk, % of total flour", "highest": 215},
        {
            "share": ("flour in the sponge", 30, 5, 60, 1),
            "own": ("milk on the sponge's flour", 80, 50, 110, 1),
            "milk": ("milk in all", 50, 40, 65, 1),
        },
    ),
    "disc reaches sides": Shown(
        _disc_reaches_sides,
        DiscOnDome,
        {},
        {
            "width": ("bun, flattened, wide", 80, 50, 120, 1, "mm", "length", 10),
            "height": ("bun high", 30, 10, 40, 1, "mm", "length", 10),
            "disc": ("disc wide", 80, 40, 150, 1, "mm", "length", 10),
        },
    ),
}


class LessonPicture(Panel):
    """A picture of the lessons that moves with its dials, by name; what it shows is worked out by the kit.

    name: "flour is 100", "water hides", "milk for egg", "sponge folded in" or "disc reaches sides". Raises
    UnknownName.
    """

    def __init__(self, name: str) -> None:
        self.shown = PICTURES[one_of("name", name, PICTURES, "choose a picture")]
        super().__init__({name: Dial(*given) for name, given in self.shown.dials.items()})
        self._begin([dial.view for dial in self.dials.values()], [self.undo_button, self.reset_button])

    def _check_typed(self, name, value):
        dial = self.dials[name]
        if value > dial.high:
            most, got = (f"{figure(v)} {dial.unit}" for v in (dial.high, value))
            raise AmountError(must(dial.label, f"at most {most} in this picture", got, "type less"))

    def _work_out(self, moving):
        return self.shown.work(**self._state())

    def _charts(self):
        return [(self.shown.chart, self.result[0], self.shown.beside)]

    def _numbers(self):
        return [(name, value, "", base) for name, value, base in self.result[1]]

    def _words(self):
        return [kept(self.result[2])]

    @property
    def alt(self):
        """The figure in words."""
        return self.result[2:]
