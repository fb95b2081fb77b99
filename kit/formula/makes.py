"""What a title or a line says that amounts make: pieces and masses; what it leaves open follows from the batch."""

import re
from dataclasses import replace

from ..errors import AmountError, KitError, must
from ..units import amount, number
from ..words import figure, listing, plain, plural
from .losses import BEFORE, expected_losses, kept_before_scaling

# "makes 16", "for 2 dozen rolls", "Buns, 16 pcs", "Buns (16)", "40 x 65 g"
_COUNT = re.compile(
    r"(?P<mark>\b(?:makes?|yields?|gives?|pieces|batch of|ergibt|Stück|for|für|pour)\b|^|(?<!\d)[,;:(–-])"
    r"\s*[:=]?\s*(?:about|approx\.?|ca\.?|~)?\s*"
    r"(?P<many>\d+\s+\d/\d|\d{1,3}(?:[,.' ]\d{3})+|\d+[½¼¾]?|½|half)(?![\d.,/%])\s*"
    r"(?:(?P<to>-|–|to\b|bis\b)\s*\d+\s*)?(?:an?\s+)?(?P<dozen>dozen\b|doz\b)?\s*(?P<words>(?:[^\W\d]+\s*){0,3})"
    r"(?P<end>[×)]?)",
    re.I,
)
# "yields a dozen"
_DOZENS = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6}
_IN_WORDS = re.compile(rf"(?<!half )\b({'|'.join(_DOZENS)})(?= (?:dozen|doz)\b)", re.I)
_PIECES = re.compile(r"(bun|roll|piece|pc|pce|ball|knot|loave|brioche|ct|stk|stück|brötchen)s?", re.I)
_NO_PIECES = {"egg", "seed", "grain", "strand", "spice", "nut", "fruit", "stage", "hole"}  # "3 strand rolls"
_MASS = re.compile(r"((?:\d+\s+)?\d+/\d+|\d[\d.,]*|[¼½¾])\s*(g|kg|oz|lb)\b(?:\s+(?:of\s+)?([a-z]+))?", re.I)
_EACH = re.compile(r"(?:\bat\b|@|\bje\b|\bà\b|\bof\b|[x×]|\bpieces?\s+(?:mass|weight)\b|\beach\b|\bscaled\b)", re.I)
_OF = {
    "topping": "topping",
    "crust": "topping",
    "paste": "topping",
    "streusel": "topping",
    "filling": "filling",
    "wash": "wash",
}


def pieces_in(text):
    """Return what a title or a line says of pieces: {count, and dough, topping, filling or wash [g]}, {} for nothing.

    text [as bakers write it: "makes 16", "40 pcs at 65 g / 20 g", "2 dozen rolls at 2 oz"]; the second mass is the
    topping's unless it says otherwise. Raises AmountError for a range, which is two counts.

    >>> pieces_in("40 pcs at 65 g / 20 g"), pieces_in("yield: 2 dozen rolls at 60 g"), pieces_in("rye, 18 % butter")
    ({'count': 40, 'dough': 65.0, 'topping': 20.0}, {'count': 24, 'dough': 60.0}, {})
    """
    text = _IN_WORDS.sub(lambda word: str(_DOZENS[word[0].casefold()]), text)
    counts = [count for match in _COUNT.finditer(text) if (count := _count(match, text))]
    found = {"count": counts[0]} if counts else {}
    if _EACH.search(text):
        for place, (value, unit, of) in enumerate(_MASS.findall(text)):
            word = _OF.get(plain(of), ("dough", "topping")[place] if place < 2 else None)
            if word:
                found.setdefault(word, amount(f"{value} {unit}").value)
    return found


def _count(match, text):
    """Return the count that a number in a line is, None when it is something else."""
    mark, dozen, end = match["mark"].casefold(), match["dozen"], match["end"]
    words = match["words"].split()
    nouns = [n for n, word in enumerate(words) if _PIECES.fullmatch(word)]
    made = mark[-1:].isalpha() and mark not in ("for", "für", "pour")
    said = bool(nouns) and not any(w in _NO_PIECES or _is_unit(w) for w in words[: nouns[0]])
    times = end == "×" or [word.casefold() for word in words] == ["x"]
    alone = not words and (made or (mark == "(" and end == ")"))
    marked = made and words and not _is_unit(words[0])
    if not (said or times or alone or marked or (dozen and mark[-1:].isalpha())):
        return None
    if match["to"]:
        raise AmountError(must("pieces", "one count", repr(text.strip()), "write how many this batch made"))
    written = re.sub(r"[,.' ](?=\d{3})", "", match["many"])  # a count has no decimals
    many = number(written.replace("half", "½")) * (12 if dozen else 1)
    return int(many) if many >= 1 and many == int(many) else None


def _is_unit(word):
    try:
        return amount(f"1 {word}").kind != "count"
    except KitError:
        return True


def made_up(formula, line, mixed):
    """Return a formula whose piece masses follow from the batch where a count alone was given, and what was assumed.

    line [where the count was read]; mixed {kind of part: g} of the batch, dough with its preferments.
    """
    pieces, count = formula.pieces, formula.pieces.count
    losses, derived = expected_losses(formula), {}
    kept = {part: kept_before_scaling(losses, part) if (part, BEFORE[0]) in losses else 1.0 for part in mixed}
    if count:
        derived = {
            part: round(mixed[part] * kept[part] / count, 1)
            for part in ("dough", "topping", "wash", "filling")
            if mixed.get(part) and (part in pieces.taken or not getattr(pieces, part))
        }
        taken = tuple(name for name in pieces.taken if name not in derived)
        pieces = replace(pieces, **derived, taken=taken)
    words = [plural(count, "piece") + (f", read from '{line.strip()}'" if line else "")] if count else []
    if derived:
        each = listing(f"{figure(grams)} g of {part}" for part, grams in derived.items())
        words.append(f"{each} each, assumed: all of this batch but what is lost before the scale")
    elif not line:
        words = []
    elif count and abs(count * pieces.dough - mixed["dough"] * kept["dough"]) > 0.1 * count * pieces.dough:
        made = mixed["dough"] * kept["dough"] / pieces.dough
        words.append(f"but the dough gives {figure(made, 0)} of {figure(pieces.dough)} g: check which is meant")
    return replace(formula, pieces=pieces, makes="; ".join(words) + "." * bool(words))


def assumed(formula):
    """Return in one line what was read and assumed of a formula's pieces; empty when all of it was given."""
    usual = [name for name in formula.pieces.taken if name == "dough" or formula.has(name)]
    masses = listing(f"{figure(getattr(formula.pieces, name))} g of {name}" for name in usual)
    return " ".join(filter(None, (formula.makes, f"{masses} a piece, assumed: none was given." if usual else "")))
