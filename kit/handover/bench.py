"""Amounts as a bench reads them: rounded to the step of scale, ruler or thermometer, metric or American."""

import functools

from ..tables import table
from ..units import in_unit, number, read
from ..words import figure, plural

_FRACTIONS = {0.125: "⅛", 0.25: "¼", 0.375: "⅜", 0.5: "½", 0.625: "⅝", 0.75: "¾", 0.875: "⅞"}


def step_of(what, unit, kind="all", value=0.0):
    """Return the step [unit] that sheet_steps.csv gives for a value [unit] of a kind: the finest row that fits.

    >>> step_of("mass", "oz", "egg", 12.1), step_of("mass", "oz", "salt", 12.1), step_of("oven", "degF")
    (0.25, 0.01, 5.0)
    """
    rows = [row for row in table("sheet_steps").rows if (row["what"], row["unit"]) == (what, unit)]
    fitting = [row for row in rows if row["kind"] in (kind, "all")]
    return min(number(row["step"]) for row in fitting if not row["below"] or value < number(row["below"]))


def in_ounces(grams, kind="all"):
    """Return a mass [g] in ounces, rounded to its step [oz], and the step.

    >>> in_ounces(516), in_ounces(27.5, "salt")
    ((18.25, 0.25), (0.97, 0.01))
    """
    exact = in_unit(grams, "oz", "mass")
    step = step_of("mass", "oz", kind, exact)
    return round(round(exact / step) * step, 2), step


def pounds_and_ounces(ounces, step=0.01):
    """Return ounces as a bench reads them: pounds from 16 oz up, quarters as fractions.

    >>> pounds_and_ounces(18.25, 0.25), pounds_and_ounces(0.61), pounds_and_ounces(32, 0.25)
    ('1 lb 2¼ oz', '0.61 oz', '2 lb')
    """
    pounds, rest = divmod(round(ounces, 2), round(in_grams("lb") / in_grams(), 6))
    rest = round(rest, 2)
    text = _fraction(rest) if step >= 0.125 else figure(rest, 2)
    if not pounds:
        return f"{text} oz"
    return f"{grouped(pounds, 0)} lb" + (f" {text} oz" if rest else "")


@functools.cache
def in_grams(unit="oz"):
    """Return what one unit of mass weighs [g].

    >>> in_grams()
    28.349523125
    """
    return round(read(f"1 {unit}", "mass"), 9)


def grouped(value, digits=0):
    """Return a number whose thousands nobody reads as decimals: no mark below 10,000, a thin space above.

    >>> grouped(3428.3, 1), grouped(27522936) == "27\\u202f522\\u202f936"
    ('3428.3', True)
    """
    return figure(value, digits).replace(",", "\u202f" if abs(value) >= 9999.5 else "")


def counted(count, word):
    """Return a count with its word, its thousands as in `grouped`.

    >>> counted(1, "tray"), counted(12, "tray")
    ('1 tray', '12 trays')
    """
    return plural(count, word).replace(f"{count:,}", grouped(count), 1)


def trimmed(value, digits=2):
    """Return a number without zeros that say nothing.

    >>> trimmed(18.0), trimmed(0.8), trimmed(62.5, 1)
    ('18', '0.8', '62.5')
    """
    text = grouped(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def both(metric, american, working):
    """Return two texts, the working one first.

    >>> both("26 °C", "79 °F", "US")
    '79 °F (26 °C)'
    """
    return f"{american} ({metric})" if working == "US" else f"{metric} ({american})"


def mass(grams, working, digits=1, alone=False):
    """Return a mass [g] that is not a line of the sheet, such as a piece, in both units, or in the working one alone.

    >>> mass(70, "metric"), mass(62.5, "US"), mass(892, "metric", alone=True)
    ('70 g (2.47 oz)', '2.20 oz (62.5 g)', '892 g')
    """
    metric, american = f"{trimmed(grams, digits)} g", pounds_and_ounces(*in_ounces(grams))
    return (american if working == "US" else metric) if alone else both(metric, american, working)


def temperature(degrees, working, what="dough"):
    """Return a temperature [degC] in both units, to the step of a dough's thermometer or an oven's.

    >>> temperature(180, "metric", "oven"), temperature(26, "US")
    ('180 °C (355 °F)', '79 °F (26 °C)')
    """
    texts = []
    for unit, sign in (("degC", "°C"), ("degF", "°F")):
        step = step_of(what, unit)
        texts.append(f"{grouped(round(in_unit(degrees, unit, 'temperature') / step) * step)} {sign}")
    return both(*texts, working)


def length(centimetres, working, what="length"):
    """Return a length or thickness [cm] in both units.

    >>> length(8.9, "metric"), length(0.37, "metric", "thickness")
    ('89 mm (3½ in)', '3.7 mm (0.15 in)')
    """
    step = step_of(what, "mm")
    metric = f"{grouped(round(in_unit(centimetres, 'mm', 'length') / step) * step, 0 if step >= 1 else 1)} mm"
    step = step_of(what, "inch")
    inches = round(in_unit(centimetres, "inch", "length") / step) * step
    return both(metric, f"{_fraction(inches) if step >= 0.125 else figure(inches, 2)} in", working)


def _fraction(value):
    whole, rest = divmod(round(value, 3), 1)
    mark = _FRACTIONS.get(rest, "")
    return f"{grouped(whole)}{mark}" if whole or not mark else mark
