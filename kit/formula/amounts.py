"""From an amount as written to grams: a volume or a count becomes mass only through a table row, which is named."""

import re
from dataclasses import dataclass, replace

from ..errors import AmountError, UnitError, above, must, whole
from ..tables import table
from ..units import amount, must_be_short, near_unit, number
from ..words import figure, listing, plain, span

# "20 x 250 g": so many of what follows
_TIMES = re.compile(r"^([\d¼½¾][^\s×x*]*)\s*[x×*]\s*(?=[\d¼½¾])(.+)$", re.I)


@dataclass(frozen=True)
class Weighed:
    """A mass [g] and how it came about: weighed, or through which row of which table."""

    grams: float
    how: str
    counted: bool = False
    bare: bool = False  # a whole number without a unit, taken for grams

    def __add__(self, other):
        """Return it with more of the same; other: Weighed, or None."""
        if other is None:
            return self
        hows = [each.how for each in (other, self) if each.how != "weighed"]
        return Weighed(self.grams + other.grams, "; ".join(hows) or "weighed", self.counted or other.counted)


def weigh(written, key, ingredients):
    """Return what an amount of an ingredient weighs, and how that is known.

    written [any mass, "3 x 250 g"; a volume or count that a row of measures.csv knows, the ingredient's own name after
    it or not]; returns grams [g]. Raises UnitError for a volume or count without a row, or a unit of the wrong kind,
    AmountError for what is no amount, or two.

    >>> from kit.tables import ingredients
    >>> weigh("3 large eggs", "egg_whole_fresh", ingredients()).grams
    150.0
    >>> round(weigh("2 lb 3 oz flour", "bread_flour_enriched", ingredients()).grams, 2)
    992.23
    """
    if isinstance(written, Weighed):
        return written
    row = ingredients[key]
    name, own = row.name, _words(f"{row.name} {row.aliases.replace(';', ' ')} of")
    if isinstance(written, str) and (times := _TIMES.match(must_be_short(written, name).strip())):
        each = weigh(times[2], key, ingredients)
        how = each.how if each.how == "weighed" else f"{times[1]} x {each.how}"
        many = whole(name, number(times[1], name), of="packs", do="write it like 20 x 250 g")
        return replace(each, grams=many * each.grams, how=how)
    given = amount(written, name)
    if given.kind == "count" and (short := _without(written, own)) != written:
        given = measured if (measured := amount(short, name)).kind in ("mass", "volume") else given
    above(name, given.value, "an amount", do="weigh it again", zero=True)
    if given.kind in ("mass", "number"):
        how = f"{written}: {given.note}" if given.note else "weighed"
        return Weighed(given.value, how, bare=given.kind == "number" and not isinstance(written, float))
    rows = [row for row in table("measures").rows if row.ingredient == key]
    if given.kind == "volume":
        if row.group == "egg" and re.fullmatch(r"\d+ ?L", str(written).strip()):
            raise AmountError(must(name, "clear about its L", repr(written), "write litres, or large eggs"))
        if measured := _measured(given, rows):
            per_ml = measured.grams_per_measure / measured.ml_per_measure
            how = f"{written}: {figure(per_ml, 3)} g/mL, from {_row(measured)}" + (given.note and f"; {given.note}")
            return Weighed(given.value * per_ml, how)
    elif given.kind == "count":
        wanted = _words(given.unit) - own - _PIECE
        counted_first = [row for row in rows if not row.ml_per_measure] + rows
        fitting = [row for row in counted_first if _words(row.measure) - own - _PIECE == wanted]
        usual = [row for row in counted_first if "large" in _words(row.measure)] if not wanted else []
        if counted := next(iter(fitting + usual), None):
            grams, taken, beside = counted.grams_per_measure, "", ""
            if not fitting:
                sizes = [row.grams_per_measure for row in rows if _words(row.measure) & _SIZES]
                taken, beside = "no size given; taken as large, ", f"; other sizes {span(sizes)} g: weigh to be sure"
            how = f"{written}: {taken}{figure(grams)} g each, from {_row(counted)}{beside}"
            return Weighed(given.value * grams, how, True)
    known = dict.fromkeys(row.measure.replace("each-", "") for row in rows)
    do = f"weigh it, or measure it in {listing(known, 'or')}" if known else "weigh it: no measure of it is known"
    near = near_unit(given.unit, ("mass", "volume", "count")) if given.kind == "count" else ""
    do = f"{near} Else {do}" if near else do
    raise UnitError(must(name, "a mass, or a measure that the tables can weigh", repr(str(written)), do))


def counted_as(key):
    """Return {measure: g} of what counts an ingredient in measures.csv: eggs by size, packets, sticks (no pats).

    >>> counted_as("egg_yolk_fresh"), counted_as("bread_flour_enriched")
    ({'each-large': 17.0}, {})
    """
    rows = (row for row in table("measures").rows if row.ingredient == key and not row.ml_per_measure)
    return {row.measure: row.grams_per_measure for row in rows if row.measure != "pat"}


def must_have_unit(found, key, ingredients, in_all, flour):
    """Raise AmountError for a bare number that would be usual as a count where it is not as grams: usual_ranges.csv.

    found [Weighed]; in_all [g] of it in all bowls, flour [g] that they are to. So 3 of egg to 1000 g of flour, not
    200; to 100 of flour it is 3 %.
    """
    row, each = ingredients[key], counted_as(key)
    ranges = {r.what: r for r in reversed(table("usual_ranges").rows) if r.part == "dough"}
    usual = ranges.get(row.name) or ranges.get(row.kind) or (ranges["egg"] if row.group == "egg" else None)
    if flour == 100 or not (found.bare and each and usual and found.grams == int(found.grams)):
        return
    low, high, one = usual.low_percent, usual.high_percent, 100 * found.grams / flour
    if 100 * in_all / flour < low and any(low <= one * grams <= high for grams in each.values()):
        measures = [measure.replace("each-", "").replace("each", "piece") for measure in each]
        units = [*(["large"] if "large" in measures else measures), "g"]
        do = f"write {listing((repr(f'{found.grams:g} {unit}') for unit in units), 'or')}"
        raise AmountError(must(row.name, "an amount with its unit, since it is counted too", f"{found.grams:g}", do))


def _measured(given, rows):
    """Return the row of a volume: of the same measure, else one that tells a density; German spoons weigh less."""
    spoon = given.measure in _GERMAN
    fitting = [row for row in rows if row.ml_per_measure and (spoon or row.measure not in _GERMAN)]
    german = sorted(fitting, key=lambda row: row.measure not in _GERMAN) if spoon else fitting
    return next((row for row in fitting if row.measure == given.measure), next(iter(german), None))


def _without(written, own):
    """Return an amount without the ingredient's name that ends it."""
    words = str(written).split()
    while len(words) > 1 and _words(words[-1]) <= own:
        words.pop()
    return " ".join(words)


_GERMAN = {"EL", "TL"}
_PIECE = {"each", "piece"}
_SIZES = {"small", "medium", "large", "jumbo"}


def _words(text):
    return {word.rstrip("s") for word in plain(text).replace("(", " ").replace(")", " ").replace(",", " ").split()}


def _row(row):
    return f"the table of measures, {row.measure.replace('-', ' ')} ({row.source.replace('_', ' ')})"
