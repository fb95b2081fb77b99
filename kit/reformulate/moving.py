"""What may move in a formula, and how every quantity follows it: values with exact slopes.

A balance is a quotient of two sums that are linear in the percentages. So "quantity = target" is linear too:
top - target x beneath = 0. `Slope` carries a number with its slopes and remembers whether they hold everywhere.
"""

import functools
import operator
from dataclasses import dataclass, field

import numpy as np

from ..balance import QUANTITIES, measures
from ..balance.accounts import AT, lines_of, weights
from ..balance.expressions import PIECE_PARTS, kept, on_piece, piece, sum_over
from ..balance.quantities import Quantity
from ..errors import AmountError, FormulaError, UnknownName, must
from ..formula import Formula, expected_losses
from ..formula.losses import kept_before_scaling
from ..formula.parts import DOUGH, HIGHEST
from ..process import rise, water_activity
from ..words import did_you_mean, listing, plain

# What a dough will do, by kit.process: the rise at the temperature of the formula's own steps.
PROCESS = {
    "water_activity": (water_activity, "of 1"),
    "time_to_double": (lambda formula: rise(formula, until=2).minutes, "min"),
}
MASSES = {"piece" if part == "dough" else part: part for part in PIECE_PARTS}  # what a baker writes of a piece [g]
_HEAVIEST = 10_000.0  # g a piece; beyond it a slip of the pen is certain


@dataclass(frozen=True, eq=False)
class Slope:
    """A number, its slope on each thing that may move (n,), and whether that slope is the same everywhere."""

    value: float
    by: np.ndarray
    straight: bool = True

    @property
    def still(self):
        """Whether nothing that may move moves it."""
        return self.straight and not self.by.any()

    def __add__(self, other):
        return Slope(self.value + other.value, self.by + other.by, self.straight and other.straight)

    def __mul__(self, other):
        straight = (self.still and other.straight) or (other.still and self.straight)
        return Slope(self.value * other.value, self.by * other.value + other.by * self.value, straight)

    def __rmul__(self, number):
        return Slope(self.value * number, self.by * number, self.straight)

    def __truediv__(self, other):
        if other.value == 0:
            return Slope(0.0, 0 * self.by, self.straight)
        by = (self.by - other.by * (self.value / other.value)) / other.value
        return Slope(self.value / other.value, by, self.straight and other.still)


@dataclass(frozen=True, eq=False)
class Ratio:
    """above / beneath, two Slopes kept apart, so that "quantity = target" stays straight where both of them are."""

    above: Slope
    beneath: Slope

    @property
    def slope(self):
        """The quotient as one Slope."""
        return self.above / self.beneath

    def __add__(self, other):
        more = other.above if other.beneath is self.beneath else other.slope * self.beneath
        return Ratio(self.above + more, self.beneath)

    def __mul__(self, other):
        return Ratio(self.above * other.above, self.beneath * other.beneath)

    def __rmul__(self, number):
        return Ratio(number * self.above, self.beneath)

    def __truediv__(self, other):
        if other.above.value == 0 and other.above.still:  # nothing to divide by, wherever all else goes
            return Ratio(0.0 * self.above, other.beneath)
        if other.beneath is self.beneath:
            return Ratio(self.above, other.above)
        return Ratio(self.slope * other.beneath, other.above)


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

    @property
    def keys(self):
        """What it moves, to see when two names mean the same."""
        return {(self.place, key) for key in self.shares or (self.written,)}


def variable(formula, name):
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
                    return _line(formula, part, text.removeprefix(start + " "), text)
                except UnknownName:
                    break
    return _line(formula, None, name, text)


def _line(formula, part, written, shown):
    ingredients = formula.ingredients
    kind = plain(written) if plain(written) in ingredients.kinds else None
    bowls = formula.bowls if part is None else (part,)
    if kind:
        keys = dict.fromkeys(k for bowl in bowls for k in bowl.keys if ingredients[k]["kind"] == kind)
        keys = list(keys) or [ingredients.of_kind(kind)[0]]
    else:
        keys = [_find(formula, written)]
    totals = [float(sum(bowl.percentage(key) for bowl in bowls)) for key in keys]
    whole = sum(totals)
    shares = {key: t / whole if whole else 1 / len(keys) for key, t in zip(keys, totals, strict=True)}
    flour = part is None and ingredients[keys[0]]["kind"] == "flour"
    if part is None:
        final = formula.part("dough")
        earlier = [t - final.percentage(key) for key, t in zip(keys, totals, strict=True)]
        least = max((e / s for e, s in zip(earlier, shares.values(), strict=True) if s > 0), default=0.0)
        unit, place = "% of flour", "dough"
    else:
        least, unit, place = 0.0, f"% of {formula.base_words(part)}", part.name
    name = (kind or ingredients[keys[0]]["name"]) if part is None else shown
    return Variable(name, unit, place, kind or keys[0], whole, min(least, whole), HIGHEST, shares, flour)


def _find(formula, written):
    try:
        return formula.ingredients.find(written)
    except UnknownName:
        known = [*QUANTITIES, *PROCESS, "dough_class", *MASSES]
        known = [plain(n) for n in known] + [plain(row["name"]) for row in formula.ingredients.rows]
        known += formula.ingredients.kinds
        be = "a quantity of the balance, an ingredient or a mass on a piece"
        raise UnknownName(must(written, be, "a name that none has", did_you_mean(written, known))) from None


def changed(formula, variables, values):
    """Return the formula with variables brought to values; what does not move is not touched."""
    changes, masses = {}, {}
    for each, value in zip(variables, values, strict=True):
        if value == each.now:
            continue
        if each.place == "pieces":
            masses[each.name] = value
        elif each.place == "dough":
            changes[each.written] = value
        else:
            changes.setdefault(each.place, {})[each.written] = value
    for some in filter(None, (changes, masses)):  # one after the other: a topping's lines and its mass have one name
        formula = formula.vary(some)
    return formula


def per_kg(formula, name, figures):
    """Return {key: figure per kg} for every ingredient; a kind's figure serves all of that kind. NaN where none is."""
    found = dict.fromkeys((row["key"] for row in formula.ingredients.rows), np.nan)
    named = {}
    for written, value in figures.items():
        if not isinstance(value, int | float) or not np.isfinite(value):
            raise AmountError(must(f"{name} of {written}", "a number per kg", repr(value), "give a figure"))
        kind = plain(written)
        if kind in formula.ingredients.kinds:
            found |= dict.fromkeys(formula.ingredients.of_kind(kind), float(value))
        else:
            named[_find(formula, written)] = float(value)
    return found | named


@dataclass(frozen=True, eq=False)
class Model:
    """How every quantity of a formula follows what may move."""

    formula: Formula
    variables: tuple
    functions: dict = field(default_factory=dict)  # name: formula -> float
    columns: dict = field(default_factory=dict)  # name: {key: per kg}
    sums: dict = field(default_factory=dict, repr=False)  # over: ((K,), (n, K))

    @property
    def now(self):
        """Where the variables stand (n,)."""
        return np.array([each.now for each in self.variables])

    @functools.cached_property
    def expressions(self):
        """{quantity: Quantity}, with what is bought for a piece by each figure per kg."""
        return QUANTITIES | {f"{name}_per_piece": Quantity(_bought(name), name) for name in self.columns}

    @property
    def units(self):
        """{quantity: unit}."""
        process = {name: PROCESS[name][1] if name in PROCESS else "" for name in self.functions}
        return {name: each.unit for name, each in self.expressions.items()} | process

    def pair(self, name, at):
        """Return the Ratio of a quantity, or of the sum of variables by position, at the variables' values."""
        if not isinstance(name, str):
            by = np.zeros(len(at))
            by[np.atleast_1d(name)] = 1.0
            return Ratio(Slope(float(at @ by), by), self.fixed(1.0))
        if name in self.functions:
            return Ratio(self._by_steps(self.functions[name], at), self.fixed(1.0))
        return self.expressions[name].expression.read(_Slopes(self, at))

    def quantity(self, name, at=None):
        """Return the same as one Slope, where the formula stands unless told."""
        return self.pair(name, self.now if at is None else at).slope

    def fixed(self, value):
        """Return a number that nothing moves."""
        return Slope(value, np.zeros(len(self.variables)))

    def _by_steps(self, function, at):
        """Slopes of a function that is not known from inside: one small step of each variable."""

        def value(values):
            result = function(changed(self.formula, self.variables, values))
            if np.ndim(result) != 0 or not np.isfinite(float(result)):
                do = "the function must return one number for every formula it may meet"
                raise FormulaError(must(getattr(function, "__name__", "function"), "a finite number", repr(result), do))
            return float(result)

        here, by = value(at), np.zeros(len(self.variables))
        for n, each in enumerate(self.variables):
            if each.least < each.most and not each.flour:
                step = 1e-4 * max(abs(at[n]), 1.0)
                step = step if at[n] + step <= each.most else -step
                there = at.copy()
                there[n] += step
                by[n] = (value(there) - here) / step
        flours = [n for n, each in enumerate(self.variables) if each.flour and each.least < each.most]
        for n in flours[1:]:  # flour moves only against another flour
            there = at.copy()
            step = 1e-4 if at[flours[0]] > 1e-4 else -1e-4
            there[n] += step
            there[flours[0]] -= step
            by[n] = (value(there) - here) / step
        return Slope(here, by, straight=False)


class _Slopes:
    """Reads an expression as Ratios of what the variables of a model move, where they stand at."""

    divide = staticmethod(operator.truediv)

    def __init__(self, model, at):
        self.model, self.moved = model, at - model.now
        self.one = model.fixed(1.0)

    def sum(self, lines, name):
        if lines not in self.model.sums:
            return Ratio(self.model.fixed(0.0), self.one)
        value, by = self.model.sums[lines]
        n = AT[name] if name in AT else len(AT) + list(self.model.columns).index(name)
        return Ratio(Slope(float(value[n] + self.moved @ by[:, n]), by[:, n]), self.one)

    def piece(self, part):
        if part not in self.model.sums:
            return Ratio(self.model.fixed(0.0), self.one)
        by = np.array([float(v.place == "pieces" and v.written == part) for v in self.model.variables])
        return Ratio(Slope(float(getattr(self.model.formula.pieces, part) + self.moved @ by), by), self.one)

    def kept(self, part):
        return Ratio(self.model.fixed(kept_before_scaling(expected_losses(self.model.formula), part)), self.one)


def _bought(figure):
    """What is bought for a piece: what is lost before the scale and what is dusted counts too."""
    dough = (sum_over("divided", figure) + sum_over("dusting", figure)) / sum_over("divided", "mass")
    return (
        piece("dough") / kept("dough") * dough
        + on_piece(figure, "topping") / kept("topping")
        + on_piece(figure, "filling", "wash")
    )


def measured(formula, names):
    """Return {quantity: its value [in its own unit]} on the formula itself, those of a whole piece included.

    >>> measured(Formula.from_weights("bun", {"flour": 100, "water": 60}), ["hydration"])
    {'hydration': 60.0}
    """
    own = [name for name in names if name in QUANTITIES]
    made = model(formula, (), {name: PROCESS[name][0] for name in names if name in PROCESS})
    values = measures(formula, own)
    return {name: values[name] if name in values else made.quantity(name).value for name in names}


def model(formula, variables, also=None):
    """Return the Model of a formula over variables; `also` {name: function, or {ingredient: figure per kg}}.

    Raises FormulaError when two variables move the same line.
    """
    seen = {}
    for each in variables:
        for key in each.keys:
            if key in seen:
                do = "name the kind or its ingredient, not both"
                raise FormulaError(must(each.name, "free once", f"also as {seen[key]}", do))
            seen[key] = each.name
    functions = {name: what for name, what in (also or {}).items() if callable(what)}
    columns = {name: per_kg(formula, name, what) for name, what in (also or {}).items() if not callable(what)}
    names = {row["key"]: row["name"] for row in formula.ingredients.rows}
    used = {k for part in formula.parts for k in part.keys} | {k for each in variables for k in each.shares}
    for name, figures in columns.items():
        missing = [names[key] for key in used if not np.isfinite(figures[key])]
        if missing:
            be, do = "a figure per kg for every ingredient in use", "add them, 0 where it is free"
            raise AmountError(must(name, be, f"none for {listing(sorted(missing))}", do))

    def brought(keys):
        extra = np.array([[figures[key] / 1000 for figures in columns.values()] for key in keys])
        return np.hstack([weights(formula, keys), extra.reshape(len(keys), len(columns))])

    sums = {}
    kinds = {part.name: part.kind for part in formula.parts}
    reaches = {"dough": ("dough", "divided"), "inclusion": ("divided", "inclusion")}
    for over in dict.fromkeys(("dough", "divided", *kinds.values())):
        lines = lines_of(formula, over)
        by = np.zeros((len(variables), len(AT) + len(columns)))
        for n, each in enumerate(variables):
            kind = "dough" if each.place == "dough" else kinds.get(each.place)
            if each.shares and over in reaches.get(kind, (kind,)):
                by[n] = np.array(list(each.shares.values())) @ brought(tuple(each.shares))
        sums[over] = (lines.grams @ brought(lines.keys), by)
    return Model(formula, tuple(variables), functions, columns, sums)
