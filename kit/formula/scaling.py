"""From percentages to grams: by flour, dough or pieces, with whole eggs if wished, rounded to the scale."""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from .. import page
from ..errors import FormulaError, must
from ..tables import table
from ..units import read_above
from ..words import figure, nearest
from .amounts import weigh
from .losses import expected_losses, kept_before_scaling
from .parts import DOUGH, MIXED, ON_FLOUR, make_up, only_one

if TYPE_CHECKING:
    from .formula import Formula

_GUARD = 1e-5  # so that 119.99999 pieces are 120: less than a milligram of dough


@dataclass(frozen=True, eq=False)
class Batch(page.Result):
    """What to weigh: each part's lines in grams [g], with the formula and the flour they come from."""

    columns = ("part", "ingredient", "percentage", "g")
    named = False

    formula: "Formula" = field(repr=False)
    flour: float  # total flour [g]
    grams: dict = field(repr=False)  # (part, key): g

    def mass(self, part):
        """Return the mass of a part [g], by name."""
        return sum(value for (name, _), value in self.grams.items() if name == part)

    @property
    def dough(self):
        """Mass of the dough with its preferments and inclusions, as mixed [g]."""
        return sum(self.mass(p.name) for p in self.formula.parts if p.kind in MIXED)

    def weighed(self, lines):
        """Return the Batch as it was weighed, with the formula that follows from it.

        lines {(part, ingredient): amount [g, or text with a unit]} take the place of what was to be weighed, or come
        new; the rest stays. The pieces keep their masses. Raises UnknownName, AmountError, UnitError, FormulaError.

        >>> from kit.formula import Formula
        >>> batch = Formula.from_weights("bun", {"flour": 1000, "milk": 500, "egg": 200}).scale(flour=500)
        >>> more = batch.weighed({("dough", "egg"): "120 g"})
        >>> float(more.formula.part("dough").percentage("egg_whole_fresh")), more.flour
        (24.0, 500.0)
        """
        known, grams = self.formula.ingredients, dict(self.grams)
        for (part, written), amount in lines.items():
            key = known.find(written)
            grams[self.formula.part(part).name, key] = weigh(amount, key, known).grams
        own = [p.with_lines({key: g for (name, key), g in grams.items() if name == p.name}) for p in self.formula.parts]
        flour = sum(known.total(part.items, "flour") for part in own if part.kind in DOUGH)
        made = [  # pieces without a part: nothing of it was to be weighed
            part.on_base(flour, known, " weighed", "enter what was weighed of it") if part.mass else before
            for part, before in zip(own, self.formula.parts, strict=True)
        ]
        return Batch(self.formula.with_parts(made).checked(), float(flour), grams)

    def frame_rows(self):
        """Return the rows of the frame: part, ingredient, percentage, grams."""
        for (part, key), grams in self.grams.items():
            percentage = self.formula.part(part).percentage(key)
            yield part, self.formula.ingredients[key].name, float(percentage), float(grams)

    def tables(self):
        """Return a table for each part, with its total."""
        for part in self.formula.parts:
            rows = [
                [self.formula.ingredients[key].name, figure(part.percentage(key), 2), figure(grams, 1)]
                for (name, key), grams in self.grams.items()
                if name == part.name
            ]
            rows.append(["total", figure(part.mass, 2), figure(self.mass(part.name), 1)])
            yield [part.name, f"% of {self.formula.base_words(part)}", "g"], rows, "", (len(rows) - 1,)


def scale(
    formula: "Formula",
    flour: float | str | None = None,
    dough: float | str | None = None,
    pieces: int | str | None = None,
) -> Batch:
    """Return the Batch for so much flour, so much dough, or so many pieces.

    What is lost before the scale is made good, of dough and topping; flour and dough are topped to whole pieces.

    flour [g or any mass], dough [g or any mass], pieces [count, of the formula's own piece]: one of them, with none
        the formula's own count.
    Returns what to weigh of each line [g], with the formula and the flour behind it.
    Raises FormulaError for none or several of the three or for many formulas, UnitError, AmountError.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 1000, "water": 500}, makes={"piece": 60})
    >>> bun.scale(dough="3 kg").flour
    2000.0
    >>> round(bun.scale(pieces=49).dough)  # 49 x 60 g and what mixing, fermenting and dividing lose
    3000
    """
    only_one(formula, "to be weighed", "choose one")
    losses = expected_losses(formula)
    made = make(formula, batch_of(formula, flour, dough, pieces), losses)
    return Batch(formula, float(made.flour), weighed(formula, made, losses))


def batch_of(formula, flour=None, dough=None, pieces=None, usual_flour=None):
    """Return (how a batch is given, how much): flour or dough [g] or pieces [count], one of them.

    With none the formula's own count, else usual_flour [g]. Raises FormulaError, UnitError, AmountError.
    """
    given = {name: v for name, v in (("flour", flour), ("dough", dough), ("pieces", pieces)) if v is not None}
    if not given and (formula.pieces.count or usual_flour):
        given = {"pieces": formula.pieces.count} if formula.pieces.count else {"flour": usual_flour}
    if len(given) != 1:
        do = "give flour='5 kg', dough='9 kg' or pieces=120"
        be = "given by one of flour, dough and pieces"
        raise FormulaError(must("batch", be, " and ".join(given) or "none", do))
    ((name, value),) = given.items()
    if name == "pieces":
        return name, make_up({"count": value}).count
    return name, read_above(value, "mass", name, "say how much to make", error=FormulaError)


def flour_of_batch(formula):
    """Return the flour of the formula's own count of pieces, else 1000 g [g]: what is compared where nobody says."""
    return formula.scale().flour if formula.pieces.count else 1000.0


class Made(NamedTuple):
    """What a batch comes to, floats or arrays [g; pieces whole]."""

    flour: object
    dough_mixed: object
    dough_scaled: object  # what reaches the scale
    pieces: object


def make(formula, batch, losses):
    """Return what is Made of a batch of `batch_of`, with the losses {(part, stage): Loss} before the scale made good.

    Floats or arrays. mixed = pieces x piece / kept, kept the product of 1 - loss.
    """
    name, value = batch
    per_flour = sum(p.mass for p in formula.parts if p.kind in MIXED) / 100
    kept, piece = kept_before_scaling(losses), formula.pieces.dough
    mixed = {"pieces": value * piece / kept, "dough": value, "flour": value * per_flour}[name]
    return Made(mixed / per_flour, mixed, mixed * kept, np.floor(mixed * kept / piece + _GUARD))


def weighed(formula, made, losses):
    """Return {(part, key): g} to weigh for what is Made: every paper's grams, losses before the scale made good.

    Parts of one kind, such as two toppings, share that kind's mass by their own masses. A batch that gives no whole
    piece takes that share of a piece's topping.
    """
    found = {}
    count = made.pieces or made.dough_scaled / formula.pieces.dough
    for part in formula.parts:
        whole, grams = 100.0, made.flour
        if part.kind not in ON_FLOUR:
            whole = sum(other.mass for other in formula.parts if other.kind == part.kind)
            grams = count * getattr(formula.pieces, part.kind) / kept_before_scaling(losses, part.kind)
        for key, value in part.items:
            found[part.name, key] = float(grams / whole * value)
    return found


@dataclass(frozen=True)
class ToWeigh:
    """What a scale can weigh of a mass, and its step [g]; as text with no more digits than the step has."""

    grams: float
    step: float

    @property
    def digits(self):
        """Decimals of the step."""
        return len(f"{self.step:.6f}".rstrip("0").partition(".")[2])

    def __str__(self):
        return figure(self.grams, self.digits)


def to_weigh(grams, kind):
    """Return the ToWeigh of a mass [g] of a kind of ingredient: the one rounding rule of every paper, halves up.

    The step is that of scale_steps.csv, the finest row that fits.

    >>> [str(to_weigh(g, kind)) for g, kind in ((12.8, "spice"), (25.6, "salt"), (429.3, "water"), (29.95, "egg"))]
    ['12.8', '25.6', '429', '30.0']
    """
    rows = [row for row in table("scale_steps").rows if row.kind in (kind, "all")]
    fitting = [row.step_g for row in rows if not row.below_g or grams < row.below_g]
    step = min(fitting)
    return ToWeigh(round(nearest(grams, step), 6), step)
