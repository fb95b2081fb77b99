"""Amounts as bakers write them, read once at the edge into the house units.

House units inside: g, % of flour, degC, min, mL, cm. Everything else is converted here, and only here: the units of
units.csv and no others, since one that nobody meant would be silently wrong (a carat for 12 ct of eggs).
"""

import datetime
import difflib
import functools
import math
import re
import unicodedata
from dataclasses import dataclass, replace

import numpy as np

from .errors import MOST, AmountError, UnitError, above, must
from .tables import table
from .words import figure, without_zeros

LONGEST = 200  # characters of an amount
UNIT_OF = {"mass": "g", "percentage": "%", "temperature": "degC", "time": "min", "volume": "mL", "length": "cm"}
NUMBER = re.compile(r"^([+-]?)\s*(?:(?:(\d[\d.,' ]*?)\s+)?(\d+)\s*/\s*(\d+)|([\d.,'][\d.,' ]*))(?=\s|[^\d.,]|$)")

_SAME = str.maketrans("−–º’", "--°'")  # as keyboards and word processors write them
_MIXED = re.compile(r"^([+-]?\d+)- ?(?=(?:1/2|[12]/3|[13]/4|[1357]/8)(?!\d))")  # 1-1/2 is no range
# 1230 g to a German, 1.23 g to an Englishman: no scale of a bakery shows a thousandth of a gram
_THOUSANDS = re.compile(r"\s*([1-9]\d{0,2})\.(\d{3})\s*(g|gr?am(?:me)?s?|ml)\s*", re.I)


@dataclass(frozen=True)
class Amount:
    """A number with the kind of thing it measures: value in the house unit of `kind`, or a count of `unit`."""

    value: float
    kind: str  # mass, volume, percentage, temperature, time, length, count, number
    unit: str
    written: str
    measure: str = ""  # the unit as units.csv calls it
    note: str = ""  # what it was taken for, where others mean another

    def __str__(self):
        return f"{without_zeros(figure(self.value, 3))} {self.unit}".strip()


@functools.cache
def _registry():
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=False)


def number(text, name="number"):
    """Return a number as bakers write it: decimal comma or point, thousands marks, fractions.

    text [-]; returns [-]. Raises AmountError for text that is no number, and for "1,720", which is
    1720 to one reader and 1.72 to another.

    >>> number("62,5"), number("1 1/2"), number("1.720,3"), number("½"), number("2½")
    (62.5, 1.5, 1720.3, 0.5, 2.5)
    """
    if is_number(text):
        return _possible(text, name)
    value, rest = _leading_number(text, name)
    if rest:
        raise AmountError(must(name, "a number", repr(text), "write it like 62.5, 62,5 or 1 1/2"))
    return value


def is_number(value):
    """Return whether a value is a number, and not yes or no."""
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _possible(value, name):
    if not abs(value) <= MOST:  # NaN is wrong too
        be = f"a number of at most {MOST:g}" if abs(value) < math.inf else "a finite number"
        got = value if isinstance(value, float) else "one of many digits"
        raise AmountError(must(name, be, got, "weigh it again"))
    return float(value)


def must_be_short(text, name):
    """Return an amount as text. Raises AmountError for what is too long to be one."""
    if len(text) > LONGEST:
        got = f"{len(text):,} characters that begin {text[:40]!r}"
        raise AmountError(must(name, f"a number with its unit, in {LONGEST} characters", got, "shorten it"))
    return text


def _leading_number(text, name, like="62.5 g"):
    text = must_be_short(str(text), name)
    clean = "".join(f" {c}" if c in "¼½¾⅓⅔⅛⅜⅝⅞⅕⅖⅗⅘⅙⅚" else c for c in text.translate(_SAME))
    raised = unicodedata.decomposition
    clean = "".join(c if raised(c).startswith("<super>") else unicodedata.normalize("NFKC", c) for c in clean)
    clean = _MIXED.sub(r"\1 ", " ".join(clean.replace("⁄", "/").split()))
    found = NUMBER.match(clean)
    if not found:
        raise AmountError(must(name, "a number, with or without a unit", repr(str(text)), f"write it like {like}"))
    sign, whole, top, bottom, plain_number = found.groups()
    if bottom is not None:
        if int(bottom) == 0:
            raise AmountError(must(name, "a fraction over a number above 0", repr(str(text)), "write it anew"))
        value = (_decimal(whole, text, name) if whole and whole.strip() else 0.0) + int(top) / int(bottom)
    else:
        value = _decimal(plain_number, text, name)
    return _possible(-value if sign == "-" else value, name), clean[found.end() :].strip()


def _decimal(text, written, name):
    grouped = text.strip(" '")
    digits = re.sub("[ ']", "", grouped)
    if digits != grouped and not re.fullmatch(r"\d{1,3}([ ']\d{3})+([.,]\d*)?", grouped):
        do = "; ".join(re.split("[,.]? [,.]?|'", grouped)) + (f" or {digits}?" if digits.isdigit() else "?")
        raise AmountError(must(name, "one number", repr(str(written)), do))
    point, comma = digits.rfind("."), digits.rfind(",")
    if point >= 0 and comma >= 0:  # the mark that comes last is the decimal one
        thousands = "," if point > comma else "."
        if not re.fullmatch(rf"\d{{1,3}}([{thousands}]\d{{3}})+[.,]\d*", digits):
            raise AmountError(must(name, "one number", repr(str(written)), "part several by semicolons"))
        digits = digits.replace(thousands, "").replace(",", ".")
    elif comma >= 0:
        head, _, tail = digits.rpartition(",")
        if "," in head or (len(tail) == 3 and head not in ("", "0")):
            do = f"write {digits.replace(',', '')} or {digits.replace(',', '.', 1)}"
            raise AmountError(must(name, "clear about its comma", repr(str(written)), do))
        digits = digits.replace(",", ".")
    try:
        return float(digits)
    except ValueError:
        raise AmountError(must(name, "a number", repr(str(written)), "write it like 62.5")) from None


def amount(text, name="amount", like="62.5 g", kind=None):
    """Return an Amount read from what a baker writes.

    text [a unit of units.csv, or a count of something]; like: what the error shows as an example; kind: what it should
    measure, where a unit may be two ("26 c" of a temperature). Returns the value in the house unit of its kind; dozens
    are counted out. Raises AmountError for no number, a range, or a unit that two read differently (T, st, gr).

    >>> round(amount("2 lb 3 oz").value, 4), round(amount("78 degF").value, 2), amount("18 %").kind
    (992.2333, 25.56, 'percentage')
    >>> amount("2 dozen large eggs").value, amount("3 large eggs").kind, amount("3 large eggs").unit
    (24.0, 'count', 'large eggs')
    """
    if isinstance(text, Amount):
        return text
    if is_number(text):
        return Amount(number(text, name), "number", "", str(text))
    if not isinstance(text, str):
        raise UnitError(must(name, "text such as '62.5 g', or a number", type(text).__name__, "write it as text"))
    value, unit = _leading_number(re.sub(r"^\s*half( an?)? ", "1/2 ", text, flags=re.I), name, like)
    if not unit:
        return Amount(value, "number", "", text)
    if found := _THOUSANDS.fullmatch(text):
        do = f"write {found[1]}{found[2]} {found[3]} or {float(f'{found[1]}.{found[2]}'):.2f} {found[3]}"
        raise AmountError(must(name, "clear about its point", repr(text), do))
    if re.match(r"(-|to\b|or\b|bis\b|à)\s*\d", unit):
        raise AmountError(must(name, "one amount", repr(text), "write which; of a range its middle"))
    row = unit_row(unit, kind)
    if row and row.kind == "ask":
        raise AmountError(must(name, "clear about its unit", repr(text), row.note))
    if row and row.kind != "count":
        return _measured(value, row, text)
    several = re.fullmatch(r"(\D+?)\s*(?:[+&,]|\band\b|\bplus\b|)\s*(\d.*)", unit)
    if several and (first := unit_row(several[1].strip(), kind)) and first.kind in ("mass", "volume", "time"):
        more = amount(several[2], name, like, first.kind)  # "1 lb 2 oz", "16 min 30 s", "1 h 15"
        minutes = more.kind == "number" and first.unit == "h"
        if (more.kind == first.kind or minutes) and more.value < _measured(1, first, text).value:
            whole = _measured(value, first, text)
            return replace(whole, value=whole.value + more.value, measure="")
    words = unit.split()
    for end in range(min(3, len(words)), 0, -1):
        row = unit_row(" ".join(words[:end]))
        if row and row.kind == "count":
            own = [] if row.value else [row.unit]  # a packet, of which what is in it says what it holds
            rest = " ".join(own + [word for word in words[end:] if word != "of"]) or "pieces"
            return Amount(value * (row.value or 1), "count", rest, text)
    return Amount(value, "count", unit, text)


def near_unit(unit, kinds, otherwise=""):
    """Return which unit of these kinds one that is none may have meant, in words.

    >>> near_unit("tbps", ["volume"])
    'did you mean tbsp?'
    """
    of_kinds = [word for word, rows in _units().items() if rows[0].kind in kinds]
    near = difflib.get_close_matches(_folded(unit), of_kinds, n=1, cutoff=0.75)
    return f"did you mean {unit_row(near[0]).unit}?" if near else otherwise


def _measured(value, row, text):
    made = value * (row.value or 1)
    if not row.value:
        made = _registry().Quantity(value, row.pint).to(UNIT_OF[row.kind]).magnitude
    return Amount(made, row.kind, UNIT_OF[row.kind], text, row.unit, row.note)


def unit_row(written, kind=None):
    """Return the row of units.csv that a unit means, or None: of that kind, else spelled just so, else the first.

    >>> unit_row("lbs").unit, unit_row("C").kind, unit_row("C", "volume").unit, unit_row("moons")
    ('lb', 'temperature', 'cup', None)
    """
    rows = _units().get(_folded(written), ())
    fitting = [row for row in rows if row.kind == kind]
    spelled = [row for row in rows if written in (row.unit, *row.also_written.split(";"))]
    return next(iter(fitting or spelled or rows), None)


@functools.cache
def _units():
    found = {}
    for row in table("units").rows:
        for word in dict.fromkeys(map(_folded, (row.unit, *row.also_written.split(";")))):
            found.setdefault(word, []).append(row)
    found.pop("", None)
    return found


def _folded(unit):
    """Fold case, accents and dots away: "Fl. Oz." is fl oz, "c. à s." is c a s."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", unit) if not unicodedata.combining(c))
    return " ".join(bare.casefold().replace(".", " ").split())


def read(text, kind, name="amount"):
    """Return the value of an amount in the house unit of `kind`; a bare number is taken in that unit.

    text [any unit of that kind]; returns [g, %, degC, min, mL or cm]. Raises UnitError for another kind
    of unit, AmountError for no number or one that is not finite.

    >>> read("1 1/2 kg", "mass"), read(26, "temperature"), read("1 h 30 min", "time")
    (1500.0, 26.0, 90.0)
    """
    given = amount(text, name, kind=kind)
    if given.kind not in (kind, "number"):
        what = {
            "mass": "a mass such as '60 g'",
            "time": "a time such as '45 min'",
            "number": "a number without a unit",
        }.get(kind) or f"a {kind} in {UNIT_OF[kind]} or a unit like it"
        do = "leave the unit out" if kind == "number" else "weigh it, or give it in the right unit"
        if given.kind == "count":
            do = near_unit(given.unit, [kind], do)
        raise UnitError(must(name, what, repr(str(text)), do))
    return given.value


def read_above(given, kind, name="amount", do="weigh it again", zero=False, error=AmountError):
    """Return an amount above 0, or from 0 with `zero`, in the house unit of its kind: number, text or array.

    Raises `error`, UnitError, AmountError.

    >>> read_above("1 1/2 kg", "mass"), read_above([0, 2], "length", zero=True).tolist()
    (1500.0, [0.0, 2.0])
    """
    many = isinstance(given, (list, tuple, np.ndarray))
    return above(name, given if many else read(given, kind, name), f"a {kind}", UNIT_OF.get(kind, ""), do, zero, error)


def in_unit(value, unit, kind):
    """Return a value of the house unit of its kind in another unit of that kind.

    >>> round(in_unit(100, "degF", "temperature"), 6), in_unit(250, "kg", "mass")
    (212.0, 0.25)
    """
    zero, one = _scale(unit, kind)
    return (value - zero) / (one - zero)


@functools.cache
def _scale(unit, kind):
    return read(f"0 {unit}", kind), read(f"1 {unit}", kind)


def temperature_difference(text, name="temperature difference"):
    """Return a difference of temperatures in degC: 18 degF warmer is 10 degC warmer, with no 32 taken off.

    text [degC or degF]; returns [degC]. Raises UnitError for another kind of unit.

    >>> round(temperature_difference("18 degF"), 9), temperature_difference("10 degC")
    (10.0, 10.0)
    """
    value, unit = read(text, "temperature", name), amount(text, name, kind="temperature").measure
    return value - read(f"0 {unit}", "temperature") if unit else value


def read_date(value, name="date"):
    """Return a date, or None for nothing; value: a date, or text such as 2025-03-14. Raises AmountError.

    >>> read_date("2025-03-14").day
    14
    """
    if value is None or value == "":
        return None
    if isinstance(value, datetime.date):
        return value.date() if isinstance(value, datetime.datetime) else value
    try:
        if re.fullmatch(r"\d{4}-\d\d-\d\d", str(value).strip()):
            return datetime.date.fromisoformat(str(value).strip())
    except ValueError:
        pass
    raise AmountError(must(name, "a day of the calendar", repr(value)[:40], "write it like 2025-03-14"))
