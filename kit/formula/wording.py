"""Words on a kitchen's paper, by recipe_words.csv, and the amounts that stand among them."""

import functools
import re
from typing import NamedTuple

from ..tables import table
from ..units import unit_row
from ..words import plain

FRACTION = "½¼¾⅓⅔⅛⅜⅝⅞⅕⅖⅗⅘⅙⅚"
NUMBER = (
    r"(?:\d+-\d/\d(?!\d)|(?:\d+ )?\d{1,2}\s?[/⁄]\s?\d{1,2}(?!\d)|\d{1,3}(?:[ ']\d{3})+(?![\d/])|\d[\d.,']*\d|\.?\d"
    rf"|(?=[{FRACTION}]))\s?[{FRACTION}]?"
)
_TO = r"\s*(?:-|–|—|\bto\b|\bor\b|\bbis\b|\boder\b)\s*"
_PARTED = re.compile(r"[\s.]+")  # what may stand within a word
BRACKETS = re.compile(r"[(\[][^()\[\]]*[)\]]?")


@functools.cache
def words_of(*sorts):
    """Return {word: its row} of these sorts of recipe_words.csv."""
    rows = [row for row in table("recipe_words").rows if row["is"] in sorts]
    return {plain(word): row for row in rows for word in row.words.split(";")}


def _pattern(words):
    """Return the pattern of any of these words, the longest first."""
    longest = sorted(words, key=len, reverse=True)
    return "|".join(r"[\s.]*".join(map(re.escape, word.split())) for word in longest if word)


@functools.cache
def any_of(*sorts):
    """Return the pattern of any word of these sorts, the longest first, for a longer pattern."""
    return _pattern(words_of(*sorts))


@functools.cache
def in_text(*sorts):
    """Return the pattern of any word of these sorts in a text."""
    return re.compile(rf"(?<!\w)(?:{any_of(*sorts)})(?!\w)", re.I)


def means(sort, found):
    """Return what a word of a sort that `in_text` found means, however it is parted.

    >>> means("part", "mixins"), means("part", "Mix ins")
    ('inclusion', 'inclusion')
    """
    return _run_together(sort)[_PARTED.sub("", plain(found))]


@functools.cache
def _run_together(sort):
    return {_PARTED.sub("", word): row.means for word, row in words_of(sort).items()}


def meant(sort, text):
    """Return a text with its words of a sort written as what they mean: "unslt btr" is unsalted butter."""
    return in_text(sort).sub(lambda word: means(sort, word[0]), text)


def part_kind(text):
    """Return the kind of part that a name speaks of, by its longest word that is one; empty when none is.

    >>> part_kind("Sugar crust (for 20)"), part_kind("icing")
    ('topping', '')
    """
    found = in_text("part").findall(BRACKETS.sub("", plain(text)))
    return means("part", max(found, key=len)) if found else ""


def in_digits(text):
    """Return a line whose first number is written in digits.

    >>> in_digits("two eggs")
    '2 eggs'
    """
    word = in_text("number").match(text)
    spaced = word and text[word.end() :].startswith(" ")
    return f"{means('number', word[0])}{text[word.end() :]}" if spaced else text


class Written(NamedTuple):
    """An amount in a line: where it stands, its text, its number or the two ends of its range, and its unit's kind."""

    start: int
    end: int
    text: str
    unit: str = ""
    kind: str = ""  # as kit.units has it, "" without a unit
    measure: str = ""  # as units.csv calls its unit, "" of pieces
    ends: tuple = ()
    more: tuple = ()  # what it is the sum of


@functools.cache
def amount_pattern():
    """Return the pattern of an amount: how many times, the number or range, the unit."""
    kinds = ("mass", "volume", "percentage", "ask", "count")
    units = {w for row in table("units").rows if row.kind in kinds for w in (row.unit, *row.also_written.split(";"))}
    unit = rf"(?:(?P<unit>{_pattern(units | words_of('unit').keys())})\.?(?!\w))"
    ends = rf"(?P<low>{NUMBER})(?:{_TO}(?P<high>{NUMBER}))?"
    one = rf"(?P<times>{NUMBER}\s*[x×]\s*)?{ends}\s*(?:{unit}|(?![\d°{FRACTION}]|[.,/]\d))"
    return re.compile(rf"(?<![\w.,{FRACTION}])(?<!\d/)(?:[x×](?=\d))?(?P<said>{one})", re.I)  # "Egg x1"


def _written(match):
    unit, ends = match["unit"] or "", (match["low"], match["high"]) if match["high"] else ()
    row = unit_row(unit, "volume")
    kind, measure = (row.kind, row.unit if row.kind != "count" or not row.value else "") if row else ("", "")
    return Written(match.start(), match.end(), match["said"].strip(), unit, kind, measure, ends)


def amounts(text):
    """Return what is Written of amounts in a line; what belongs together is one: "1 lb 2 oz", "1 cup plus 2 tbsp"."""
    found = []
    for one in map(_written, amount_pattern().finditer(text)):
        if found and one.unit and found[-1].unit:
            last, between = found[-1], text[found[-1].end : one.start].strip().casefold()
            pounds = not between and (last.measure, one.measure) == ("lb", "oz")
            if pounds or between in ("plus", "+", "and", "&"):
                one = one._replace(measure="lb") if pounds else one  # its ounces are none of what is poured
                one = last._replace(end=one.end, text=text[last.start : one.end], more=(last, one))
                found.pop()
        found.append(one)
    # a percentage within a name is the ingredient's own: "100 g 70 % chocolate"
    own = re.compile(r"\s*[^\W\d]")
    units = [o for o in found if o.unit and not (o.unit == "%" and text[: o.start].strip() and own.match(text, o.end))]
    bare = [one for one in found[:1] if not one.unit and not text[: one.start].strip()]
    return sorted(units + (bare if units or bare else found[-1:]))


def without(text, amounts):
    """Return a line without its amounts."""
    for one in reversed(amounts):
        text = f"{text[: one.start]} {text[one.end :]}"
    return " ".join(text.split()).strip(" ,;:.-–—=*/+…")
