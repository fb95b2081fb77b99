"""What may move in a formula, and how every quantity follows it: values with exact slopes.

A balance is a quotient of two sums that are linear in the percentages. So "quantity = target" is linear too:
top - target x beneath = 0. `Ratio` carries both with their slopes and remembers whether they hold everywhere.
"""

import functools
import operator
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from ..balance import QUANTITIES, in_words, measures, names_called
from ..balance.accounts import AT, lines_of, weights
from ..balance.expressions import PIECE_PARTS, kept, on_piece, piece, sum_over
from ..balance.quantities import Quantity
from ..errors import AmountError, FormulaError, UnknownName, above, must
from ..formula import Formula, expected_losses
from ..formula.losses import kept_before_scaling
from ..formula.parts import DOUGH, HIGHEST
from ..process.activity import SOLUTES, activity_in, solutes_of
from ..process.activity import weights as solute_weights
from ..process.rise import doubling
from ..words import did_you_mean, listing, plain

# What a dough will do, by kit.process: the rise at the temperature of the formula's own steps.
# {name: (of a formula the function of what its yeast meets, unit)}
PROCESS: dict[str, tuple[Callable, str]] = {
    "water_activity": (lambda formula: activity_in, "of 1"),
    "time_to_double": (doubling, "min"),
}
MASSES = {"piece" if part == "dough" else part: part for part in PIECE_PARTS}  # what a baker writes of a piece [g]
COST = "cost_per_piece"
_HEAVIEST = 10_000.0  # g a piece; beyond it a slip of the pen is certain


@dataclass(frozen=True, eq=False)
class Ratio:
    """above / beneath, each an array of its value and its slope on each thing that may move (1 + n,).

    They are kept apart, so that "quantity = target" stays straight, the same everywhere, where both of them are.
    """

    above: np.ndarray
    beneath: np.ndarray
    straight: bool = True

    @property
    def quotient(self):
        """The quotient and its slopes (1 + n,); nothing where nothing is beneath."""
        if self.beneath[0] == 0:
            return 0 * self.above
        value = self.above[0] / self.beneath[0]
        return np.append(value, (self.above - value * self.beneath)[1:] / self.beneath[0])

    @property
    def linear(self):
        """Whether the quotient itself has the same slopes everywhere."""
        return self.straight and _still(self.beneath)

    def over(self, beneath):
        """Return the same as a Ratio over another array."""
        if beneath is self.beneath:
            return self
        straight = self.linear and (_still(self.above) or _still(beneath))
        return Ratio(_times(self.quotient, beneath), beneath, straight)

    def __add__(self, other):
        other = other.over(self.beneath)
        return Ratio(self.above + other.above, self.beneath, self.straight and other.straight)

    def __mul__(self, other):
        parts = (self.above, other.above), (self.beneath, other.beneath)
        straight = self.straight and other.straight and all(_still(one) or _still(two) for one, two in parts)
        return Ratio(*(_times(*pair) for pair in parts), straight)

    def __rmul__(self, number):
        return Ratio(number * self.above, self.beneath, self.straight)

    def __truediv__(self, other):
        if other.above[0] == 0 and _still(other.above):  # nothing to divide by, wherever all else goes
            return Ratio(0 * self.above, other.beneath, other.straight)
        top = self.over(other.beneath)
        return Ratio(top.above, other.above, top.straight and other.straight)


def _times(one, two):
    return np.append(one[0] * two[0], one[0] * two[1:] + two[0] * one[1:])


def _still(array):
    return not array[1:].any()


@dataclass(frozen=True, eq=False)
class Variable:
    """One thing that may move: a line of the dough, of another part, or the mass of a part of the piece."""

    name: str  # as a baker reads it
    unit: str
    place: str  # "dough", the name of another part, or "pieces"
    written: str  # what `vary` calls it there
    now: float
    least: float
    most: float
    shares: dict = field(default_factory=dict)  # key: its share of the move
    flour: bool = False
    usual: bool = False  # whether its ends are those of what is usual

    @property
    def keys(self):
        """What it moves, to see when two names mean the same."""
        return {(self.place, key) for key in self.shares or (self.written,)}


def variable(formula: Formula, name: str) -> Variable:
    """Return the Variable a name stands for, as `vary` would read it. Raises UnknownName.

    "butter" is the kind in the dough as a whole, "topping sugar" a line of the topping [% of its base], "piece",
    "topping", "filling" and "wash" a mass on a piece [g].
    """
    text = plain(name)
    if text in MASSES:
        part, least = MASSES[text], 1.0 if text == "piece" else 0.0
        return Variable(text, "g", "pieces", part, float(getattr(formula.pieces, part)), least, _HEAVIEST)
    for part in formula.parts:
        for start in (plain(part.name), part.kind):
            if part.kind not in DOUGH and text.startswith(start + " "):
                try:
                    keys = _keys(formula, (part,), text.removeprefix(start + " "))
                except UnknownName:
                    break
                return _line(formula, part, keys, text)
    return _line(formula, None, _keys(formula, formula.bowls, name), None)


def _keys(formula, bowls, written):
    """Return (the kind or None, the lines of these bowls that a name means, at least one)."""
    known = formula.ingredients
    if plain(written) not in known.kinds:
        return None, [_find(formula, written)]
    kind = plain(written)
    keys = dict.fromkeys(key for bowl in bowls for key in bowl.keys if known[key].kind == kind)
    return kind, list(keys) or [known.of_kind(kind)[0]]


def _line(formula, part, found, shown):
    kind, keys = found
    first = formula.ingredients[keys[0]]
    bowls = formula.bowls if part is None else (part,)
    totals = {key: float(sum(bowl.percentage(key) for bowl in bowls)) for key in keys}
    whole = sum(totals.values())
    shares = {key: total / whole if whole else 1 / len(keys) for key, total in totals.items()}
    written = kind or keys[0]
    if part is not None:
        unit = f"% of {formula.base_words(part)}"
        return Variable(shown, unit, part.name, written, whole, 0.0, HIGHEST, shares)
    final = formula.part("dough")
    earlier = [(total - final.percentage(key)) / shares[key] for key, total in totals.items() if shares[key] > 0]
    least, flour = min(max(earlier, default=0.0), whole), first.kind == "flour"
    return Variable(kind or first.name, "% of flour", "dough", written, whole, least, HIGHEST, shares, flour)


def _find(formula, written):
    try:
        return formula.ingredients.find(written)
    except UnknownName:
        known = [*names_called((*QUANTITIES, *PROCESS)), *MASSES, *formula.ingredients.kinds]
        known += [plain(row.name) for row in formula.ingredients.rows]
        be = "a quantity of the balance, an ingredient or a mass on a piece"
        raise UnknownName(must(written, be, "a name that none has", did_you_mean(written, known))) from None


def changed(formula, variables, values):
    """Return the formula with variables brought to values, numbers or arrays; what does not move is not touched."""
    changes, masses = {}, {}
    for each, value in zip(variables, values, strict=True):
        if np.all(value == each.now):
            continue
        if each.place == "pieces":
            masses[each.name] = value
        elif each.place == "dough":
            changes[each.written] = value
        else:
            changes.setdefault(each.place, {})[each.written] = value
    for some in filter(None, (changes, masses)):  # one after the other: a topping's lines and its mass have one name
        formula = formula.vary(some, grid=False)
    return formula


def per_kg(formula, name, figures):
    """Return {key: figure per kg} for every ingredient; a kind's figure serves all of that kind. NaN where none is."""
    found = {row.key: np.nan for row in formula.ingredients.rows}
    named = {}
    for written, value in figures.items():
        above(f"{name} of {written}", value, unit="per kg", do="0 is for what is free", zero=True)
        if plain(written) in formula.ingredients.kinds:
            found |= dict.fromkeys(formula.ingredients.of_kind(plain(written)), float(value))
        else:
            named[_find(formula, written)] = float(value)
    return found | named


@dataclass(frozen=True, eq=False)
class Model:
    """How every quantity of a formula follows what may move."""

    formula: Formula
    variables: tuple[Variable, ...]
    quantities: dict  # name: Quantity, what is bought for a piece with them when there are prices
    sums: dict = field(repr=False)  # over: ((K,), (n, K))
    prices: dict | None = None  # as given

    @property
    def now(self):
        """Where the variables stand (n,)."""
        return np.array([each.now for each in self.variables])

    @functools.cached_property
    def solutes(self):
        """What the yeast meets in the dough (6,), and what 1 of each variable brings of it (n, 6)."""
        known = self.formula.ingredients
        by = [
            sum(share * solute_weights(known)[known.row(key)] for key, share in each.shares.items())
            if each.place == "dough"
            else np.zeros(len(SOLUTES))
            for each in self.variables
        ]
        return solutes_of(self.formula), np.array(by).reshape(-1, len(SOLUTES))

    def unit(self, name):
        """Return the unit of a quantity."""
        return self.quantities[name].unit if name in self.quantities else PROCESS[name][1]

    def at(self, values=None):
        """Return the Point at the variables' values, where the formula stands unless told."""
        return Point(self, self.now if values is None else values)


class Point:
    """What the quantities of a model come to, and their slopes, where its variables stand at; reads expressions."""

    divide = staticmethod(operator.truediv)

    def __init__(self, model, values):
        self.model, self.values, self.moved = model, values, values - model.now
        self.one, self._known = self.fixed(1.0), {}

    def fixed(self, value):
        """Return a number that nothing moves, as an array."""
        return np.append(value, np.zeros(len(self.values)))

    def ratio(self, what):
        """Return the Ratio of a quantity, or of the sum of the variables at these positions."""
        if what not in self._known:
            if not isinstance(what, str):
                by = np.bincount(what, minlength=len(self.values)).astype(float)
                self._known[what] = Ratio(np.append(self.values @ by, by), self.one)
            elif what in self.model.quantities:
                self._known[what] = self.model.quantities[what].expression.read(self)
            else:
                self._known[what] = Ratio(self._by_steps(what), self.one, straight=False)
        return self._known[what]

    def slopes(self, what):
        """Return the slopes of the same (n,)."""
        return self.ratio(what).quotient[1:]

    def value(self, what):
        """Return its value."""
        return float(self.ratio(what).quotient[0])

    def sum(self, lines, account):
        """Return the Ratio of a sum."""
        if lines not in self.model.sums:
            return Ratio(self.fixed(0.0), self.one)
        value, by = (each[..., AT.get(account, len(AT))] for each in self.model.sums[lines])
        return Ratio(np.append(value + self.moved @ by, by), self.one)

    def piece(self, part):
        """Return the Ratio of the mass of a part on a piece."""
        if part not in self.model.sums:
            return Ratio(self.fixed(0.0), self.one)
        by = np.array([float(v.place == "pieces" and v.written == part) for v in self.model.variables])
        return Ratio(np.append(getattr(self.model.formula.pieces, part) + self.moved @ by, by), self.one)

    def kept(self, part):
        """Return the Ratio of the share of a part that reaches the scale."""
        return Ratio(self.fixed(kept_before_scaling(expected_losses(self.model.formula), part)), self.one)

    def _by_steps(self, name):
        """Slopes of what is not known from inside: one small step of each variable, all of them at once."""
        solutes, by = self.model.solutes
        step = 1e-4 * np.maximum(np.abs(self.values), 1.0)
        step = np.where(self.values + step <= [v.most for v in self.model.variables], step, -step)
        there = solutes + np.vstack([self.moved @ by, self.moved @ by + step[:, None] * by])
        found = PROCESS[name][0](self.model.formula)(there)
        if not np.all(np.isfinite(found)):
            do = "ask for a dough that rises"
            raise FormulaError(must(in_words(name), "a finite number", "none", do))
        return np.append(found[0], (found[1:] - found[0]) / step)


def _bought():
    """What is bought for a piece: what is lost before the scale and what is dusted counts too."""
    dough = (sum_over("divided", COST) + sum_over("dusting", COST)) / sum_over("divided", "mass")
    return (
        piece("dough") / kept("dough") * dough
        + on_piece(COST, "topping") / kept("topping")
        + on_piece(COST, "filling", "wash")
    )


def measured(formula: Formula, names: list) -> dict[str, float]:
    """Return {quantity: its value [in its own unit]} on the formula itself, those of kit.process included.

    >>> measured(Formula.from_weights("bun", {"flour": 100, "water": 60}), ["hydration"])
    {'hydration': 60.0}
    """
    values = measures(formula, [name for name in names if name in QUANTITIES])
    return {
        name: values[name] if name in values else float(PROCESS[name][0](formula)(solutes_of(formula)))
        for name in names
    }


def model(formula: Formula, variables: tuple, prices: dict | None = None) -> Model:
    """Return the Model of a formula over variables; prices {ingredient or kind: price per kg} of what is bought.

    Raises FormulaError when two variables move the same line, AmountError where a price is missing.
    """
    seen: dict = {}
    for each in variables:
        for key in each.keys:
            if key in seen:
                do = "name the kind or its ingredient, not both"
                raise FormulaError(must(each.name, "free once", f"also as {seen[key]}", do))
            seen[key] = each.name
    quantities, figures = QUANTITIES, {}
    if prices is not None:
        quantities, figures = QUANTITIES | {COST: Quantity(_bought(), "")}, per_kg(formula, "cost", prices)
        used = {k for part in formula.parts for k in part.keys} | {k for each in variables for k in each.shares}
        missing = sorted(formula.ingredients[key].name for key in used if not np.isfinite(figures[key]))
        if missing:
            be, do = "a figure per kg for every ingredient in use", "add them, 0 where it is free"
            raise AmountError(must("cost", be, f"none for {listing(missing)}", do))

    def brought(keys):
        return np.column_stack([weights(formula, keys), [figures.get(key, 0.0) / 1000 for key in keys]])

    sums = {}
    kinds = {part.name: part.kind for part in formula.parts} | {"dough": "dough"}
    reaches = {"dough": ("dough", "divided"), "inclusion": ("divided", "inclusion")}
    for over in dict.fromkeys(("dough", "divided", *kinds.values())):
        lines = lines_of(formula, over)
        by = np.zeros((len(variables), len(AT) + 1))
        for n, each in enumerate(variables):
            kind = kinds.get(each.place, "")
            if each.shares and over in reaches.get(kind, (kind,)):
                by[n] = np.array(list(each.shares.values())) @ brought(tuple(each.shares))
        sums[over] = (lines.grams @ brought(lines.keys), by)
    return Model(formula, tuple(variables), quantities, sums, prices)
