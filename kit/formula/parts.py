"""What a formula is made of: its parts and their lines, its make-up, the steps of its method, its bake."""

import functools
from dataclasses import dataclass, field, replace

import numpy as np

from .. import units
from ..errors import FormulaError, UnknownName, above, must, whole
from ..words import did_you_mean, listing, one_of

DOUGH = ("preferment", "cooked flour", "dough")  # the bowls that make the dough
MIXED = (*DOUGH, "inclusion")  # what is in the dough as it is divided
ON_FLOUR = (*MIXED, "dusting")  # parts whose percentages are of the total flour
KINDS = (*MIXED, "filling", "topping", "wash", "dusting")
TOTAL_FLOUR = ("total flour",)  # as the base of a part
HIGHEST = 500.0  # % of the base: beyond it a slip of the pen is certain
MOST = 100_000_000  # pieces


@dataclass(frozen=True, eq=False)
class Part:
    """What goes into one bowl: keys of ingredients and their percentages, floats or arrays.

    Percentages are % of the total flour for the kinds of ON_FLOUR; elsewhere % of what the part's base names: flour,
    flour and another kind, or (an empty base) the part's own mass.
    """

    name: str
    kind: str
    keys: tuple
    percentages: tuple
    base: tuple = ("flour",)
    how: tuple = ()  # (key, how it was weighed) for lines that were not weighed in grams

    @functools.cached_property
    def items(self):
        """Its lines: (key, percentage) of each."""
        return tuple(zip(self.keys, self.percentages, strict=True))

    @property
    def mass(self):
        """Sum of the part's percentages [% of its base]."""
        return sum(self.percentages)

    def percentage(self, key):
        """Return the percentage of one ingredient in this part, 0 when it is not there."""
        return self.percentages[self.keys.index(key)] if key in self.keys else 0.0

    def with_lines(self, lines):
        """Return the part with lines {key: percentage} instead of its own."""
        return replace(self, keys=tuple(lines), percentages=tuple(lines.values()))

    def each(self, change):
        """Return the part with every percentage changed by a function."""
        return replace(self, percentages=tuple(map(change, self.percentages)))

    def on_base(self, flour, ingredients, said="", do="name the part's base: flour, flour and cocoa, or its mass"):
        """Return a part of grams in % of all the flour [g], or of its base; said, do: what an error says of that.

        Raises FormulaError where there is none.
        """
        whole = flour if self.kind in ON_FLOUR else ingredients.total(self.items, *self.base)
        above(f"{self.name} {listing(self.base) or 'mass'}{said}", whole, unit="g", do=do, error=FormulaError)
        return self.each(lambda value: 100 * value / whole)


@dataclass(frozen=True, eq=False)
class Lines:
    """Ingredients with their grams, on whatever base the caller took: each a float, or as long as it moves."""

    keys: tuple
    values: tuple
    shape: tuple = ()  # of the formulas

    @staticmethod
    def of(parts, shape=()):
        """Return the Lines of parts together, each ingredient once, in the order they are written."""
        found = {}
        for part in parts:
            for key, value in part.items:
                found[key] = found[key] + value if key in found else value
        return Lines(tuple(found), tuple(found.values()), shape)

    @functools.cached_property
    def grams(self):
        """The same as an array (..., I)."""
        if not self.shape:
            return np.array(self.values, float)
        return np.stack([np.broadcast_to(value, self.shape) for value in self.values], -1)


PIECES = ("dough", "topping")  # masses that are taken as usual where none is given


@dataclass(frozen=True)
class Pieces:
    """How the dough is made up: count, and masses per raw piece [g] (floats or arrays)."""

    count: int | None = None
    dough: float = 60.0
    topping: float = 20.0
    wash: float = 0.0
    filling: float = 0.0
    taken: tuple = field(default=PIECES, compare=False, repr=False)  # masses that nobody gave, so the usual ones

    @property
    def given(self):
        """{what: its number}, without what is taken."""
        return {name: value for name, value in vars(self).items() if name not in ("taken", *self.taken)}


@dataclass(frozen=True)
class Step:
    """One step of the method: what is done in which part, with what, for how long [min], how warm [degC]."""

    do: str
    part: str = ""
    adds: tuple = ()
    at: str = ""
    speed: str = ""
    minutes: float | None = None
    temperature: float | None = None
    humidity: float | None = None
    until: str = ""


@dataclass(frozen=True)
class Bake:
    """How the pieces are baked: oven [degC], minutes [min], core [degC]."""

    oven: float | None = None
    minutes: float | None = None
    core: float | None = None
    steam: str = ""


_FIELD_OF = {"pieces": "count", "piece": "dough"}  # what is typed


def make_up(pieces):
    """Return Pieces from what a baker writes: {pieces [count], piece, topping, wash, filling [g]}.

    In a file the count is called `count` and the piece's mass `dough`.

    >>> make_up({"pieces": 48, "piece": "2 oz", "topping": 20}).count
    48
    """
    if isinstance(pieces, Pieces):
        return pieces
    fields = tuple(name for name in Pieces.__dataclass_fields__ if name != "taken")
    values = {}
    for written, value in pieces.items():
        known = fields if written in fields else (*_FIELD_OF, *fields[2:])
        name = one_of("makes", written, known)
        name = _FIELD_OF.get(name, name)
        if name == "count":
            values[name] = None if value is None else whole(name, units.number(value, name), most=MOST)
        else:
            zero, do = name != "dough", "weigh one piece"
            values[name] = units.read_above(value, "mass", f"piece {name}", do, zero, FormulaError)
    return Pieces(**values, taken=tuple(name for name in PIECES if name not in values))


def once(value):
    """Return an array without what only looks repeated in it: of length 1 along an axis on which nothing moves."""
    return value[tuple(slice(None if step else 1) for step in value.strides)] if np.ndim(value) else value


def check_percentage(name, value, part="dough", kind="dough"):
    """Raise FormulaError unless a percentage (float or array) is finite, 0 or more, and can be meant."""
    highest = HIGHEST if kind in ON_FLOUR else 2 * HIGHEST  # a crumb is printed with 667 % of sugar on its flour
    if isinstance(value, float) and 0 <= value <= highest:
        return
    values = np.ravel(np.asarray(value, float))
    wrong = ~((values >= 0) & (values <= highest))  # NaN is wrong too
    if wrong.any():
        be = f"0 to {highest:g} % in the {part}"
        do = "percentages are parts for 100 parts of flour: check the number"
        if kind not in ON_FLOUR:
            do = f"check the number, or name another base for the {part}, such as its own mass"
        raise FormulaError(must(name, be, f"{values[wrong][0]:g} %", do))


def part_of(name, kind, lines, ingredients, base=None):
    """Return a Part from lines {key: percentage} as a file has them; the dough's and what is mixed in: of total flour.

    base [a kind or a list of them that make 100, or "mass"], else its flour, else its own mass. Raises UnknownName.
    """
    if not lines:
        do = "write ingredient = percentage for each of its lines"
        raise FormulaError(must(name, "a part with ingredients", "none", do))
    part = Part(name, kind, tuple(lines), tuple(lines.values()), TOTAL_FLOUR)
    if kind in ON_FLOUR:
        return part
    if base is None:
        base = usual_base(lines, ingredients)
    base = tuple(base) if isinstance(base, (list, tuple)) else (base,)
    base = () if base == ("mass",) else base
    for word in base:
        if word not in ingredients.kinds:
            do = did_you_mean(word, ["mass", *ingredients.kinds])
            raise UnknownName(must(f"base of {name}", "'mass' or kinds of ingredient", repr(word), do))
    if not base and part.mass:
        part = part.each(lambda value: 100 * value / part.mass)
    return replace(part, base=base)


def usual_base(found, ingredients):
    """Return what is 100 in a part outside the dough unless its file says otherwise: its flour, else its mass."""
    return ("flour",) if any(ingredients[key].kind == "flour" for key in found) else ()


def by_key(part, lines, ingredients):
    """Return {key: (ingredient as written, value)} of a part's lines {ingredient: value}; each stands once.

    Raises UnknownName, FormulaError.
    """
    found = {}
    for written, value in lines.items():
        key = ingredients.find(written)
        if key in found:
            got = f"{written!r} again for {ingredients[key].name}"
            do = "write it once, with both amounts added"
            raise FormulaError(must(part, "a list that names each ingredient once", got, do))
        found[key] = written, value
    return found


def only_one(formula, what, do="choose one, or use kit.balance.measure"):
    """Raise FormulaError when many formulas come where one is meant; what: what it is meant for, in words."""
    if formula.shape:
        raise FormulaError(must("formula", f"one formula {what}", f"{formula.shape} of them", do))
