"""A formula: what goes into each bowl in baker's percentages, and how it is made up into pieces.

Inside, every part of the dough holds what goes into that bowl alone, in % of the total flour; so the total
formula is the sum of the bowls and the final dough is one of them, and neither needs subtracting.
"""

import functools
import hashlib
import re
from dataclasses import dataclass, field, replace

import numpy as np

from .. import page, tables, units
from ..errors import FormulaError, UnknownName, must, whole
from ..words import did_you_mean, figure, listing, plain
from .amounts import ask_for_unit, may_be_count, weigh
from .losses import read_losses
from .makes import assumed, made_up, pieces_in

DOUGH = ("preferment", "cooked flour", "dough")  # the bowls that make the dough
KINDS = (*DOUGH, "inclusion", "filling", "topping", "wash", "dusting")
HIGHEST = 500.0  # % of the base: beyond it a slip of the pen is certain
MOST = 100_000_000  # pieces


@dataclass(frozen=True, eq=False)
class Part:
    """What goes into one bowl: keys of ingredients and their percentages, floats or arrays.

    Percentages are % of the total flour for the bowls of the dough and inclusions; elsewhere % of what the
    part's base names: flour, flour and another kind, or (an empty base) the part's own mass.
    """

    name: str
    kind: str
    keys: tuple
    percentages: tuple
    base: tuple = ("flour",)
    taken_from_total: bool = True
    how: tuple = ()  # (key, how it was weighed) for lines that were not weighed in grams

    @property
    def mass(self):
        """Sum of the part's percentages [% of its base]."""
        return sum(self.percentages)

    def percentage(self, key):
        """Return the percentage of one ingredient in this part, 0 when it is not there."""
        return self.percentages[self.keys.index(key)] if key in self.keys else 0.0


PIECES = ("dough", "topping")  # masses that are taken as usual where none is given


@dataclass(frozen=True)
class Pieces:
    """How the dough is made up: count, and masses per raw piece [g] (floats or arrays)."""

    count: int | None = None
    dough: float = 60.0
    topping: float = 20.0
    wash: float = 0.0
    filling: float = 0.0
    taken: tuple = field(default=(), compare=False, repr=False)  # masses that nobody gave, so the usual ones

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


@dataclass(frozen=True, eq=False)
class Formula:
    """A formula with its parts, make-up, method, bake and losses; frozen, so every change is a new one."""

    name: str
    parts: tuple = field(repr=False)
    pieces: Pieces = Pieces(taken=PIECES)
    losses: dict = field(default_factory=dict, repr=False)  # stage: % of what enters it
    steps: tuple = field(default=(), repr=False)
    bake: Bake = field(default=Bake(), repr=False)
    house: str = ""
    invented: bool = False
    about: str = ""
    parent: str = ""
    ingredients: tables.Ingredients = field(default_factory=tables.ingredients, repr=False)
    egg_measured: str = "weighed"  # or counted
    path: object = field(default=None, repr=False)
    text: str = field(default="", repr=False)  # the file as it was read, for comments and for conflicts
    makes: str = field(default="", repr=False)  # what was read and assumed of its pieces, in one line

    # how to get one

    @staticmethod
    def read(path, house_ingredients=None):
        """Return the formula in a TOML file. Raises FileError or FormulaError; see `kit.formula.files`."""
        from .files import read

        return read(path, house_ingredients)

    @staticmethod
    def from_weights(
        name, dough, preferments=None, ingredients=None, bases=None, pieces=None, losses=None, makes="", **parts
    ):
        """Return a formula from what goes into each bowl, by weight.

        dough and each preferment, topping, filling, wash, inclusion: {ingredient: amount} with amounts [g, or
        text with a unit; a bare whole number that would be usual as a count, such as 3 of egg, is asked about];
        bases {part: kinds that are 100}; pieces {count, dough, topping, wash, filling [g]}; losses {stage: % };
        makes [what these amounts make, such as "16 buns at 65 g / 20 g"; else the name is asked], see `makes`. Raises
        FormulaError without flour, UnknownName, AmountError, UnitError.

        >>> bun = Formula.from_weights("bun", {"bread flour": "1 kg", "milk": 560, "egg": "3 large eggs"})
        >>> [round(float(p), 2) for p in bun.part("dough").percentages]
        [100.0, 56.0, 15.0]
        """
        ingredients = ingredients or tables.ingredients()
        bases = bases or {}
        bowls = {p: (lines, "preferment") for p, lines in (preferments or {}).items()} | {"dough": (dough, "dough")}
        for kind, lines in parts.items():
            bowls[kind] = (lines, kind.replace("_", " "))
        weighed = {}
        for part, (lines, kind) in bowls.items():
            if kind not in KINDS:
                raise UnknownName(must("part", f"one of {listing(KINDS, 'or')}", repr(part), did_you_mean(kind, KINDS)))
            found = {}
            for written, value in lines.items():
                key = ingredients.find(written)
                if key in found:
                    raise _twice(part, written, ingredients[key]["name"])
                found[key] = weigh(value, key, ingredients)
            weighed[part] = (kind, found)
        flour = sum(
            w.grams for kind, found in weighed.values() if kind in DOUGH for key, w in found.items()
            if ingredients[key]["kind"] == "flour"
        )  # fmt: skip
        if not flour > 0:
            do = "enter flour, or choose another base"
            raise FormulaError(must("flour", "above 0 g, since everything is measured against it", f"{flour:g} g", do))
        bowls = [(key, w) for kind, found in weighed.values() if kind in DOUGH for key, w in found.items()]
        for key, w in bowls:
            in_all = sum(other.grams for same, other in bowls if same == key)  # a pinch in the sponge is usual
            if may_be_count(w, key, ingredients, in_all, flour):
                raise ask_for_unit(w.grams, key, ingredients)
        made = []
        for part, (kind, found) in weighed.items():
            base, whole = _in_dough(kind), flour
            if not base:
                base = bases.get(part, usual_base(found, ingredients))
                of_base = [w.grams for key, w in found.items() if not base or ingredients[key]["kind"] in base]
                whole = sum(of_base)
                if not whole > 0:
                    do = "name the part's base: flour, flour and cocoa, or its mass"
                    got = f"{whole:g} g of {listing(base)}" if base else f"{whole:g} g"
                    raise FormulaError(must(f"{part} base", "more than 0 g", got, do))
            how = tuple((key, w.how) for key, w in found.items() if w.how != "weighed")
            shares = tuple(100 * w.grams / whole for w in found.values())
            made.append(Part(part, kind, tuple(found), shares, base, how=how))
        counted = any(key == "egg_whole_fresh" and w.counted for _, f in weighed.values() for key, w in f.items())
        line = makes or str(name)
        said = {} if isinstance(pieces, Pieces) else pieces_in(line)
        formula = check(
            Formula(
                str(name), tuple(made), make_up(said | dict(pieces or {}) if said else pieces or {}),
                read_losses(losses or {}), ingredients=ingredients, egg_measured="counted" if counted else "weighed",
            )
        )  # fmt: skip
        mixed = {"dough": 0.0}
        for kind, found in weighed.values():
            into = "dough" if kind in (*DOUGH, "inclusion") else kind
            mixed[into] = mixed.get(into, 0.0) + sum(w.grams for w in found.values())
        return made_up(formula, said, line, mixed)

    # what is in it

    @property
    def shape(self):
        """() for one formula, the grid's shape for many."""
        return ()

    def part(self, name):
        """Return a part by its name or kind. Raises UnknownName."""
        for part in self.parts:
            if plain(part.name) == plain(name):
                return part
        for part in self.parts:
            if part.kind == plain(name):
                return part
        known = [part.name for part in self.parts]
        raise UnknownName(must("part", f"one of {listing(known, 'or')}", repr(str(name)), did_you_mean(name, known)))

    def has(self, kind):
        """Return whether the formula has a part of that kind."""
        return any(part.kind == kind for part in self.parts)

    @property
    def bowls(self):
        """The parts that make the dough: preferments, cooked flour and the final dough."""
        return tuple(part for part in self.parts if part.kind in DOUGH)

    @functools.cached_property
    def dough_keys(self):
        """The ingredients of the dough as a whole, each once, in the order they are written."""
        final = self.part("dough").keys
        return tuple(dict.fromkeys((*final, *(key for part in self.bowls for key in part.keys))))

    @functools.cached_property
    def dough_percentages(self):
        """The total formula as an array (..., I) [% of total flour], in the order of `dough_keys`."""
        result = np.zeros((*self.shape, len(self.dough_keys)))
        for part in self.bowls:
            for key, value in zip(part.keys, part.percentages, strict=True):
                result[..., self.dough_keys.index(key)] += value
        return result

    def of_kind(self, kind):
        """Return the percentage of a kind in the dough as a whole [% of total flour], float or array."""
        return sum(
            (
                value
                for part in self.bowls
                for key, value in zip(part.keys, part.percentages, strict=True)
                if self.ingredients[key]["kind"] == kind
            ),
            0.0,
        )

    def flour_in(self, part):
        """Return the flour that goes into one part [% of the total flour]."""
        return sum(
            (v for k, v in zip(part.keys, part.percentages, strict=True) if self.ingredients[k]["kind"] == "flour"), 0.0
        )

    @property
    def fingerprint(self):
        """Eight letters that change when a number of the formula changes; the order of its lines does not matter."""
        lines = sorted(
            (part.name, part.kind, part.base, key, _in_steps(value))
            for part in self.parts
            for key, value in zip(part.keys, part.percentages, strict=True)
        )
        pieces = [(name, _in_steps(value)) for name, value in vars(self.pieces).items() if name != "taken"]
        losses = sorted((stage, _in_steps(value)) for stage, value in self.losses.items())
        return hashlib.sha256(repr((lines, pieces, losses)).encode()).hexdigest()[:8]

    @property
    def house_rows(self):
        """{key: {column: text}} of the house's own figures that its lines rest on, as `Ingredients.with_rows` takes."""
        return self.ingredients.house_rows(dict.fromkeys(key for part in self.parts for key in part.keys))

    # how to change one

    def vary(self, changes=None, *, grid=True, **named):
        """Return a variant; see `kit.formula.varying.vary`."""
        from .varying import vary

        return vary(self, changes, grid=grid, **named)

    def swap(self, out, into, share=100.0, part="dough"):
        """Return a variant with a share of an ingredient replaced weight for weight; see `varying.swap`."""
        from .varying import swap

        return swap(self, out, into, share, part)

    def with_preferment(self, name, flour, lines=None):
        """Return the same total formula with part of it fermented first; see `varying.with_preferment`."""
        from .varying import with_preferment

        return with_preferment(self, name, flour, lines or {})

    def with_part(self, kind, lines, mass=None, name=None, base=None):
        """Return a variant with one more wash, filling, topping, inclusion or dusting; see `varying.with_part`."""
        from .varying import with_part

        return with_part(self, kind, lines, mass, name, base)

    def keep(self, name, folder=None):
        """Save as a new variant's file at once and return it; see `kit.formula.files.keep`."""
        from .files import keep

        return keep(self, name, folder)

    def save(self, path=None):
        """Write the formula to its file, comments kept; see `kit.formula.files.save`."""
        from .files import save

        return save(self, path)

    # how it looks

    def to_frame(self):
        """Return the formula as a DataFrame: part, ingredient, percentage, base."""
        rows = []
        for part in self.parts:
            for key, value in zip(part.keys, part.percentages, strict=True):
                rows.append((part.name, self.ingredients[key]["name"], value, self.base_words(part)))
        return page.frame(["part", "ingredient", "percentage", "% of"], rows)

    def base_words(self, part):
        """Return what 100 is for a part, in words."""
        if _in_dough(part.kind):
            return "total flour"
        return f"the {part.name}'s {listing(part.base)}" if part.base else f"the {part.name}'s mass"

    def final_dough(self):
        """Return what goes into the mixer beside the finished preferments, % of the final dough's own flour."""
        final = self.part("dough")
        flour = self.flour_in(final)
        whole, of = (flour, "final dough's flour") if flour > 0 else (100.0, "total flour")
        lines = zip(final.keys, final.percentages, strict=True)
        rows = [(self.ingredients[key]["name"], 100 * value / whole) for key, value in lines]
        rows += [(part.name, 100 * part.mass / whole) for part in self.bowls if part.kind != "dough"]
        return page.frame(["ingredient", f"% of {of}"], rows, index=True)

    def _repr_html_(self):
        from .usual import doubts

        caption = f"{self.name}" + (f", {self.house}" if self.house else "") + (" (invented)" if self.invented else "")
        first = [part for part in self.bowls if part.kind != "dough"]
        final = self.part("dough")
        columns = [
            "dough",
            "total, % of flour",
            *(f"in the {p.name}" for p in first),
            *(["final dough"] if first else []),
        ]
        rows = [
            [
                self._named(key),
                figure(total, 2),
                *(_or_dash(p.percentage(key)) for p in (*first, *([final] if first else []))),
            ]
            for key, total in zip(self.dough_keys, self.dough_percentages, strict=True)
        ]
        rows.append(
            ["total percentage", *(figure(v, 2) for v in (self.dough_percentages.sum(), *(p.mass for p in first)))]
        )
        if first:
            rows[-1].append(figure(final.mass, 2))
        html = page.table(columns, rows, caption, strong=(len(rows) - 1,))
        for part in self.parts:
            if part.kind not in DOUGH:
                lines = [[self._named(k), figure(v, 2)] for k, v in zip(part.keys, part.percentages, strict=True)]
                lines.append(["total", figure(part.mass, 2)])
                html += page.table([part.name, f"% of {self.base_words(part)}"], lines, strong=(len(lines) - 1,))
        if self.steps:
            steps = [[s.do + (f": {s.until}" if s.until else ""), s.at, s.speed, _or_dash(s.minutes, 0),
                      _or_dash(s.temperature, 0)] for s in self.steps]  # fmt: skip
            html += page.table(["method", "when", "speed", "min", "degC"], steps)
        if self.bake.oven:
            html += page.table(["bake", "oven, degC", "min", "core, degC"], [
                ["", *(_or_dash(getattr(self.bake, word), 0) for word in ("oven", "minutes", "core"))]
            ])  # fmt: skip
        notes = [*(f"Doubtful: {said}" for said in doubts(self)), self.about, assumed(self)]
        notes += [how for part in self.parts for _, how in part.how]
        keys = dict.fromkeys(key for part in self.parts for key in part.keys)
        notes += [text for key in keys if (text := self.ingredients.house_figures(key))]
        return html + "".join(
            f'<p style="font-size:13px;color:#444;margin:2px 0">{page.escape(n)}</p>' for n in notes if n
        )

    def _named(self, key):
        return self.ingredients[key]["name"] + (" *" if self.ingredients.house_figures(key) else "")

    def __str__(self):
        return self.to_frame().to_string()


@dataclass(frozen=True, eq=False)
class Formulas(Formula):
    """Many formulas at once: the same parts, with percentages or pieces that are arrays of one shape."""

    grid: tuple = ()

    @property
    def shape(self):
        """The shape of the arrays."""
        return self.grid

    def __len__(self):
        return self.grid[0]

    def __getitem__(self, place):
        """Return one formula, or many, by numpy indexing."""

        def at(value):
            return np.broadcast_to(value, self.grid)[place] if np.ndim(value) else value

        shape = np.broadcast_to(0, self.grid)[place].shape
        return self._like(at, shape)

    def blocks(self, rows=2048):
        """Yield (slice, formulas) of the flattened grid, in blocks small enough for the processor's cache."""
        size = int(np.prod(self.grid))

        def flat(value):
            return np.broadcast_to(value, self.grid).reshape(-1) if np.ndim(value) else value

        whole = self._like(flat, (size,))
        for start in range(0, size, rows):
            place = slice(start, min(start + rows, size))
            yield place, whole._like(lambda v, at=place: v[at] if np.ndim(v) else v, (place.stop - start,))

    def _like(self, change, shape):
        parts = tuple(replace(part, percentages=tuple(map(change, part.percentages))) for part in self.parts)
        p = self.pieces
        pieces = Pieces(p.count, change(p.dough), change(p.topping), change(p.wash), change(p.filling), p.taken)
        plain_fields = {name: getattr(self, name) for name in _FIELDS if name not in ("parts", "pieces")}
        if shape == ():
            return Formula(parts=parts, pieces=pieces, **plain_fields)
        return Formulas(parts=parts, pieces=pieces, grid=shape, **plain_fields)

    def _repr_html_(self):
        return f"<p>{page.escape(self)}</p>"

    def __str__(self):
        moving = [
            f"{self.ingredients[key]['name']} {figure(np.min(v))} to {figure(np.max(v))} % in the {part.name}"
            for part in self.parts
            for key, v in zip(part.keys, part.percentages, strict=True)
            if np.ndim(v)
        ]
        return f"{int(np.prod(self.grid)):,} formulas {self.grid} of {self.name}: {listing(moving)}"


_FIELDS = tuple(Formula.__dataclass_fields__)


def with_parts(formula, parts, pieces=None, **changes):
    """Return a formula like this one with other parts or pieces: one, or many when any number is an array."""
    pieces = pieces or formula.pieces
    values = [value for part in parts for value in part.percentages]
    values += [pieces.dough, pieces.topping, pieces.wash, pieces.filling]
    shapes = [np.shape(value) for value in values]
    try:
        shape = np.broadcast_shapes(*shapes)
    except ValueError:
        do = "vary all of them in one call; with grid=False give arrays of one length"
        got = listing(dict.fromkeys(shape for shape in shapes if shape))
        raise FormulaError(must("arrays", "of shapes that fit one another", got, do)) from None
    same = {name: getattr(formula, name) for name in _FIELDS} | {"parts": tuple(parts), "pieces": pieces} | changes
    return Formulas(**same, grid=shape) if shape else Formula(**same)


def only_one(formula, what, do="choose one, or use kit.balance.measure"):
    """Raise FormulaError when many formulas come where one is meant; what: what it is meant for, in words."""
    if formula.shape:
        raise FormulaError(must("formula", f"one formula {what}", f"{formula.shape} of them", do))


def make_up(pieces):
    """Return Pieces from what a baker writes: {count, dough, topping, wash, filling} with masses [g].

    >>> make_up({"count": 48, "dough": "2 oz", "topping": 20}).count
    48
    """
    if isinstance(pieces, Pieces):
        return pieces
    known = tuple(name for name in Pieces.__dataclass_fields__ if name != "taken")
    values = {"taken": tuple(name for name in PIECES if name not in pieces)}
    for name, value in pieces.items():
        if name not in known:
            raise UnknownName(must("pieces", f"one of {listing(known, 'or')}", repr(name), did_you_mean(name, known)))
        if name == "count":
            values[name] = None if value is None else whole(name, units.number(value, name), most=MOST)
        else:
            zero, do = name != "dough", "weigh one piece"
            values[name] = units.read_above(value, "mass", f"piece {name}", do, zero, FormulaError)
    return Pieces(**values)


def check(formula):
    """Return the formula if it can be mixed as written. Raises FormulaError, which says what cannot be."""
    if not any(part.kind == "dough" for part in formula.parts):
        raise FormulaError(must("dough", "among the parts", listing(p.name for p in formula.parts), "add a dough"))
    for name in (formula.name, *(part.name for part in formula.parts)):
        if half := re.search("[\ud800-\udfff]", name):
            got = f"U+{ord(half[0]):04X} at position {half.start()}"
            raise FormulaError(must("name", "whole letters", got, "write it anew"))
    names = [plain(part.name) for part in formula.parts]
    for part in formula.parts:
        if names.count(plain(part.name)) > 1:
            do = "choose another name"
            raise FormulaError(must("part", "called by a name of its own", f"two called {part.name!r}", do))
        for key, value in zip(part.keys, part.percentages, strict=True):
            check_percentage(formula.ingredients[key]["name"], value, part.name, part.kind)
    flour = formula.of_kind("flour")
    if np.any(np.abs(flour - 100) > 0.005):
        got = f"{figure(np.ravel(flour)[np.argmax(np.abs(np.ravel(flour) - 100))], 2)} %"
        do = "change the other flours too"
        total = formula.dough_percentages.sum(-1)
        if not formula.shape and abs(total - 100) < 0.5 and flour > 0:
            factor = 100 / flour
            do = (
                "these percentages add up to 100, so they look like shares of the whole dough: "
                f"multiply each by {figure(factor, 4)} to have flour at 100"
            )
        if np.any(flour == 0):
            do = "enter flour, or choose another base"
        raise FormulaError(must("flour", "100 % in all, the preferment's included", got, do))
    for part in formula.parts:
        if not _in_dough(part.kind) and part.base:
            of_base = sum(
                v
                for k, v in zip(part.keys, part.percentages, strict=True)
                if formula.ingredients[k]["kind"] in part.base
            )
            if np.any(np.abs(of_base - 100) > 0.005):
                got = f"{figure(np.ravel(of_base)[0], 2)} %"
                do = f"what the {part.name}'s percentages are of must be 100; change them, or name another base"
                raise FormulaError(must(f"{part.name} {listing(part.base)}", "100 % in all", got, do))
    return formula


def numbers(name, value):
    """Return an array of floats. Raises FormulaError for what is none, or empty."""
    try:
        array = np.asarray(value, float)
    except (TypeError, ValueError, OverflowError):
        raise FormulaError(must(name, "a number or an array of them", repr(value), "give numbers")) from None
    if not array.size:
        raise FormulaError(must(name, "a number or an array of them", "an empty array", "give numbers"))
    return array


def check_percentage(name, value, part="dough", kind="dough"):
    """Raise FormulaError unless a percentage (float or array) is finite, 0 or more, and can be meant."""
    values = np.ravel(np.asarray(value, float))
    highest = HIGHEST if _in_dough(kind) else 2 * HIGHEST  # a crumb is printed with 667 % of sugar on its flour
    wrong = ~((values >= 0) & (values <= highest))  # NaN is wrong too
    if wrong.any():
        be = f"0 to {highest:g} % in the {part}"
        do = "percentages are parts for 100 parts of flour: check the number"
        if not _in_dough(kind):
            do = f"check the number, or name another base for the {part}, such as its own mass"
        raise FormulaError(must(name, be, f"{values[wrong][0]:g} %", do))


def written_factor(formula):
    """Return true total flour / the flour that written percentages refer to (1 unless a preferment is on top).

    Raises FormulaError when all flour is on top: nothing is left that percentages could refer to.
    """
    extra = sum(formula.flour_in(part) for part in formula.bowls if not part.taken_from_total)
    own = 100 - extra
    if np.any(own < 1e-6):
        got, do = figure(float(np.min(own)), 2), "take the preferment from the total"
        raise FormulaError(must("dough flour", "above 0 % beside what comes on top", f"{got} %", do))
    return 100 / own


def _in_dough(kind):
    return ("total flour",) if kind in DOUGH or kind in ("inclusion", "dusting") else ()


def part_of(name, kind, lines, ingredients, base=None):
    """Return a Part from lines {key: percentage} as a file has them; the dough's and what is mixed in: of total flour.

    base [a kind or a list of them that make 100, or "mass"], else its flour, else its own mass. Raises UnknownName.
    """
    if fixed := _in_dough(kind):
        return Part(name, kind, tuple(lines), tuple(lines.values()), fixed)
    if base is None:
        base = usual_base(lines, ingredients)
    base = tuple(base) if isinstance(base, (list, tuple)) else (base,)
    base = () if base == ("mass",) else base
    for word in base:
        if word not in ingredients.kinds:
            do = did_you_mean(word, ["mass", *ingredients.kinds])
            raise UnknownName(must(f"base of {name}", "'mass' or kinds of ingredient", repr(word), do))
    whole = sum(lines.values()) if not base else 0
    return Part(name, kind, tuple(lines), tuple(100 * v / whole if whole else v for v in lines.values()), base)


def usual_base(found, ingredients):
    """Return what is 100 in a part outside the dough unless its file says otherwise: its flour, else its mass."""
    return ("flour",) if any(ingredients[key]["kind"] == "flour" for key in found) else ()


def _twice(part, written, name):
    do = "write it once, with both amounts added"
    return FormulaError(must(part, "a list that names each ingredient once", f"{written!r} again for {name}", do))


def _in_steps(value):
    """Return numbers in whole steps of 0.0001; the odd shift keeps round figures off the edge between two steps."""
    return None if value is None else np.floor(np.ravel(np.asarray(value, float)) * 1e4 + 0.3141592).tolist()


def _or_dash(value, digits=2):
    return figure(value, digits) if value else "–"
