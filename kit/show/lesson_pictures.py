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
from .lesson_drawings import DiscOnDome, FlourIs100, FoldedIn, Glasses, MilkForEgg
from .panel import Dial, Panel
from .strips import status, tiles

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


def _flour_is_100(milk, butter, sugar):
    """A dough's lines on 100 flour beside the same on 100 dough: move one and see which of the others move."""
    dough = Formula.from_weights("bun", BUN | {"milk": milk, "butter": butter, "sugar": sugar}).vary(water=0)
    total = measure(dough, "total_percentage")
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


def _water_hides(**moved):
    """What is weighed beside the water in it, ingredient by ingredient: egg, butter and yeast bring some too."""
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


def _milk_for_egg(egg, moved):
    """Egg replaced by milk, weight for weight: the water rises, since egg holds less of it."""
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


def _sponge_folded_in(share, own, milk):
    """Sponge and final dough beside the total formula that they come from: it stays as it is, the bowls share it."""
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


def _disc_reaches_sides(width, height, disc):
    """A bun under its disc of topping: a disc as wide as the bun leaves the sides bare."""
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
    """What a picture is made of: `work` takes the values of its dials {name: arguments of Dial} and returns what
    `chart` shows, the numbers under it [(name, value, base)] and the sentence, all worked out by the kit.
    """

    work: Callable[..., Any]
    chart: type[Chart]
    dials: dict[str, tuple[Any, ...]]


PICTURES = {
    "flour is 100": Shown(
        _flour_is_100,
        FlourIs100,
        {
            "milk": ("milk", BUN["milk"], 0.0, 45.0, 0.5),
            "butter": ("butter", BUN["butter"], 0.0, 30.0, 0.5),
            "sugar": ("sugar", BUN["sugar"], 0.0, 25.0, 0.5),
        },
    ),
    "water hides": Shown(
        _water_hides,
        Glasses,
        {
            "milk": ("milk", BUN["milk"], 0.0, 50.0, 0.5),
            "egg": ("egg", BUN["egg"], 0.0, 40.0, 0.5),
            "butter": ("butter", BUN["butter"], 0.0, 50.0, 0.5),
        },
    ),
    "milk for egg": Shown(
        _milk_for_egg,
        MilkForEgg,
        {
            "egg": ("egg", 20.0, 0.0, 30.0, 0.5),
            "moved": ("egg replaced by milk", 10.0, 0.0, 30.0, 0.5, "points"),
        },
    ),
    "sponge folded in": Shown(
        _sponge_folded_in,
        FoldedIn,
        {
            "share": ("flour in the sponge", 30.0, 5.0, 60.0, 1.0),
            "own": ("milk on the sponge's flour", 80.0, 50.0, 110.0, 1.0),
            "milk": ("milk in all", 50.0, 40.0, 65.0, 1.0),
        },
    ),
    "disc reaches sides": Shown(
        _disc_reaches_sides,
        DiscOnDome,
        {
            "width": ("bun, flattened, wide", 80.0, 50.0, 120.0, 1.0, "mm", "length", 10),
            "height": ("bun high", 30.0, 10.0, 40.0, 1.0, "mm", "length", 10),
            "disc": ("disc wide", 80.0, 40.0, 150.0, 1.0, "mm", "length", 10),
        },
    ),
}


class LessonPicture(Panel):
    """A picture of the lessons that moves with its dials, by name: what each shows is told by the kit's own figures.

    name: "flour is 100", "water hides", "milk for egg", "sponge folded in" or "disc reaches sides". Raises
    UnknownName.
    """

    def __init__(self, name: str) -> None:
        self.shown = PICTURES[one_of("name", name, PICTURES, "choose a picture")]
        super().__init__({name: Dial(*given) for name, given in self.shown.dials.items()})
        if max(len(dial.label) for dial in self.dials.values()) > 12:
            for dial in self.dials.values():
                dial.view.layout.flex = "1 1 380px"  # two in a row: the names are long
        self._begin([dial.view for dial in self.dials.values()], [self.undo_button, self.reset_button])

    def _check_typed(self, name, value):
        dial = self.dials[name]
        if value > dial.high:
            most, got = (f"{figure(v)} {dial.unit}" for v in (dial.high, value))
            raise AmountError(must(dial.label, f"at most {most} in this picture", got, "type less"))

    def _work_out(self, moving):
        return self.shown.work(**self._state())

    def _charts(self):
        return [(self.shown.chart, self.result[0], {})]

    def _show(self):
        _, numbers, sentence = self.result
        shown = tiles((name, value, "", base) for name, value, base in numbers)
        self._live.value = f'<div style="line-height:1.35">{shown}{self._marks()}{status(kept(sentence))}</div>'

    @property
    def alt(self):
        """The figure in words."""
        return self.result[2:]
