"""Numbers and names in plain words: rounding for the eye, lists, and the nearest known name."""

import difflib
import math
import re

import numpy as np

from .errors import UnknownName, must

MINUS = "−"
_UNITS = re.compile(
    r"(?<=[\d⅛¼⅜½⅝¾⅞]) (?=(?:%|g|mm|min|°C|°F|degC|degF|lb|oz|in)(?!\w))|(?<=%) (?=RH)|(?<=\d) (?=×)|(?<=×) (?=\d)"
)


def figure(value, digits=1):
    """Return a number as print shows it: fixed digits, a true minus sign, never "-0.0".

    >>> figure(18.84), figure(-0.04), figure(-1.5), figure(12000.0, 0)
    ('18.8', '0.0', '−1.5', '12,000')
    """
    value = float(value)
    if not math.isfinite(value):
        return "unknown"
    text = f"{abs(value):,.{digits}f}"
    return MINUS + text if value < 0 and float(text.replace(",", "")) else text


def without_zeros(text):
    """Return a figure, as `figure` writes it, without the zeros that say nothing.

    >>> without_zeros("36.00"), without_zeros("33.120"), without_zeros("1,200")
    ('36', '33.12', '1,200')
    """
    return text.rstrip("0").rstrip(".") if "." in text else text


def nearest(value, step):
    """Return a value to the nearest step, halves up: what rounds to even would make 2.5 g into 2 g.

    >>> nearest(2.5, 1), nearest(0.25, 0.1)
    (3, 0.30000000000000004)
    """
    return math.floor(value / step + 0.5 + 1e-9) * step


def signed(value, digits=1):
    """Return a change with its sign, so that a rise reads as a rise.

    >>> signed(8.11), signed(-0.3), signed(0.001)
    ('+8.1', '−0.3', '0.0')
    """
    text = figure(value, digits)
    return text if text.startswith(MINUS) or not float(text.replace(",", "")) else f"+{text}"


def span(values, digits=1):
    """Return the least and the largest of many numbers, of those that are finite; "none" where there are none.

    >>> span([54.2, float("inf"), 75.0], 0), span([])
    ('54 to 75', 'none')
    """
    finite = [value for value in np.ravel(values) if math.isfinite(value)]
    return f"{figure(min(finite), digits)} to {figure(max(finite), digits)}" if finite else "none"


def listing(names, last="and"):
    """Return names as a sentence lists them.

    >>> listing(["milk", "egg", "butter"])
    'milk, egg and butter'
    """
    names = [str(name) for name in names]
    return f" {last} ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def plural(count, one, many=None):
    """Return a count with its word.

    >>> plural(1, "piece"), plural(2, "piece")
    ('1 piece', '2 pieces')
    """
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def kept(text):
    """Return text whose numbers stay on one line with their units.

    >>> kept("18 % of 100 g") == "18\\u00a0% of 100\\u00a0g"
    True
    """
    return _UNITS.sub("\u00a0", text)


def capital(text):
    """Return text with a capital at its beginning.

    >>> capital("wash 1 g")
    'Wash 1 g'
    """
    return f"{text[:1].upper()}{text[1:]}"


def plain(name):
    """Return a name folded for comparison: case, spaces, hyphens and underscores do not matter.

    >>> plain("  Bread_Flour ")
    'bread flour'
    """
    return " ".join(str(name).casefold().replace("_", " ").replace("-", " ").split())


def did_you_mean(name, known, otherwise=""):
    """Return the advice that ends an error about an unknown name; otherwise, when no known name is near.

    >>> did_you_mean("buttr", ["butter", "sugar"])
    'did you mean butter?'
    """
    near = difflib.get_close_matches(plain(name), list(dict.fromkeys(known)), n=3, cutoff=0.6)
    return f"did you mean {listing(near, 'or')}?" if near else otherwise


def one_of(name, given, known, do=""):
    """Return which of the known names is meant, whatever its case, spaces or hyphens. Raises UnknownName.

    >>> one_of("market", "eu", ("EU", "US"))
    'EU'
    """
    if given in known:  # as most are: nothing need be folded
        return given
    named = {plain(each): each for each in known}
    if plain(given) not in named:
        be = f"one of {listing(known, 'or')}"
        raise UnknownName(must(name, be, repr(given), did_you_mean(given, named, do)))
    return named[plain(given)]
