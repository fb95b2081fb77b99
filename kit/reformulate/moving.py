"""What may move in a formula, and how every quantity follows it: values with exact slopes.

A balance is a quotient of two sums that are linear in the percentages. So "quantity = target" is linear too:
top - target x beneath = 0. `Slope` carries a number with its slopes and remembers whether they hold everywhere.
"""

from dataclasses import dataclass, field

import numpy as np

from ..balance import UNITS, measure
from ..balance.accounts import AT, dough_lines, dough_with_inclusions, part_lines, weights
from ..balance.quantities import QUOTIENTS, SHARES
from ..errors import AmountError, FormulaError, UnknownName, must
from ..formula import Formula, expected_losses
from ..formula.losses import kept_before_scaling
from ..formula.parts import DOUGH, HIGHEST
from ..process import rise, water_activity
from ..words import did_you_mean, listing, plain

# Quantities of a whole raw piece, beside those of kit.balance.
PER_PIECE = {"sugars_per_piece": ("sugars_not_lactose", "g"), "energy_per_piece": ("energy", "kcal")}
PIECE_PARTS = ("dough", "topping", "filling", "wash")
# What a dough will do, by kit.process: the rise at the temperature of the formula's own steps.
PROCESS = {
    "water_activity": (water_activity, "of 1"),
    "time_to_double": (lambda formula: rise(formula, until=2).minutes, "min"),
}
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

    def __truediv__(self, other):
        if other.value == 0:
            return Slope(0.0, 0 * self.by, self.straight)
        by = (self.by - other.by * (self.value / other.value)) / other.value
        return Slope(self.value / other.value, by, self.straight and other.still)

    def times(self, factor):
        """Return this number times a fixed one."""
        return Slope(self.value * factor, self.by * factor, self.straight)


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

    "butter" is the kind in the dough as a whole, "topping sugar" a line of the topping [% of its base], "topping
    per piece" a mass [g].
    """
    text = plain(name)
    for part in PIECE_PARTS:
        if text == f"{part} per piece":
            least = 1.0 if part == "dough" else 0.0
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
        known = [*UNITS, *PER_PIECE, *PROCESS, "dough_class", *(f"{part} per piece" for part in PIECE_PARTS)]
        known = [plain(n) for n in known] + [plain(row["name"]) for row in formula.ingredients.rows]
        known += formula.ingredients.kinds
        be = "a quantity of the balance, an ingredient or a mass per piece"
        raise UnknownName(must(written, be, "a name that none has", did_you_mean(written, known))) from None


def changed(formula, variables, values):
    """Return the formula with variables brought to values; what does not move is not touched."""
    changes = {}
    for each, value in zip(variables, values, strict=True):
        if value == each.now:
            continue
        if each.place == "dough":
            changes[each.written] = value
        else:
            changes.setdefault(each.place, {})[each.written] = value
    return formula.vary(changes) if changes else formula


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

    def knows(self, name):
        """Return whether a name is a quantity here."""
        return name in self.units

    @property
    def units(self):
        """{quantity: unit}."""
        pieces = {name: unit for name, (_, unit) in PER_PIECE.items()}
        return (
            UNITS
            | pieces
            | {f"{name}_per_piece": f"{name}" for name in self.columns}
            | {name: PROCESS[name][1] if name in PROCESS else "" for name in self.functions}
        )

    def pair(self, name, at):
        """Return (above, beneath) as Slopes at the variables' values; the quantity is above / beneath."""
        if name in self.functions:
            return self._by_steps(self.functions[name], at), self._fixed(1.0)
        moved = at - self.now

        def of(over, account):
            if over not in self.sums:
                return self._fixed(0.0)
            value, by = self.sums[over]
            column = self._column(account)
            return Slope(float(value[column] + moved @ by[:, column]), by[:, column])

        def piece(part):
            by = np.array([float(v.place == "pieces" and v.written == part) for v in self.variables])
            return Slope(float(getattr(self.formula.pieces, part) + moved @ by), by)

        def beside(account, parts=PIECE_PARTS[1:]):
            whole = self._fixed(0.0)
            for part in parts:
                if part in self.sums:
                    whole = whole + piece(part) * (of(part, account) / of(part, "mass"))
            return whole

        if name in QUOTIENTS:
            top, beneath, over, factor, _ = QUOTIENTS[name]
            if over not in self.sums:
                return self._fixed(0.0), self._fixed(1.0)
            return of(over, top).times(factor), of(over, beneath)
        if name == "enrichment_ratio":
            tops = [of("dough", QUOTIENTS[share][0]) for share in SHARES]
            return (tops[0] + tops[1] + tops[2] + tops[3]).times(100), of("dough", "flour")
        if name == "prefermented_flour":
            first = sum(self.formula.flour_in(part) for part in self.formula.parts if part.kind == "preferment")
            return self._fixed(float(first)), self._fixed(1.0)
        if name == "topping_to_dough_ratio":
            return (piece("topping") if "topping" in self.sums else self._fixed(0.0)), piece("dough")
        mass = of("divided", "mass")
        if name == "sugars_per_piece_dough":
            return piece("dough") * of("divided", "sugars_not_lactose"), mass
        if name == "sugars_per_piece_topping":
            return beside("sugars_not_lactose", ("topping",)), self._fixed(1.0)
        if name == "sweetness_split":
            crust = beside("sugars_not_lactose", ("topping",)) * mass
            return crust.times(100), crust + piece("dough") * of("divided", "sugars_not_lactose")
        if name in PER_PIECE:
            account = PER_PIECE[name][0]
            return piece("dough") * of("divided", account) + beside(account) * mass, mass
        # a figure per kg counts all that is bought for a piece: what is lost before the scale and what is dusted too
        bought, losses = name.removesuffix("_per_piece"), expected_losses(self.formula)
        dough, crust = (1 / kept_before_scaling(losses, part) for part in ("dough", "topping"))
        divided = piece("dough").times(dough) * (of("divided", bought) + of("dusting", bought))
        others = beside(bought, ("topping",)).times(crust) + beside(bought, ("filling", "wash"))
        return divided + others * mass, mass

    def quantity(self, name, at=None):
        """Return a quantity, or the sum of variables by position, as a Slope where the formula stands unless told."""
        at = self.now if at is None else at
        if not isinstance(name, str):
            by = np.zeros(len(at))
            by[np.atleast_1d(name)] = 1.0
            return Slope(float(at @ by), by)
        above, beneath = self.pair(name, at)
        return above / beneath

    def _fixed(self, value):
        return Slope(value, np.zeros(len(self.variables)))

    def _column(self, account):
        return AT[account] if account in AT else len(AT) + list(self.columns).index(account)

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


def measured(formula, names):
    """Return {quantity: its value [in its own unit]} on the formula itself, those of a whole piece included.

    >>> measured(Formula.from_weights("bun", {"flour": 100, "water": 60}), ["hydration"])
    {'hydration': 60.0}
    """
    own = [name for name in names if name in UNITS]
    made = model(formula, (), {name: PROCESS[name][0] for name in names if name in PROCESS})
    values = measure(formula, own)
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
    sources = {"dough": dough_lines(formula), "divided": dough_with_inclusions(formula)}
    sources |= {kind: part_lines(formula, kind) for kind in (*PIECE_PARTS[1:], "dusting")}
    reaches = {"dough": ("dough", "divided"), "inclusion": ("divided",)}
    for over, lines in sources.items():
        if lines is None:
            continue
        by = np.zeros((len(variables), len(AT) + len(columns)))
        for n, each in enumerate(variables):
            kind = "dough" if each.place == "dough" else kinds.get(each.place)
            if each.shares and over in reaches.get(kind, (kind,)):
                by[n] = np.array(list(each.shares.values())) @ brought(tuple(each.shares))
        sums[over] = (lines.grams @ brought(lines.keys), by)
    return Model(formula, tuple(variables), functions, columns, sums)
