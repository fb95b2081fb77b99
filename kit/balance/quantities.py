"""The quantities a baker steers by, each one expression; for one formula or many at once."""

import functools
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import numpy as np

from .. import page
from ..formula import Formula
from ..formula.losses import expected_losses, kept_before_scaling
from ..words import figure, one_of, plain
from .accounts import account, in_blocks, lines_of, unknown_in
from .expressions import PIECE_PARTS, Expression, on_piece, piece, sum_over, together


@dataclass(frozen=True)
class Quantity:
    """What a baker steers by: the expression that gives it, its unit, and what it is called where its name is short."""

    expression: Expression
    unit: str
    called: str = ""


def in_words(name):
    """Return what a quantity is called where people read.

    >>> in_words("sugars"), in_words("total_hydration")
    ('sugars without lactose', 'total hydration')
    """
    return (name in QUANTITIES and QUANTITIES[name].called) or name.replace("_", " ")


def _on_flour(*accounts):
    return 100 * together(sum_over("dough", account) for account in accounts) / sum_over("dough", "flour")


def _in(lines, account):
    return 100 * sum_over(lines, account) / sum_over(lines, "mass")


SHARES = ("fat", "sugars", "egg_solids_not_fat", "milk_solids_not_fat")
_CRUMB, _CRUST = (on_piece("sugars_not_lactose", part) for part in ("dough", "topping"))
QUANTITIES = {
    "hydration": Quantity(_on_flour("liquid"), "% of flour"),
    "total_hydration": Quantity(_on_flour("water_not_flour"), "% of flour"),
    "fat": Quantity(_on_flour("fat_not_flour"), "% of flour"),
    "sugars": Quantity(_on_flour("sugars_not_lactose"), "% of flour", "sugars without lactose"),
    "egg_solids_not_fat": Quantity(_on_flour("egg_solids_not_fat"), "% of flour"),
    "milk_solids_not_fat": Quantity(_on_flour("milk_solids_not_fat"), "% of flour"),
    "enrichment_as_weighed": Quantity(_on_flour("enrichment_as_weighed"), "% of flour"),
    "salt": Quantity(_on_flour("salt"), "% of flour"),
    "protein": Quantity(_on_flour("protein"), "% of flour"),
    "fat_as_weighed": Quantity(_on_flour("fat_as_weighed"), "% of flour"),
    "sugar_as_weighed": Quantity(_on_flour("sugar_as_weighed"), "% of flour"),
    "butterfat_of_dough": Quantity(_in("divided", "butterfat"), "% of dough"),
    "yolk_of_dough": Quantity(_in("divided", "yolk"), "% of dough"),
    "total_percentage": Quantity(100 * sum_over("divided", "mass") / sum_over("divided", "flour"), "%"),
    "topping_fat": Quantity(_in("topping", "fat_not_flour"), "% of topping"),
    "topping_sugars": Quantity(_in("topping", "sugars_not_lactose"), "% of topping"),
    "enrichment_ratio": Quantity(
        _on_flour("fat_not_flour", "sugars_not_lactose", "egg_solids_not_fat", "milk_solids_not_fat"),
        "% of flour",
    ),
    "prefermented_flour": Quantity(sum_over("preferment", "flour"), "% of flour"),
    "topping_to_dough_ratio": Quantity(piece("topping") / piece("dough"), "g per g"),
    "sugars_per_piece_dough": Quantity(_CRUMB, "g", "sugars in a piece's crumb"),
    "sugars_per_piece_topping": Quantity(_CRUST, "g", "sugars in a piece's topping"),
    "sweetness_split": Quantity(
        100 * _CRUST / (_CRUMB + _CRUST),
        "% of the piece's sugars",
        "sweetness from the topping",
    ),
    "sugars_per_piece": Quantity(on_piece("sugars_not_lactose", *PIECE_PARTS), "g"),
    "energy_per_piece": Quantity(on_piece("energy", *PIECE_PARTS), "kcal"),
}


def names_called(known):
    """Return {a name as `plain` folds it: the quantity}, of these by their names and by what they are called."""
    return {plain(word): name for name in known for word in (name, in_words(name))}


def quantity_named(given, known=QUANTITIES):
    """Return which quantity is meant by its name or by what it is called; known: those there are. Raises UnknownName.

    >>> quantity_named("sugars without lactose"), quantity_named("Fat")
    ('sugars', 'fat')
    """
    if given in known:
        return given
    called = names_called(known)
    return called[one_of("quantity", given, called)]


Value: TypeAlias = Any  # a float of one formula, an array of many


def measure(formula: Formula, name: str) -> Value:
    """Return one quantity of a formula by its name; a float, or an array for many formulas.

    formula: one or many.
    name: one of QUANTITIES, such as "total_percentage" [%], "prefermented_flour", "enrichment_as_weighed", "salt"
        [% of flour], "sweetness_split" [% of a piece's sugars that lie in its topping], "energy_per_piece" [kcal].
    Returns the value in the unit that QUANTITIES names; a lower bound where a figure is unknown: `at_least` tells.
    Raises UnknownName.

    >>> bun = Formula.from_weights("bun", {"flour": 75, "water": 50}, {"sponge": {"flour": 25, "milk": 22}})
    >>> measure(bun, "prefermented_flour"), measure(bun, "total_percentage")
    (25.0, 172.0)
    """
    (value,) = measures(formula, (name,)).values()
    return value


def measures(formula: Formula, names: Iterable[str] | None = None, block: int = 100_000) -> dict[str, Value]:
    """Return {quantity: value} for the named quantities, all when None; floats, or arrays of the formulas' shape.

    Unknown figures count as 0 here, so a sum with an unknown contributor is a lower bound: `at_least` tells.
    Many formulas go in blocks of about `block` rows, which keeps them in the processor's cache. Raises UnknownName.

    >>> bun = Formula.from_weights("bun", {"flour": 100, "milk": 50, "egg": 20})
    >>> {k: round(v, 2) for k, v in measures(bun, ["hydration", "total_hydration"]).items()}
    {'hydration': 50.0, 'total_hydration': 59.3}
    """
    names = tuple(QUANTITIES if names is None else map(quantity_named, names))
    return in_blocks(formula, lambda some: _measure(some, names), block)


@functools.lru_cache(maxsize=64)
def _sums_of(expressions):
    """Return {lines: (account, ...)} of all sums that expressions rest on."""
    found = {}
    for over, name in dict.fromkeys(pair for each in expressions for pair in each.sums):
        found.setdefault(over, []).append(name)
    return {over: tuple(names) for over, names in found.items()}


class _Numbers:
    """Reads expressions as the numbers of one formula, or of a block of many."""

    def __init__(self, formula, expressions):
        self.formula, self.sums, self.kinds = formula, {}, {part.kind for part in formula.parts}
        for over, names in _sums_of(expressions).items():
            if lines := lines_of(formula, over):
                self.sums |= {(over, name): value for name, value in account(formula, lines, names).items()}

    def sum(self, lines, name):
        return self.sums.get((lines, name), 0.0)

    def piece(self, part):
        return getattr(self.formula.pieces, part) if part in self.kinds else 0.0

    def kept(self, part):
        return kept_before_scaling(expected_losses(self.formula), part)

    @staticmethod
    def divide(first, second):
        if isinstance(second, float | int):
            return first / second if second else 0.0
        if np.all(second):
            return first / second
        return np.divide(first, second, out=np.zeros(np.broadcast(first, second).shape), where=second != 0)


def _measure(formula, names):
    expressions = tuple(QUANTITIES[name].expression for name in names)
    numbers = _Numbers(formula, expressions)
    values = (each.read(numbers) for each in expressions)
    return dict(zip(names, values if formula.shape else map(float, values), strict=True))


def at_least(formula, name):
    """Return [(ingredient, g on 100 g flour)] that make a quantity a lower bound; empty when all is known.

    Raises UnknownName.
    """
    found = {}
    for over, column in QUANTITIES[quantity_named(name)].expression.sums:
        lines = lines_of(formula, over)
        found |= dict.fromkeys([] if lines is None else unknown_in(formula, lines, column))
    return list(found)


def hydration(formula: Formula) -> Value:
    """Return water and poured liquids as weighed, never egg [% of flour].

    formula: one, or many.
    Returns a float, or an array for many. The water of egg, butter and yeast is not in it: see `total_hydration`.
    Definition of the trade.

    >>> hydration(Formula.from_weights("bun", {"bread flour": 850, "light rye flour": 150, "milk": 400}))
    40.0
    """
    return measure(formula, "hydration")


def total_hydration(formula: Formula) -> Value:
    """Return all water that ingredients other than flour bring to the dough [% of flour].

    formula: one, or many.
    Returns a float, or an array for many: the sum of percentage x water per 100 g, USDA SR28 or the house's figures.

    >>> round(total_hydration(Formula.from_weights("bun", {"flour": 100, "egg": 20, "water": 40})), 2)
    55.23
    """
    return measure(formula, "total_hydration")


def topping_to_dough_ratio(formula: Formula) -> Value:
    """Return topping / dough of a raw piece [g per g].

    formula: one, or many.
    Returns a float, or an array for many.

    >>> bun = Formula.from_weights("bun", {"flour": 100}, topping={"sugar": 1}, makes={"piece": 70, "topping": 28})
    >>> topping_to_dough_ratio(bun)
    0.4
    """
    return measure(formula, "topping_to_dough_ratio")


@dataclass(frozen=True, eq=False)
class EnrichmentRatio(page.Result):
    """What ingredients other than flour bring to the dough, in four exclusive shares [% of flour]."""

    fat: Value
    sugars: Value
    egg_solids_not_fat: Value
    milk_solids_not_fat: Value
    missing: dict = field(default_factory=dict, repr=False)  # share: (ingredient, g on 100 g flour)
    columns, digits, strong = ("enrichment ratio", "% of flour"), 2, (len(SHARES),)
    grounds = {"shares": "common practice; lactose counts as milk solids, egg's glucose as egg solids"}

    @property
    def unknown(self):
        """What makes any share a lower bound: (ingredient, g on 100 g flour)."""
        return tuple(dict.fromkeys(entry for entries in self.missing.values() for entry in entries))

    @property
    def total(self):
        """Sum of the four shares [% of flour]; a lower bound while `unknown` names anything."""
        return sum(getattr(self, share) for share in SHARES)

    @property
    def notes(self):
        """What is unknown."""
        return [f"unknown in {figure(grams, 2)} g of {name} on 100 g flour" for name, grams in self.unknown]

    def __float__(self):
        return float(self.total)

    def frame_rows(self):
        """The four shares and their sum."""
        shares = [(share.replace("_", " "), getattr(self, share), self.missing.get(share)) for share in SHARES]
        return [(name, page.bound(value, more)) for name, value, more in (*shares, ("total", self.total, self.unknown))]


def enrichment_ratio(formula: Formula) -> EnrichmentRatio:
    """Return the EnrichmentRatio: fat, sugars without lactose, egg and milk solids-not-fat [% of flour].

    formula: one, or many.
    Returns the four shares, floats or arrays; solids-not-fat = protein + carbohydrate + ash.

    >>> round(float(enrichment_ratio(Formula.from_weights("bun", {"flour": 100, "sugar": 10, "milk": 10}))), 2)
    11.17
    """
    values = measures(formula, SHARES)
    return EnrichmentRatio(**values, missing={share: at_least(formula, share) for share in SHARES})
