"""Money as a shop writes it and as it is printed; the currency is text and never assumed."""

import math
import re

from ..errors import AmountError, UnitError, above, must
from ..units import amount, number, read
from ..words import figure, nearest, signed


def money(value, currency=""):
    """Return money of a batch with two decimals, halves up.

    >>> money(12.125, "EUR"), money(0.003)
    ('12.13 EUR', 'under 0.01')
    """
    text = "under 0.01" if 0 < value < 0.005 else figure(nearest(value, 0.01), 2)
    return f"{text} {currency}".strip()


def each(value, currency="", like=None):
    """Return money of a piece with four significant figures, or with the decimals that `like` then has.

    >>> each(0.18432, "EUR"), each(0.0024), each(12.0), each(0.00001, like=0.18432)
    ('0.1843 EUR', '0.002400', '12.00', 'under 0.0001')
    """
    digits = _digits(value if like is None else like)
    text = f"under {10**-digits:.{digits}f}" if 0 < value < 0.5 * 10**-digits else figure(value, digits)
    return f"{text} {currency}".strip()


def _digits(like):
    return max(2, min(6, 3 - math.floor(math.log10(abs(like))))) if like else 4


def more(value, currency="", like=None):
    """Return a change of money with its sign, as `each` shows it."""
    return f"{signed(value, _digits(value if like is None else like))} {currency}".strip()


def read_rate(given, currency):
    """Return money a minute from a figure an hour or text such as "18 / h". Raises AmountError, UnitError."""
    if given is None:
        raise AmountError(must("rate", "money for a time, to go with hands_on", "none", "write rate='18 / h'"))
    if not isinstance(given, str):
        return read_money("rate", given, currency) / 60
    amount_of, *per = re.split(r"\s*/\s*|\s+per\s+|\s+an?\s+", given.strip(), maxsplit=1)
    each_time = amount(f"1 {per[0]}", "rate") if per else amount("1 h")
    if each_time.kind != "time":
        raise UnitError(must("rate", "money for a time such as '18 / h'", repr(given), "write what an hour costs"))
    return read_money("rate", amount_of, currency) / each_time.value


def read_money(name, given, currency):
    """Return money from a number or text such as "2,40 EUR". Raises AmountError."""
    text = given.strip() if isinstance(given, str) else given
    if isinstance(text, str) and currency and text.casefold().endswith(currency.casefold()):
        text = text[: -len(currency)].strip()
    if not isinstance(text, str | int | float) or isinstance(text, bool):
        raise AmountError(must(name, "money such as 2.40", repr(given), "write a number"))
    return above(name, number(text, name), unit=currency, do="write what is paid", zero=True)


def read_percent(name, given, do):
    """Return a percentage from 0 to less than 100; 0.65 is taken for a slip. Raises AmountError."""
    value = read(given, "percentage", name)
    if not (value == 0 or 1 <= value < 100):
        raise AmountError(must(name, "0, or 1 to less than 100 %", f"{value:g} %", do))
    return value
