"""What can go wrong, in one grammar: what must be, what was given, what to do."""

import numbers
import re

import numpy as np

MOST = 1e12  # of any unit: no kitchen has so much, and no figure made of it means anything


class KitError(Exception):
    """Any error this kit raises on purpose; each also is a builtin error of its kind."""

    def _render_traceback_(self):
        """Return what a notebook shows of it: its sentence, without the lines of code that it went through."""
        return [f"{type(self).__name__}: {self}"]


class AmountError(KitError, ValueError):
    """A number or amount that cannot be read or cannot be."""


class UnitError(KitError, TypeError):
    """A unit of the wrong kind."""


class UnknownName(KitError, LookupError):
    """A name that no table knows."""


class FormulaError(KitError, ValueError):
    """A formula that cannot be mixed as written."""


class FileError(KitError, OSError):
    """A file that cannot be read, or must not be overwritten."""


def must(name, be, got, do=""):
    """Return an error message in the house grammar.

    >>> must("piece", "a mass above 0 g", "-60 g", "weigh one piece of dough")
    "'piece' must be a mass above 0 g (got -60 g); weigh one piece of dough"
    """
    name, got = (
        text if len(text) <= 200 else f"{text[:80]} ... of {len(text):,} characters" for text in (str(name), str(got))
    )
    message = f"'{name}' must be {be} (got {got})".encode("utf-8", "backslashreplace").decode()  # half a letter
    return f"{message}; {do}" if do else message


def whole_letters(name, text):
    """Raise FormulaError for text with half a letter in it, which no file and no page can hold.

    >>> whole_letters("name", "Crackle bun")
    """
    if half := re.search("[\ud800-\udfff]", text):
        got = f"U+{ord(half[0]):04X} at position {half.start()}"
        raise FormulaError(must(name, "whole letters", got, "write it anew"))


def array_of(name, value, error=AmountError):
    """Return an array of floats. Raises `error` for what is none, or empty.

    >>> array_of("butter", [15, 18]).tolist()
    [15.0, 18.0]
    """
    try:
        values = np.asarray(value, float)
    except (TypeError, ValueError, OverflowError):
        values = np.empty(0)
    if not values.size:
        raise error(must(name, "a number or an array of them", repr(value), "give numbers"))
    return values


def above(name, value, what="", unit="", do="", zero=False, error=AmountError):
    """Return a value, or every one of an array, that is finite and above 0, or from 0 with `zero`. Raises `error`.

    what, unit: what the error calls it, such as "a mass" and "g".

    >>> above("piece", 60.0, "a mass", "g"), above("rest", 0, unit="min", zero=True)
    (60.0, 0)
    """
    values = array_of(name, value, error)
    if np.any(values > MOST):
        raise error(must(name, f"a number of at most {MOST:g}", f"{float(np.max(values)):g} {unit}".strip(), do))
    if not np.all((values >= 0) if zero else (values > 0)):  # NaN is wrong too
        nothing = f"0 {unit}".strip()
        be = f"{what} above {nothing}".strip()
        if zero:
            be = f"{what} of {nothing} or more" if what else f"{nothing} or more"
        raise error(must(name, be, f"{float(np.min(values)):g} {unit}".strip(), do))
    return values if values.ndim else value


def percent(name, value):
    """Return a percentage above 0 and below 100. Raises AmountError.

    >>> percent("risk", 5)
    5.0
    """
    if not isinstance(value, numbers.Real) or isinstance(value, bool) or not 0 < value < 100:
        raise AmountError(must(name, "a percentage above 0 and below 100", repr(value), "write 80 for 80 %"))
    return float(value)


def whole(name, value, least=1, most=None, of="", do="count them"):
    """Return a whole number, of what, from `least` to `most`. Raises AmountError.

    >>> whole("pieces", 12.0), whole("days", 3, most=7)
    (12, 3)
    """
    counted = isinstance(value, numbers.Real) and not isinstance(value, bool | np.bool_) and value % 1 == 0
    if not counted or not least <= value <= (most or MOST):
        number = f"a whole number of {of}" if of else "a whole number"
        be = f"{number}, {least:,} or more" if most is None else f"{number} from {least:,} to {most:,}"
        got = f"{value:g}" if isinstance(value, float) else repr(value)
        raise AmountError(must(name, be, "one of many digits" if counted and abs(value) > MOST else got, do))
    return int(value)
