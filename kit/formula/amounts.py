"""From an amount as written to grams: a volume or a count becomes mass only through a table row, which is named."""

from dataclasses import dataclass

import numpy as np

from ..errors import AmountError, UnitError, must
from ..tables import table
from ..units import amount, number
from ..words import figure, listing, plain


@dataclass(frozen=True)
class Weighed:
    """A mass [g] and how it came about: weighed, or through which row of which table."""

    grams: float
    how: str
    counted: bool = False


def weigh(written, key, ingredients):
    """Return what an amount of an ingredient weighs, and how that is known.

    written [any mass; a volume or count that a row of measures.csv knows]; returns grams [g].
    Raises UnitError for a volume or count without a row, or a unit of the wrong kind.

    >>> from kit.tables import ingredients
    >>> weigh("3 large eggs", "egg_whole_fresh", ingredients()).grams
    150.0
    """
    name = ingredients[key]["name"]
    given = amount(written, name)
    if not np.isfinite(given.value) or given.value < 0:
        raise AmountError(must(name, "an amount of 0 or more", repr(str(written)), "weigh it again"))
    if given.kind in ("mass", "number"):
        return Weighed(given.value, "weighed")
    rows = [row for row in table("measures").rows if row["ingredient"] == key]
    if given.kind == "volume":
        for row in rows:
            if row["ml_per_measure"]:
                per_ml = number(row["grams_per_measure"]) / number(row["ml_per_measure"])
                how = f"{written}: {figure(per_ml, 3)} g/mL, from {_row(row)}"
                return Weighed(given.value * per_ml, how)
    elif given.kind == "count":
        wanted = _words(given.unit) - _words(name) - {"of"}
        whole = [row for row in rows if not row["ml_per_measure"]] + rows
        for row in whole:
            if _words(row["measure"]) - _words(name) - {"each"} == wanted:
                grams = number(row["grams_per_measure"])
                return Weighed(given.value * grams, f"{written}: {figure(grams)} g each, from {_row(row)}", True)
        if not wanted and (default := [row for row in whole if "large" in _words(row["measure"])]):
            sizes = [number(row["grams_per_measure"]) for row in rows if _words(row["measure"]) & _SIZES]
            grams = number(default[0]["grams_per_measure"])
            how = (
                f"{written}: no size given; taken as large, {figure(grams)} g each, from {_row(default[0])}; "
                f"other sizes {figure(min(sizes))} to {figure(max(sizes))} g: weigh to be sure"
            )
            return Weighed(given.value * grams, how, True)
    known = dict.fromkeys(row["measure"].replace("each-", "") for row in rows)
    do = f"weigh it, or measure it in {listing(known, 'or')}" if known else "weigh it: measures.csv has no row for it"
    raise UnitError(must(name, "a mass, or a measure that the tables can weigh", repr(str(written)), do))


_SIZES = {"small", "medium", "large", "jumbo"}


def _words(text):
    return {word.rstrip("s") for word in plain(text).replace("(", " ").replace(")", " ").replace(",", " ").split()}


def _row(row):
    return f"measures.csv, {row['ingredient']}, {row['measure']} ({row['source']})"
