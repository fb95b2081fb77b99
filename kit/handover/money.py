"""Money as a shop writes it and as it is printed; the currency is text and never assumed."""

import math

from ..errors import AmountError, must
from ..units import read
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


def read_percent(name, given, do):
    """Return a percentage from 0 to less than 100; 0.65 is taken for a slip. Raises AmountError."""
    value = read(given, "percentage", name)
    if not (value == 0 or 1 <= value < 100):
        raise AmountError(must(name, "0, or 1 to less than 100 %", f"{value:g} %", do))
    return value
