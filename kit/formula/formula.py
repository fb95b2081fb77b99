"""A formula: what goes into each bowl in baker's percentages, and how it is made up into pieces.

Inside, every part of the dough holds what goes into that bowl alone, in % of the total flour; so the total
formula is the sum of the bowls and the final dough is one of them, and neither needs subtracting.
"""

import functools
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from .. import page, tables
from ..errors import FormulaError, above, must, whole_letters
from ..files import read_bytes, read_text
from ..words import figure, listing, one_of, plain
from . import files, scaling, spreadsheets, varying
from .amounts import must_have_unit, weigh
from .losses import read_losses
from .makes import assumed, made_up, pieces_in
from .parts import DOUGH, KINDS, MIXED, ON_FLOUR, Bake, Lines, Pieces, by_key, check_percentage, make_up, once, part_of
from .recipe import read_file, read_recipe
from .usual import doubts

RECIPES = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls")  # endings of what is read as a recipe


@dataclass(frozen=True, eq=False)
class Formula:
    """A formula with its parts, make-up, method, bake and losses; frozen, so every change is a new one."""

    name: str
    parts: tuple = field(repr=False)
    pieces: Pieces = Pieces()
    losses: dict = field(default_factory=dict, repr=False)  # stage: % of what enters it
    steps: tuple = field(default=(), repr=False)
    bake: Bake = field(default=Bake(), repr=False)
    house: str = ""
    invented: bool = False
    about: str = ""
    parent: str = ""
    ingredients: tables.Ingredients = field(default_factory=tables.ingredients, repr=False)
    egg_measured: str = "weighed"  # or counted
    path: Path | None = field(default=None, repr=False)
    text: str = field(default="", repr=False)  # the file as it was read, for comments and for conflicts
    makes: str = field(default="", repr=False)  # what was read and assumed of its pieces, in one line

    # how to get one

    @staticmethod
    def read(
        path: str | Path,
        house_ingredients: str | Path | None = None,
        sheet: str | None = None,
        answers: Mapping[str, str] | None = None,
    ) -> "Formula":
        """Return the Formula in a file: TOML, or a recipe as a sheet of cells (CSV, XLSX) or as text.

        A sheet has the columns ingredient and amount, and may have part and unit, in any order, below any title; a
        part stands once or on every line, blank is the part above; total rows and other columns are passed over.
        What is in doubt is asked; a title or a line such as "makes 16" gives the pieces.

        path: the file; its ending says what it is.
        house_ingredients: a CSV of the house's own figures [per 100 g]; else those that the file names or holds.
        sheet: of a workbook, else the first with such columns.
        answers: {what is asked: the choice}, as in `from_text`.
        Returns the formula, with `.path`, and `.text` where comments can stay.
        Raises FileError for what is no such file, FormulaError with every question that is open in one message,
        UnknownName, AmountError, UnitError.

        >>> import tempfile
        >>> file = Path(tempfile.mkdtemp()) / "bun.csv"
        >>> _ = file.write_text("Ingredient;Qty;Unit\\nbread flour;1,5;kg\\nmilk;750;g\\n", encoding="utf-8")
        >>> Formula.read(file).of_kind("milk")
        50.0
        """
        path = Path(path)
        if path.suffix.casefold() not in RECIPES:
            return replace(Formula.parse(read_text(path), path.name, house_ingredients, path.parent), path=path)
        recipe = read_file(path.name, read_bytes(path, spreadsheets.LARGEST), answers, sheet, house_ingredients)
        return replace(recipe.formula(), path=path)

    @staticmethod
    def parse(
        text: str,
        name: str = "formula",
        house_ingredients: str | Path | tables.Ingredients | None = None,
        folder: str | Path | None = None,
    ) -> "Formula":
        """Return the Formula in TOML text.

        text: as a file has it, amounts [% of flour, g, or any unit written with them].
        name: what errors call it.
        house_ingredients: a CSV of the house's own figures [per 100 g], or Ingredients.
        folder: where a CSV that the text names lies.
        Returns the formula, its text kept, so that comments survive.
        Raises FileError, FormulaError, UnknownName, AmountError, UnitError.

        >>> Formula.parse("format = 1\\n[parts.dough.lines]\\nflour = 100\\nwater = 55").of_kind("water")
        55.0
        """
        return Formula(**files.fields(text, name, house_ingredients, folder)).checked()

    @staticmethod
    def from_text(text: str, answers: Mapping[str, str] | None = None, name: str | None = None) -> "Formula":
        """Return the Formula in a recipe as it stands on paper; what is in doubt is asked.

        text: its lines, amounts [any mass, volume or count that the tables can weigh, or % of flour].
        answers: {what is asked: the choice}.
        name: what to call it, else the recipe's title.
        Returns the formula in baker's percentages.
        Raises FormulaError with every question that is open, UnknownName, AmountError, UnitError.

        >>> Formula.from_text("500 g flour\\n250 g water", {"flour": "bread flour"}, "bun").of_kind("water")
        50.0
        """
        return read_recipe(text, answers).formula(name)

    @staticmethod
    def from_weights(
        name: str,
        dough: Mapping[str, Any],
        preferments: Mapping[str, Mapping[str, Any]] | None = None,
        ingredients: tables.Ingredients | None = None,
        bases: Mapping[str, tuple[str, ...]] | None = None,
        makes: str | Mapping[str, Any] | Pieces | None = None,
        losses: Mapping[str, Any] | None = None,
        **parts: Mapping[str, Any],
    ) -> "Formula":
        """Return a formula from what goes into each bowl, by weight.

        name: what it is called.
        dough, preferments {name: lines}, parts (topping=, filling=, wash=, inclusion=, cooked_flour=, dusting=): lines
            {ingredient: amount} [g, or text with a unit; a bare whole number that would be usual as a count, such as 3
            of egg, is asked about].
        ingredients: what the kitchen has, else the tables'.
        bases: {part: the kinds that are 100}, else its flour, else its mass.
        makes: what these amounts make, in words such as "16 buns at 65 g / 20 g", else as the name says; or {pieces
            [count], piece, topping, wash, filling [g or any mass]}. Of a count alone the masses follow from the batch.
        losses: {stage: % of what enters it}.
        Returns the formula in baker's percentages.
        Raises FormulaError without flour or for what cannot be mixed, UnknownName, AmountError, UnitError.

        >>> bun = Formula.from_weights("bun", {"bread flour": "1 kg", "milk": 560, "egg": "3 large eggs"})
        >>> [round(float(p), 2) for p in bun.part("dough").percentages]
        [100.0, 56.0, 15.0]
        """
        bowls = {part: ("preferment", lines) for part, lines in (preferments or {}).items()}
        bowls |= {"dough": ("dough", dough)} | {part: (one_of("part", part, KINDS), parts[part]) for part in parts}
        return of_bowls(str(name), bowls, ingredients or tables.ingredients(), bases or {}, makes, losses or {})

    # what is in it

    @property
    def shape(self):
        """() for one formula, the grid's shape for many."""
        return ()

    def part(self, name):
        """Return a part by its name or kind. Raises UnknownName."""
        known = [part.name for part in self.parts]
        return self.named.get(plain(name)) or self.named[plain(one_of("part", name, known))]

    @functools.cached_property
    def named(self):
        """{name, or kind, folded for comparison: part}, of several of a kind the first."""
        kinds = {part.kind: part for part in reversed(self.parts)}
        return kinds | {plain(part.name): part for part in self.parts}

    def has(self, kind):
        """Return whether the formula has a part of that kind."""
        return any(part.kind == kind for part in self.parts)

    @property
    def bowls(self):
        """The parts that make the dough: preferments, cooked flour and the final dough."""
        return tuple(part for part in self.parts if part.kind in DOUGH)

    @functools.cached_property
    def dough_lines(self):
        """The Lines of the dough as a whole [% of total flour]: the total formula."""
        return Lines.of((self.part("dough"), *(part for part in self.bowls if part.kind != "dough")), self.shape)

    @property
    def dough_keys(self):
        """The ingredients of the dough as a whole, each once, in the order they are written."""
        return self.dough_lines.keys

    @property
    def dough_percentages(self):
        """The total formula as an array (..., I) [% of total flour], in the order of `dough_keys`."""
        return self.dough_lines.grams

    def of_kind(self, kind):
        """Return the percentage of a kind in the dough as a whole [% of total flour], float or array."""
        return self.ingredients.total([line for part in self.bowls for line in part.items], kind)

    def flour_in(self, part):
        """Return the flour that goes into one part [% of the total flour]."""
        return self.ingredients.total(part.items, "flour")

    @property
    def fingerprint(self):
        """Eight letters that change when a number of the formula changes; the order of its lines does not matter."""
        lines = sorted(
            (part.name, part.kind, part.base, key, _in_steps(value)) for part in self.parts for key, value in part.items
        )
        pieces = [(name, _in_steps(value)) for name, value in vars(self.pieces).items() if name != "taken"]
        losses = sorted((stage, _in_steps(value)) for stage, value in self.losses.items())
        return hashlib.sha256(repr((lines, pieces, losses)).encode()).hexdigest()[:8]

    @property
    def house_rows(self):
        """{key: {column: text}} of the house's own figures that its lines rest on, as `Ingredients.with_rows` takes."""
        return self.ingredients.house_rows(dict.fromkeys(key for part in self.parts for key in part.keys))

    # how to change one

    vary, swap, with_preferment = varying.vary, varying.swap, varying.with_preferment
    keep, save, scale = files.keep, files.save, scaling.scale

    def with_parts(self, parts, pieces=None, **changes):
        """Return a formula like this one with other parts or pieces: one, or many when any number is an array."""
        pieces = pieces or self.pieces
        values = [value for part in parts for value in part.percentages]
        values += [pieces.dough, pieces.topping, pieces.wash, pieces.filling]
        shapes = [np.shape(value) for value in values]
        try:
            shape = np.broadcast_shapes(*shapes)
        except ValueError:
            do = "vary all of them in one call; with grid=False give arrays of one length"
            got = listing(dict.fromkeys(shape for shape in shapes if shape))
            raise FormulaError(must("arrays", "of shapes that fit one another", got, do)) from None
        return self._of_shape(shape, parts, pieces, **changes)

    def _of_shape(self, shape, parts, pieces, **changes):
        same = {name: getattr(self, name) for name in _FIELDS} | {"parts": tuple(parts), "pieces": pieces} | changes
        return Formulas(**same, grid=shape) if shape else Formula(**same)

    def checked(self):
        """Return this formula if it can be mixed as written. Raises FormulaError, which says what cannot be."""
        if not any(part.kind == "dough" for part in self.parts):
            raise FormulaError(must("dough", "among the parts", listing(p.name for p in self.parts), "add a dough"))
        for name in (self.name, *(part.name for part in self.parts)):
            whole_letters("name", name)
        names = [plain(part.name) for part in self.parts]
        for part in self.parts:
            if names.count(plain(part.name)) > 1:
                do = "choose another name"
                raise FormulaError(must("part", "called by a name of its own", f"two called {part.name!r}", do))
            for key, value in part.items:
                check_percentage(self.ingredients[key].name, value, part.name, part.kind)
        flour = self.of_kind("flour")
        do = "change the other flours too"
        if not np.all(flour):
            do = "enter flour, or choose another base"
        elif not self.shape and abs(self.dough_percentages.sum() - 100) < 0.5:
            do = (
                "these percentages add up to 100, so they look like shares of the whole dough: "
                f"multiply each by {figure(100 / flour, 4)} to have flour at 100"
            )
        _must_be_whole("flour", flour, "100 % in all, the preferment's included", do)
        for part in self.parts:
            if part.kind not in ON_FLOUR and part.base:
                do = f"what the {part.name}'s percentages are of must be 100; change them, or name another base"
                of_base = self.ingredients.total(part.items, *part.base)
                _must_be_whole(f"{part.name} {listing(part.base)}", of_base, "100 % in all", do)
        return self

    # how it looks

    def to_frame(self):
        """Return the formula as a DataFrame: part, ingredient, percentage, base."""
        rows = [(p.name, self.ingredients[key].name, v, self.base_words(p)) for p in self.parts for key, v in p.items]
        return page.frame(["part", "ingredient", "percentage", "% of"], rows)

    def base_words(self, part):
        """Return what 100 is for a part, in words."""
        if part.kind in ON_FLOUR:
            return "total flour"
        return f"the {part.name}'s {listing(part.base)}" if part.base else f"the {part.name}'s mass"

    def final_dough(self):
        """Return what goes into the mixer beside the finished preferments, % of the final dough's own flour."""
        final = self.part("dough")
        flour = self.flour_in(final)
        whole, of = (flour, "final dough's flour") if flour > 0 else (100.0, "total flour")
        rows = [(self.ingredients[key].name, 100 * value / whole) for key, value in final.items]
        rows += [(part.name, 100 * part.mass / whole) for part in self.bowls if part.kind != "dough"]
        return page.frame(["ingredient", f"% of {of}"], rows, index=True)

    def _repr_html_(self):
        caption = f"{self.name}" + (f", {self.house}" if self.house else "") + (" (invented)" if self.invented else "")
        bowls = sorted(self.bowls, key=lambda part: part.kind == "dough") if len(self.bowls) > 1 else []
        heads = ["final dough" if part.kind == "dough" else f"in the {part.name}" for part in bowls]
        rows = [
            [self._named(key), figure(total, 2), *(_or_dash(part.percentage(key)) for part in bowls)]
            for key, total in zip(self.dough_keys, self.dough_percentages, strict=True)
        ]
        total = self.dough_percentages.sum()
        rows.append(["total percentage", figure(total, 2), *(figure(part.mass, 2) for part in bowls)])
        html = page.table(["dough", "total, % of flour", *heads], rows, caption, strong=(len(rows) - 1,))
        for part in self.parts:
            if part.kind not in DOUGH:
                lines = [[self._named(k), figure(v, 2)] for k, v in part.items]
                lines.append(["total", figure(part.mass, 2)])
                html += page.table([part.name, f"% of {self.base_words(part)}"], lines, strong=(len(lines) - 1,))
        if self.steps:
            said = [
                (f"{s.do}: {s.until}" if s.until else s.do, s.at, s.speed, s.minutes, s.temperature) for s in self.steps
            ]
            steps = [[*words, _or_dash(minutes, 0), _or_dash(warm, 0)] for *words, minutes, warm in said]
            html += page.table(["method", "when", "speed", "min", "°C"], steps)
        if self.bake.oven:
            bake = [_or_dash(getattr(self.bake, word), 0) for word in ("oven", "minutes", "core")]
            html += page.table(["bake", "oven, °C", "min", "core, °C"], [["", *bake]])
        keys = dict.fromkeys(key for part in self.parts for key in part.keys)
        notes = [*(f"Doubtful: {said}" for said in doubts(self)), self.about, assumed(self)]
        notes += [how for part in self.parts for _, how in part.how]
        notes += [self.ingredients.house_figures(key) for key in keys]
        return f'{html}<div style="font-size:13px;color:#444">{page.paragraphs(notes)}</div>'

    def _named(self, key):
        return self.ingredients[key].name + (" *" if self.ingredients.house_figures(key) else "")

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

    def __getitem__(self, place):
        """Return one formula, or many, by numpy indexing; each number stays as long as it moves."""

        def at(value):
            return once(np.broadcast_to(value, self.grid)[place]) if np.ndim(value) else value

        parts = [part.each(at) if any(map(np.ndim, part.percentages)) else part for part in self.parts]
        masses = {name: at(value) for name, value in vars(self.pieces).items() if name not in ("count", "taken")}
        return self._of_shape(np.broadcast_to(0, self.grid)[place].shape, parts, replace(self.pieces, **masses))

    def _repr_html_(self):
        return f"<p>{page.escape(self)}</p>"

    def __str__(self):
        moving = [
            f"{self.ingredients[key].name} {figure(np.min(v))} to {figure(np.max(v))} % in the {part.name}"
            for part in self.parts
            for key, v in part.items
            if np.ndim(v)
        ]
        return f"{int(np.prod(self.grid)):,} formulas {self.grid} of {self.name}: {listing(moving)}"


_FIELDS = tuple(Formula.__dataclass_fields__)


def of_bowls(name, bowls, ingredients, bases, makes, losses):
    """Return a formula from its bowls, {name of the part: (its kind, its lines)}; the rest as in `from_weights`."""
    weighed = {}
    for part, (_, lines) in bowls.items():
        found = by_key(part, lines, ingredients)
        weighed[part] = {key: weigh(value, key, ingredients) for key, (_, value) in found.items()}
    in_dough = [line for part, found in weighed.items() if bowls[part][0] in DOUGH for line in found.items()]
    flour = ingredients.total([(key, found.grams) for key, found in in_dough], "flour")
    above("flour", flour, unit="g", do="enter flour, or choose another base", error=FormulaError)
    for key, found in in_dough:
        in_all = sum(other.grams for same, other in in_dough if same == key)  # a pinch in the sponge is usual
        must_have_unit(found, key, ingredients, in_all, flour)
    made, mixed = [], {}
    for part, found in weighed.items():
        kind, grams = bowls[part][0], {key: each.grams for key, each in found.items()}
        how = tuple((key, each.how) for key, each in found.items() if each.how != "weighed")
        own = part_of(part, kind, grams, ingredients, bases.get(part)).on_base(flour, ingredients)
        made.append(replace(own, how=how))
        into = "dough" if kind in MIXED else kind
        mixed[into] = mixed.get(into, 0.0) + sum(grams.values())
    counted = any("egg_whole_fresh" in found and found["egg_whole_fresh"].counted for found in weighed.values())
    line = name if makes is None else makes if isinstance(makes, str) else ""
    formula = Formula(
        name,
        tuple(made),
        make_up(pieces_in(line) if line else makes or {}),
        read_losses(losses),
        ingredients=ingredients,
        egg_measured="counted" if counted else "weighed",
    ).checked()
    return formula if isinstance(makes, Pieces) else made_up(formula, line, mixed)


def _must_be_whole(name, percent, be, do):
    """Raise FormulaError unless a sum of percentages, or each of many, is 100."""
    off = np.abs(np.ravel(percent) - 100)
    if np.any(off > 0.005):
        raise FormulaError(must(name, be, f"{figure(np.ravel(percent)[np.argmax(off)], 2)} %", do))


def _in_steps(value):
    """Return numbers in whole steps of 0.0001; the odd shift keeps round figures off the edge between two steps."""
    return None if value is None else np.floor(np.ravel(np.asarray(value, float)) * 1e4 + 0.3141592).tolist()


def _or_dash(value, digits=2):
    return figure(value, digits) if value else "–"
