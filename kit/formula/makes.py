"""What a title or a line says that amounts make: pieces and masses; what it leaves open follows from the batch."""

import contextlib
import re
from dataclasses import replace

from ..errors import AmountError, KitError, must
from ..units import amount, number, unit_row
from ..words import figure, listing, plain, plural
from .losses import expected_losses, kept_before_scaling
from .wording import words_of

# "makes 16", "for 2 dozen rolls", "Buns, 16 pcs", "Buns (16)", "40 x 65 g"
_MARKS = r"makes?|yields?|gives?|pieces|batch of|ergibt|rinde|Stück|for|für|pour"
_COUNT = re.compile(
    rf"(?P<mark>\b(?:{_MARKS})\b|^|(?<!\w)(?<!\d )[x×]|(?<!\d)[,;:()>→–-])"
    r"\s*[:=]?\s*(?:about|approx\.?|ca\.?|~)?\s*"
    r"(?P<many>\d+\s+\d/\d|\d{1,3}(?:[,.' ]\d{3})+|\d+[½¼¾]?|½|half)(?![\d.,/%])"
    r"(?!\s*[x×]\s*\d+(?!\d|[.,]\d|\s*(?:g|kg|oz|lb)))\s*"  # "20 x 30" is a tin
    r"(?:(?P<to>-|–|to\b|bis\b)\s*\d+\s*)?(?:an?\s+)?(?P<dozen>dozen\b|doz\b)?\s*(?P<words>(?:[^\W\d]+\s*){0,3})"
    r"(?P<end>[×)@]?)",
    re.I,
)
_MASS = re.compile(
    r"(?:\b([^\W\d]+)\s+)?((?:\d+\s+)?\d+/\d+|\d[\d.,]*|[¼½¾])\s*(g|kg|oz|lb)\b(?:\s+(?:of\s+)?([a-z]+))?", re.I
)
_POUNDS = re.compile(r"\b(\d+)\s*lbs?\.?,?\s+(\d+)\s*oz\b", re.I)
_AT = re.compile(
    r"\bat\b|@|\bje\b|\bà\b|\bof\b|(?<![^\W\d])[x×](?![^\W\d])|\bpieces?\s+(?:mass|weight)\b|\bscaled?\b", re.I
)
_EACH = re.compile(r"\b(?:each|ea|apiece)\b", re.I)
_OR = re.compile(r"\b(?:or|oder|ou)\b[^,;.]*?\d+(?![.,]?\d|\s*(?:g|kg|oz|lb|min|h|cm|mm|%)(?!\w))", re.I)
_PARTED = re.compile(r"\s*(?:[,;:|→]|-+>|\s[-–—])\s*")
_WITH_MORE = {"baked", "filled", "finished", "topped", "total"}  # a mass that is not the raw dough's alone


def pieces_in(text):
    """Return what a title or a line says of pieces: {count, and dough, topping, filling or wash [g]}, {} for nothing.

    text [as bakers write it: "makes 16", "40 pcs at 65 g / 20 g", "2 trays of 12", "2 dozen rolls at 2 oz"]; the second
    mass is the topping's unless it says otherwise. Raises AmountError for a range or an "or", which are two counts, and
    for a mass as baked, filled or topped.

    >>> pieces_in("40 pcs at 65 g / 20 g"), pieces_in("yield: 2 dozen rolls at 60 g"), pieces_in("rye, 18 % butter")
    ({'count': 40, 'dough': 65.0, 'topping': 20.0}, {'count': 24, 'dough': 60.0}, {})
    >>> pieces_in("makes twelve"), pieces_in("a baker's dozen of buns"), pieces_in("for two trays of 12")
    ({'count': 12}, {'count': 13}, {'count': 24})
    """
    text = _POUNDS.sub(lambda found: f"{16 * int(found[1]) + int(found[2])} oz", _in_figures(text))
    counts = [count for match in _COUNT.finditer(text) if (count := _count(match, text))]
    if counts and _OR.search(text):
        raise _two(text)
    found = {"count": counts[0]} if counts else {}
    at = _AT.search(text)
    for before, value, unit, after in _MASS.findall(text[at.end() if at else 0 :] if at or _EACH.search(text) else ""):
        if not _WITH_MORE.isdisjoint((plain(before), plain(after))):
            do = "write it with what is on it or in it, such as 80 g / 20 g"
            raise AmountError(must("piece", "the raw dough of one", repr(text.strip()), do))
        part = words_of("part").get(plain(after)) or words_of("part").get(plain(before))
        if not part and not at and before and plain(before) not in words_of("piece", "state"):
            continue  # "icing 20 g each" is none of the dough's
        word = part.means if part else next((part for part in ("dough", "topping") if part not in found), "")
        if word in ("dough", "topping", "filling", "wash"):
            found.setdefault(word, amount(f"{value} {unit}").value)
    return found


def without_pieces(title):
    """Return a title without what it says of pieces after a comma, a dash or an arrow.

    >>> without_pieces("Plaited buns, plain - 12 pcs"), without_pieces("Rye buns, 18 % butter")
    ('Plaited buns, plain', 'Rye buns, 18 % butter')
    """
    for mark in reversed(list(_PARTED.finditer(title))):
        with contextlib.suppress(KitError):
            if mark.start() and pieces_in(title[mark.end() :]):
                return without_pieces(title[: mark.start()])
    return title


def _in_figures(text):
    """Return a text whose counts in words are in figures, by recipe_words.csv: "two trays of 12" is 24 pieces."""
    many = {word: int(row.means) for word, row in words_of("number").items() if row.means.isdecimal()}
    dozens, few = ("|".join(w for w, n in many.items() if low <= n < high) for low, high in ((12, 99), (2, 12)))
    trays = "|".join(words_of("tray"))
    said = rf"\b(?:an? )?({dozens})\b|(?<!half )\b({'|'.join(many)})(?= (?:dozen|doz|{trays})\b)"
    said += rf"|(?:(?<=makes )|(?<=yields )|(?<=gives )|(?<=for ))({few})\b"
    text = re.sub(said, lambda word: str(many[plain(next(filter(None, word.groups())))]), text, flags=re.I)
    of = rf"(\d+) ?(?:{trays}) (?:of|à|je|x|×|with|@) ?(\d+)(?![.,]?\d| ?(?:g|kg|oz|lb|cm|mm)\b)"
    # what follows is each one's
    return re.sub(of, lambda found: f"{int(found[1]) * int(found[2])} pieces of", text, flags=re.I)


def _two(text):
    return AmountError(must("pieces", "one count", repr(text.strip()), "write how many this batch made"))


def _count(match, text):
    """Return the count that a number in a line is, None when it is something else."""
    mark, dozen, end = match["mark"].casefold(), match["dozen"], match["end"]
    words = match["words"].split()
    nouns = [n for n, word in enumerate(words) if plain(word) in words_of("piece")]
    made = mark[-1:].isalpha() and mark not in ("for", "für", "pour")
    said = bool(nouns) and not any(plain(w) in words_of("no piece") or _is_unit(w) for w in words[: nouns[0]])
    times = end in ("×", "@") or [word.casefold() for word in words] in (["x"], ["at"], ["à"])
    alone = not words and (made or mark == "×" or (mark == "(" and end == ")"))
    marked = made and words and not _is_unit(words[0])
    if not (said or times or alone or marked or (dozen and mark[-1:].isalpha())):
        return None
    if match["to"]:
        raise _two(text)
    written = re.sub(r"[,.' ](?=\d{3})", "", match["many"])  # a count has no decimals
    many = number(written.replace("half", "½")) * (12 if dozen else 1)
    return int(many) if many >= 1 and many == int(many) else None


def _is_unit(word):
    row = unit_row(word)
    return bool(row) and row.kind != "count"


def made_up(formula, line, mixed):
    """Return a formula whose piece masses follow from the batch where a count alone was given, and what was assumed.

    line [where the count was read]; mixed {kind of part: g} of the batch, dough with its preferments.
    """
    pieces, count, losses = formula.pieces, formula.pieces.count, expected_losses(formula)
    if not count:
        return formula
    scaled = {part: grams * kept_before_scaling(losses, part) for part, grams in mixed.items()}
    derived = {
        part: round(scaled[part] / count, 1)
        for part in ("dough", "topping", "wash", "filling")
        if scaled.get(part) and (part in pieces.taken or not getattr(pieces, part))
    }
    words = [plural(count, "piece") + (f", read from '{line.strip()}'" if line else "")]
    if derived:
        each = listing(f"{figure(grams)} g of {part}" for part, grams in derived.items())
        words.append(f"{each} each, assumed: all of this batch but what is lost before the scale")
    elif not line:
        words = []
    elif abs(count * pieces.dough - scaled["dough"]) > 0.1 * count * pieces.dough:
        made = figure(scaled["dough"] / pieces.dough, 0)
        words.append(f"but the dough gives {made} of {figure(pieces.dough)} g: check which is meant")
    pieces = replace(pieces, **derived, taken=tuple(name for name in pieces.taken if name not in derived))
    return replace(formula, pieces=pieces, makes="; ".join(words) + "." * bool(words))


def assumed(formula):
    """Return in one line what was read and assumed of a formula's pieces; empty when all of it was given."""
    usual = [name for name in formula.pieces.taken if name == "dough" or formula.has(name)]
    masses = listing(f"{figure(getattr(formula.pieces, name))} g of {name}" for name in usual)
    return " ".join(filter(None, (formula.makes, f"{masses} a piece, assumed: none was given." if usual else "")))
