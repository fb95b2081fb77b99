"""A formula as a trial keeps it, with what was weighed of it; it travels in the trial's document."""

import functools
import math
import re
from dataclasses import dataclass, field, fields, replace

from .. import tables
from ..errors import must
from ..formula import Batch
from ..formula.files import parse, write
from ..formula.formula import DOUGH
from ..words import figure, plain
from .fields import TrialError, is_number

_HOUSE = "house_ingredients"
_ELSEWHERE = re.compile(rf"""^{_HOUSE}\s*=\s*["']""", re.MULTILINE)  # a house's file, named and not taken along


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

    @staticmethod
    def _read(formula, text):
        lines = {p.name: {k: float(v) for k, v in zip(p.keys, p.percentages, strict=True)} for p in formula.parts}
        pieces = {
            kind: float(getattr(formula.pieces, kind)) if kind == "dough" or formula.has(kind) else 0.0
            for kind in ("dough", "topping", "wash", "filling")
        }
        kinds = {part.name: part.kind for part in formula.parts}
        return Recipe(formula.name, formula.fingerprint, text, kinds, lines, pieces)

    @property
    def formula(self):
        """The Formula that the text holds, with the house's rows it rests on."""
        return _formula_in(self.text)

    @property
    def has_house_rows(self):
        """Whether its text holds figures of the house's own."""
        return _HOUSE in self.text and not _ELSEWHERE.search(self.text)

    def named(self, key):
        """Return the row of one of its ingredients; of a house's own whose file is elsewhere, its key alone."""
        known = self.formula.ingredients if self.has_house_rows else tables.ingredients()
        return known[key] if plain(key) in known.index else {"name": key, "kind": key}

    @property
    def batch(self):
        """The Batch that was weighed; None when only the formula is known."""
        if not self.grams:
            return None
        grams = {(part, key): value for part, lines in self.grams.items() for key, value in lines.items()}
        return Batch(self.formula, self.flour, grams)

    @property
    def flour(self):
        """Flour of the batch that was weighed, of all bowls of the dough [g]; None when only the formula is known."""
        on_flour = (part for part in self.grams if self.kinds[part] in DOUGH)
        return next((100 * g / self.lines[p][k] for p in on_flour for k, g in self.grams[p].items() if g > 0), None)


def object_in(document, word):
    """Return the object under a word of a document, {} for none. Raises TrialError for anything else."""
    value = document.get(word, {})
    if not isinstance(value, dict):
        raise TrialError(must(f"{word} of the trial", "an object", type(value).__name__, "take it from an export"))
    return value


def recipe_in(body, word):
    """Return the Recipe in a document; its fingerprint and lines must be those of its text."""
    body = object_in({word: body}, word)
    text = body.get("text")
    if not isinstance(text, str):
        raise TrialError(must(word, "a formula's text", type(text).__name__, "take it from an export"))
    if _ELSEWHERE.search(text):  # of an older book; its file need not be here: the lines were read when it was
        return _as_it_says(body, word)
    found = replace(_recipe_of(text), grams=_grams(body, word))
    if found.fingerprint != body.get("fingerprint"):
        got = f"{found.fingerprint} against {body.get('fingerprint')!r}"
        raise TrialError(must(f"{word} fingerprint", "that of its text", got, "take the text from an export"))
    return found


def _grams(body, word):
    """Return what was weighed of a batch; it must give the percentages of the lines."""
    grams = object_in(body, "grams")
    lines = object_in(body, "lines")
    if grams and {p: set(object_in(grams, p)) for p in grams} != {p: set(object_in(lines, p)) for p in lines}:
        raise TrialError(must(f"{word} grams", "the lines of the formula", "others", "take it from an export"))
    for part, some in grams.items():
        whole = sum(lines[part].values())
        if not all(is_number(g) and math.isfinite(g) and g >= 0 for g in some.values()):
            raise TrialError(must(f"{word} grams", "masses of 0 g or more", "others", "take it from an export"))
        for key, g in some.items():
            if abs(g * whole - lines[part][key] * sum(some.values())) > 1e-4 * whole * max(sum(some.values()), 1):
                got = f"{figure(g, 1)} g of {key}"
                raise TrialError(must(f"{word} grams", "in proportion to the lines", got, "take it from an export"))
    return grams


def _as_it_says(body, word):
    """Return the Recipe of a formula whose house's file is elsewhere, its lines taken as they stand once sound."""
    lines, numbers = object_in(body, "lines"), [object_in(body, "pieces"), *object_in(body, "lines").values()]
    sound = (
        all(isinstance(body.get(name), str) for name in ("name", "fingerprint"))
        and all(isinstance(some, dict) and all(map(is_number, some.values())) for some in numbers)
        and {"dough", "topping", "wash", "filling"} == set(object_in(body, "pieces"))
        and set(object_in(body, "kinds")) == set(lines)
    )
    if not sound:
        raise TrialError(must(word, "whole: name, fingerprint, kinds, lines, pieces", "less", "take it from an export"))
    return Recipe(**{f.name: body[f.name] for f in fields(Recipe) if f.name != "grams"}, grams=_grams(body, word))


@functools.lru_cache(maxsize=512)  # the versions of a trial carry one text
def _formula_in(text):
    return parse(text)


def _recipe_of(text):
    return Recipe._read(_formula_in(text), text)
