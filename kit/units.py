"""Amounts as bakers write them, read once at the edge into the house units.

House units inside: g, % of flour, degC, min, mL, cm. Everything else is converted here, and only here.
"""

import datetime
import functools
import math
import re
import unicodedata
from dataclasses import dataclass

from .errors import AmountError, UnitError, must
from .words import figure, without_zeros

# The house's own units need no conversion, so that reading a formula does not have to load pint.
HOUSE = {
    "g": ("mass", 1.0), "kg": ("mass", 1000.0), "mg": ("mass", 0.001),
    "%": ("percentage", 1.0),
    "degc": ("temperature", 1.0),
    "min": ("time", 1.0), "h": ("time", 60.0), "s": ("time", 1 / 60),
    "ml": ("volume", 1.0), "l": ("volume", 1000.0),
    "cm": ("length", 1.0), "mm": ("length", 0.1),
}  # fmt: skip
UNIT_OF = {"mass": "g", "percentage": "%", "temperature": "degC", "time": "min", "volume": "mL", "length": "cm"}
PINT_UNIT = {"mass": "gram", "temperature": "degC", "time": "minute", "volume": "milliliter", "length": "centimeter"}
AS_WRITTEN = {
    "percent": "%", "per cent": "%", "gram": "g", "grams": "g", "gr": "g", "kilo": "kg", "kilos": "kg", "kgs": "kg",
    "lbs": "lb", "ounces": "oz", "ounce": "oz", "litre": "l", "litres": "l", "mls": "ml",
    "°c": "degc", "c": "degc", "celsius": "degc", "deg c": "degc", "°f": "degF", "f": "degF", "degf": "degF",
    "fahrenheit": "degF", "deg f": "degF", "k": "kelvin",
    "mins": "min", "minutes": "min", "minute": "min", "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "sec": "s",
    "fl oz": "fluid_ounce", "fluid ounce": "fluid_ounce", "fluid ounces": "fluid_ounce",
    "tablespoons": "tablespoon", "teaspoons": "teaspoon", "cups": "cup", "in": "inch", "inches": "inch",
}  # fmt: skip
NUMBER = re.compile(r"^([+-]?)\s*(?:(?:(\d[\d.,' ]*?)\s+)?(\d+)\s*/\s*(\d+)|([\d.,'][\d.,' ]*))(?=\s|[^\d.,]|$)")


@dataclass(frozen=True)
class Amount:
    """A number with the kind of thing it measures: value in the house unit of `kind`, or a count of `unit`."""

    value: float
    kind: str  # mass, volume, percentage, temperature, time, length, count, number
    unit: str
    written: str

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
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        value = float(text)
    else:
        value, rest = _leading_number(text, name)
        if rest:
            raise AmountError(must(name, "a number", repr(text), "write it like 62.5, 62,5 or 1 1/2"))
    if not math.isfinite(value):
        raise AmountError(must(name, "a finite number", value, "weigh it again"))
    return value


def _leading_number(text, name, like="62.5 g"):
    spread = "".join(f" {unicodedata.normalize('NFKC', c)}" if c in "¼½¾⅓⅔⅛⅜⅝⅞⅕⅖⅗⅘⅙⅚" else c for c in str(text))
    clean = unicodedata.normalize("NFKC", spread).replace("⁄", "/").replace("−", "-").replace("–", "-")
    clean = " ".join(clean.split())
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
    return (-value if sign == "-" else value), clean[found.end() :].strip()


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


def amount(text, name="amount", like="62.5 g"):
    """Return an Amount read from what a baker writes.

    text [any unit pint knows, or a count of something]; like: what the error shows as an example.
    Returns the value in the house unit of its kind. Raises AmountError when there is no number in it.

    >>> round(amount("2 lb").value, 5), round(amount("78 degF").value, 2), amount("18 %").kind
    (907.18474, 25.56, 'percentage')
    >>> amount("3 large eggs").kind, amount("3 large eggs").unit
    ('count', 'large eggs')
    """
    if isinstance(text, Amount):
        return text
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        return Amount(number(text, name), "number", "", str(text))
    if not isinstance(text, str):
        raise UnitError(must(name, "text such as '62.5 g', or a number", type(text).__name__, "write it as text"))
    value, unit = _leading_number(text, name, like)
    folded = " ".join(unit.casefold().rstrip(".").split())
    folded = AS_WRITTEN.get(folded, folded)
    if not unit:
        return Amount(value, "number", "", text)
    compound = re.fullmatch(r"([a-z]+) ?(\d.+)", folded)
    if compound and AS_WRITTEN.get(compound[1], compound[1]) in ("lb", "h", "min"):  # "1 lb 2 oz", "16 min 30 s"
        first, second = amount(f"{value} {compound[1]}", name), amount(compound[2], name)
        if first.kind == second.kind:
            return Amount(first.value + second.value, first.kind, first.unit, text)
    if folded in HOUSE:
        kind, factor = HOUSE[folded]
        return Amount(value * factor, kind, UNIT_OF[kind], text)
    quantity = _in_pint(value, folded)
    if quantity is None:
        quantity = _in_pint(value, unit)
    if quantity is None:
        return Amount(value, "count", unit, text)
    for kind, unit_name in PINT_UNIT.items():
        if quantity.is_compatible_with(unit_name):
            return Amount(quantity.to(unit_name).magnitude, kind, UNIT_OF[kind], text)
    do = "write a mass, volume, percentage, temperature, time or length"
    raise UnitError(must(name, "something a bakery measures", repr(text), do))


def _in_pint(value, unit):
    if not re.fullmatch(r"[A-Za-z_]+", unit):
        return None
    registry = _registry()
    try:
        return registry.Quantity(value, unit)
    except Exception as error:
        if type(error).__module__.startswith("pint"):
            return None  # not a unit: a count of something, which a table row must explain
        raise


def read(text, kind, name="amount"):
    """Return the value of an amount in the house unit of `kind`; a bare number is taken in that unit.

    text [any unit of that kind]; returns [g, %, degC, min, mL or cm]. Raises UnitError for another kind
    of unit, AmountError for no number or one that is not finite.

    >>> read("1 1/2 kg", "mass"), read(26, "temperature"), read("1 h 30 min", "time")
    (1500.0, 26.0, 90.0)
    """
    given = amount(text, name)
    if not math.isfinite(given.value):
        raise AmountError(must(name, "a finite number", text, "weigh it again"))
    if given.kind not in (kind, "number"):
        what = {
            "mass": "a mass such as '60 g'", "time": "a time such as '45 min'", "number": "a number without a unit",
        }.get(kind) or f"a {kind} in {UNIT_OF[kind]} or a unit like it"  # fmt: skip
        do = "leave the unit out" if kind == "number" else "weigh it, or give it in the right unit"
        raise UnitError(must(name, what, repr(str(text)), do))
    return given.value


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
    given = amount(text, name)
    if given.kind == "number":
        return given.value
    if given.kind != "temperature":
        do = "give it in degC or degF"
        raise UnitError(must(name, "a difference of temperatures", repr(str(text)), do))
    return given.value - amount("0 " + re.sub(r"^[^A-Za-z°]*", "", given.written)).value


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
