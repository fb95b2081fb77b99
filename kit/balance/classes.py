"""What kind of dough it is: the house's own steps that tile the plane, the published lines, and the method."""

import functools
from dataclasses import dataclass, field

import numpy as np

from .. import page
from ..formula import Formula
from ..formula.parts import once
from ..tables import ground, table
from ..words import figure, listing, without_zeros
from .quantities import at_least, in_words, measures

OWN = "house_steps"
# the two quantities that a scheme looks at, by its basis
_LOOKS_AT = {
    "pure fat % of flour": ("fat", "sugars"),
    "fat as weighed % of flour": ("fat_as_weighed", "sugar_as_weighed"),
    "% of the whole mix": ("butterfat_of_dough", "yolk_of_dough"),
}
HOUSE = _LOOKS_AT["pure fat % of flour"]
LOOKED_AT = tuple(name for pair in _LOOKS_AT.values() for name in pair)


@functools.cache
def schemes():
    """Return {scheme: its rows of dough_classes.csv in order}."""
    result = {}
    for row in sorted(table("dough_classes").rows, key=lambda row: row.order):
        result.setdefault(row.scheme, []).append(row)
    return result


@functools.cache
def own_steps():
    """Return the house's own scheme: class names, and the fat and sugar [% of flour] at which each begins."""
    rows = schemes()[OWN]
    fat, sugar = (np.array([getattr(row, f"{axis}_min") for row in rows]) for axis in ("fat", "sugar"))
    return tuple(row["class"] for row in rows), fat, sugar


def class_codes(fat, sugars):
    """Return the code of the house's class, int8: the higher of the two steps.

    fat (...), sugars (...) [% of flour, pure fat and sugars without lactose]. Scheme house_steps of
    dough_classes.csv, assumed here; defined for every fat and sugar from 0.

    >>> own_steps()[0][int(class_codes(12.0, 26.0))]
    'rich'
    """
    _, *begins = own_steps()
    by_fat, by_sugar = (
        np.maximum(np.searchsorted(lines, once(value), "right") - 1, 0).astype(np.int8)
        for lines, value in zip(begins, (fat, sugars), strict=True)
    )
    return np.maximum(by_fat, by_sugar)


@dataclass(frozen=True)
class MixingMethod(page.Result):
    """When sugar and fat go into the bowl, by their weight on flour, and by whose line."""

    sugar: str  # in words
    fat: str
    sugar_when: str
    fat_when: str
    grounds: dict = field(default_factory=dict, repr=False)

    @property
    def words(self):
        """When sugar and fat go in."""
        return f"{self.sugar}; {self.fat}"


@dataclass(frozen=True, eq=False)
class DoughClass(page.Result):
    """The class of a dough by the house's steps (code, name), by published schemes, and how it is mixed."""

    code: object  # int, or int8 array (...)
    names: tuple
    fat: object  # pure fat [% of flour]
    sugars: object  # without lactose [% of flour]
    missing: dict = field(default_factory=dict, repr=False)  # quantity: [(ingredient, g on 100 g flour)] unknown in it
    least: bool = False  # whether it could be higher by what is unknown
    formula: Formula | None = field(default=None, repr=False)  # where it is of one
    columns, digits, strong = ("scheme", "class", "basis", "fat", "sugar", "source"), 1, (0,)

    @property
    def name(self):
        """The class in a word, by the house's steps; an array of words for many."""
        return np.array(self.names)[self.code] if np.ndim(self.code) else self.names[int(self.code)]

    @property
    def said(self):
        """The class in a word, of many all there are; "at least" where what is unknown could make it higher."""
        return "at least " * self.least + listing(np.unique(self.name))

    @property
    def words(self):
        """The class in a word, and what is unknown where that could make it higher."""
        return self.said + f"; {self._unknown(HOUSE, self.missing)} unknown" * self.least

    @functools.cached_property
    def _looked_at(self):
        return _known(self.formula, LOOKED_AT) if self.formula else ({}, {}, self.missing)

    @functools.cached_property
    def schemes(self):
        """(title, class in words, basis, fat, sugar, source) of each, of one formula."""
        return tuple(_published(*self._looked_at)) if self.formula else ()

    @functools.cached_property
    def mixing(self):
        """The MixingMethod of one formula."""
        return mixing(self._looked_at[0]) if self.formula else None

    def _unknown(self, names, missing):
        found = [(in_words(name), *entry) for name in names for entry in missing.get(name, ())]
        return listing(f"{name} in {without_zeros(figure(grams, 2))} g of {one}" for name, one, grams in found)

    @property
    def notes(self):
        """What is unknown [of what there is on 100 g flour], and how the dough is mixed."""
        *_, missing = self._looked_at
        unknown = [f"Unknown on 100 g flour: {self._unknown(LOOKED_AT, missing)}."] if missing else []
        return (*unknown, *([f"At the bowl: {self.mixing}."] if self.mixing else []))

    @property
    def grounds(self):
        """What each scheme rests on."""
        return {row[0]: row[-1] for row in self.schemes}

    def frame_rows(self):
        """What each scheme says, on what basis."""
        return self.schemes


def dough_class(formula: Formula, measured: dict | None = None) -> DoughClass:
    """Return the DoughClass of a formula: by the house's steps, by published schemes, and how it is mixed.

    formula: one, or many: of those the house's class alone is told, as int8 codes with names
    measured: what `measures` gave of many [% of flour], so that it is not reckoned twice
    Returns the class by pure fat and sugars without lactose [% of flour], by schemes of dough_classes.csv, each on its
    own basis, and when sugar and fat go in, `.mixing`, by their weight on flour (mixing_method.csv; on the line itself
    the lower rule holds: "above 12 %").

    >>> rich = dough_class(Formula.from_weights("bun", {"flour": 100, "butter": 26, "sugar": 18}))
    >>> rich.name, rich.mixing.fat_when
    ('rich', 'four_fifths')
    """
    values, most, missing = _known(formula, HOUSE, measured)
    code = class_codes(*(values[name] for name in HOUSE))
    least = bool(missing) and bool(np.any(class_codes(*(most[name] for name in HOUSE)) != code))
    one, code = (None, code) if formula.shape else (formula, int(code))
    return DoughClass(code, own_steps()[0], values["fat"], values["sugars"], missing, least, one)


def _known(formula, names, measured=None):
    """Return {quantity: value}, the most that it can be, and [(ingredient, g on 100 g flour)] unknown in it."""
    values = measured or measures(formula, names)
    missing = {name: found for name in names if (found := at_least(formula, name))}
    # all of it, at most; on flour, which is more than it can be of the mix
    return values, values | {n: once(values[n]) + sum(grams for _, grams in of) for n, of in missing.items()}, missing


def _published(values, most, missing):
    for rows in schemes().values():
        first = rows[0]
        names = _LOOKS_AT[first.basis]
        word, highest = (_word(rows, *(each[name] for name in names)) for each in (values, most))
        if highest != word:
            word = f"at least {word}" if word in (row["class"] for row in rows) else f"{word}, by what is known"
        cites = "; ".join(dict.fromkeys(ground(row) for row in rows))
        fat, sugar = (page.bound(values[name], name in missing) for name in names)
        yield first.scheme_title, word, first.basis, fat, sugar, cites


def _word(rows, fat, sugar):
    """The class a scheme gives, or in words that it has none here."""
    joint = rows[0].joint
    if joint == "higher":
        return own_steps()[0][int(class_codes(fat, sugar))]
    if joint == "sum":  # its line is printed to two digits
        over = [row["class"] for row in rows if fat + sugar > (row.fat_sugar_sum_min or np.inf) + 0.005]
        return over[-1] if over else rows[0]["class"]
    if rows[0].basis == "% of the whole mix":
        met = [row["class"] for row in rows if fat >= row.butterfat_of_mix_min and sugar >= row.yolk_of_mix_min]
        return listing(met, "or") or "none: butterfat or yolk below every line of it"
    by_fat = _place([(row["class"], row.fat_min, row.fat_max) for row in rows], fat)
    by_sugar = by_fat
    if joint == "both":
        by_sugar = _place([(row["class"], row.sugar_min, row.sugar_max) for row in rows], sugar)
    return by_fat if by_fat == by_sugar else f"none: {by_fat} by its fat, {by_sugar} by its sugar"


def _place(bands, value):
    """Where a value lies among a scheme's bands; one without a lower figure begins above the band before it."""
    begun, inside, ceiling = [], [], -1.0
    for name, low, high in bands:
        if low is None and high is None:
            high = 0.0  # "little or none", without a figure
        if value > ceiling if low is None else value >= low:
            begun.append(name)
            if high is None or value <= high:  # a printed range includes its upper figure
                inside.append(name)
        ceiling = np.inf if high is None else high
    if inside:
        return inside[-1]  # the strictest line that is met
    if not begun:
        return f"below {bands[0][0]}"
    return f"between {begun[-1]} and {bands[len(begun)][0]}" if len(begun) < len(bands) else f"beyond {begun[-1]}"


def mixing_lines():
    """Return [(sugar or fat, % of flour as weighed, when from there on)] at which the method changes."""
    return [(row.what, row.from_percent, row.when) for row in table("mixing_method").rows if row.from_percent > 0]


def mixing(values):
    """Return the MixingMethod by {fat_as_weighed, sugar_as_weighed: % of flour}; see `dough_class`."""
    found = {}
    for row in table("mixing_method").rows:
        if row.what not in found or values[f"{row.what}_as_weighed"] > row.from_percent:
            found[row.what] = row
    sugar, fat = found["sugar"], found["fat"]
    return MixingMethod(
        sugar.words, fat.words, sugar.when, fat.when, {what: ground(row) for what, row in found.items()}
    )
