"""A formula as a trial keeps it, with what was weighed of it; it travels in the trial's document."""

import functools
from dataclasses import dataclass, field, replace

from .. import tables
from ..errors import MOST, must
from ..formula import Batch, Formula
from ..formula.files import write
from ..formula.parts import DOUGH
from ..units import is_number
from ..words import plain
from .reading import TrialError

_HOUSE = "house_ingredients"


@dataclass(frozen=True)
class Recipe:
    """A formula as a trial keeps it: its whole text, its fingerprint, and its lines for quick comparison."""

    name: str
    fingerprint: str
    text: str = field(repr=False)
    kinds: dict = field(repr=False)  # part: its kind
    lines: dict = field(repr=False)  # part: {ingredient key: % of total flour in the dough's bowls, else of its base}
    pieces: dict = field(repr=False)  # dough, topping, wash, filling [g]
    grams: dict = field(default_factory=dict, repr=False)  # part: {ingredient key: g}, of a batch that was weighed

    def __str__(self):
        return f"{self.name} {self.fingerprint}"

    @staticmethod
    def of(what):
        """Return the Recipe of a Formula or of a weighed Batch; its text must read back to the same formula."""
        formula = what.formula if isinstance(what, Batch) else what
        text = write(formula)
        made = _recipe_of(text)
        if formula is what:
            return made
        grams = {part: {key: float(what.grams[part, key]) for key in lines} for part, lines in made.lines.items()}
        return replace(made, grams=grams)  # what nothing was weighed of has no line

    def checked(self, word):
        """Return the Recipe of its text, with what was weighed of it, which must fit. Raises TrialError."""
        do, made = "take it from an export", replace(_recipe_of(self.text), grams=self.grams)
        for part in {**self.grams, **made.lines} if self.grams else ():
            some, lines = self.grams.get(part, {}), made.lines.get(part, {})
            fits = some.keys() == lines.keys() and all(is_number(g) and 0 <= g <= MOST for g in some.values())
            if fits:
                weighed, whole = sum(some.values()), sum(lines.values())
                off = (abs(g * whole - lines[key] * weighed) for key, g in some.items())
                fits = max(off, default=0) <= 1e-4 * whole * max(weighed, 1)
            if not fits:
                raise TrialError(must(f"{word} grams", "masses in proportion to the formula's lines", f"{part}'s", do))
        return made

    @property
    def by_line(self):
        """{(part, ingredient key): percentage} of its lines."""
        return {(part, key): value for part, lines in self.lines.items() for key, value in lines.items()}

    @property
    def formula(self):
        """The Formula that the text holds, with the house's rows it rests on."""
        return _formula_in(self.text)

    def named(self, key):
        """Return the row of one of its ingredients; of one that the tables no longer have, its key alone."""
        known = self.formula.ingredients if _HOUSE in self.text else tables.ingredients()
        return known[key] if plain(key) in known.index else {"name": key, "kind": key}

    @property
    def batch(self):
        """The Batch that was weighed, where more than the formula is known."""
        grams = {(part, key): value for part, lines in self.grams.items() for key, value in lines.items()}
        return Batch(self.formula, self.flour, grams)

    @property
    def flour(self):
        """Flour of the batch that was weighed, of all bowls of the dough [g]; None when only the formula is known."""
        on_flour = (part for part in self.grams if self.kinds[part] in DOUGH)
        return next((100 * g / self.lines[p][k] for p in on_flour for k, g in self.grams[p].items() if g > 0), None)


@functools.lru_cache(maxsize=512)  # the versions of a trial carry one text
def _formula_in(text):
    return Formula.parse(text)


def _recipe_of(text):
    formula = _formula_in(text)
    lines = {p.name: {k: float(v) for k, v in zip(p.keys, p.percentages, strict=True)} for p in formula.parts}
    pieces = {
        kind: float(getattr(formula.pieces, kind)) if kind == "dough" or formula.has(kind) else 0.0
        for kind in ("dough", "topping", "wash", "filling")
    }
    kinds = {part.name: part.kind for part in formula.parts}
    return Recipe(formula.name, formula.fingerprint, text, kinds, lines, pieces)
