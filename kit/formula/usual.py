"""Slips of the pen: percentages that no bun of this kind has, and what a dough seldom lacks."""

from ..errors import FormulaError, must
from ..tables import ground, table
from ..units import in_unit, read
from ..words import figure, nearest


def check_usual(name, value, flour=None):
    """Raise FormulaError when a percentage is a slip of the pen by usual_ranges.csv.

    name [kind or ingredient of the dough]; value [% of flour]; flour of the batch [g].

    >>> check_usual("butter", 18)
    >>> check_usual("butter", 0.15)
    Traceback (most recent call last):
    ...
    kit.errors.FormulaError: 'butter' must be 0 %, or an amount that can be tasted (got 0.15 %, which is 1.5 g on a
    kilogram of flour); did you mean 15 %? Move the slider if you mean it
    """
    if said := _slip(name, value, flour, "dough"):
        raise FormulaError(said)


def doubts(formula):
    """Return in words what is likely a slip of the pen in a formula, or a file that lost its end; () when nothing.

    usual_ranges.csv, its limits assumed here: a doubt is no error, since a formula may mean it. For many formulas ().

    >>> from kit.formula import Formula
    >>> doubts(Formula.from_weights("cut off", {"flour": 1000, "salt": 16}))[0]
    'nothing wet is in the dough: has the file lost its end?'
    """
    if formula.shape:
        return ()
    rows = [formula.ingredients[key] for key in formula.dough_keys]
    said = []
    if not any(row.counts_as_liquid == "yes" or row.group in ("egg", "dairy") for row in rows):
        said.append("nothing wet is in the dough: has the file lost its end?")
    elif not any(row.kind == "yeast" for row in rows):
        said.append("no yeast is in the dough: has the file lost its end?")
    for part in (formula.part("dough"), *(p for p in formula.parts if p.kind == "topping")):
        lines = dict(part.items)
        if part.kind == "dough":
            lines |= dict(zip(formula.dough_keys, map(float, formula.dough_percentages), strict=True))
        for what in dict.fromkeys(row.what for row in table("usual_ranges").rows if row.part == part.kind):
            of = [key for key in part.keys if what in (formula.ingredients[key].kind, formula.ingredients[key].name)]
            if slip := _slip(what, sum(lines[key] for key in of), None, part.kind):
                said.append(f"{part.name}: {slip}")
    said += bake_doubts(formula.bake, goods_of(formula))
    return tuple(said)


def check_bake(bake):
    """Raise FormulaError when an oven or a core [degC] can't be, by oven_set and core_temperature of trial_fields.csv.

    >>> from kit.formula import Bake
    >>> check_bake(Bake(core=91))
    >>> check_bake(Bake(core=191))
    Traceback (most recent call last):
    ...
    kit.errors.FormulaError: 'core' must be 60 to 100 °C (140 to 212 °F) (got 191 °C); did you mean 191 degF?
    """
    rows = {row.field: row for row in table("trial_fields").rows}
    for name, field in (("oven", "oven_set"), ("core", "core_temperature")):
        value, low, high = getattr(bake, name), rows[field].low, rows[field].high
        if value is None or low <= value <= high:
            continue
        swapped = (f"{in_unit(value, 'degF', 'temperature'):.0f} degC", f"{value:g} degF")  # of a wrong letter
        meant = [text for text in swapped if low <= read(text, "temperature") <= high]
        do = f"did you mean {meant[0]}?" if meant else "look at the thermometer again"
        raise FormulaError(must(name, warmth(low, high), f"{value:g} °C", do))


def printed(what, goods):
    """Return (low, high [degC], grounds) of what is printed for an oven or a core of some goods: bake_temperatures.csv.

    An oven is held to its step of 5 degC: 350 degF is 175 degC to a baker.

    >>> printed("oven", "small pieces")[:2], printed("core", "lean goods")[:2]
    ((175, 220), (93, 99))
    """
    rows = [
        row
        for row in table("bake_temperatures").rows
        if row.what == what and goods in row.goods.split(";") and row.use == "printed"
    ]
    ends = (min(row.low_degC for row in rows), max(row.high_degC for row in rows))
    return *(nearest(end, 5 if what == "oven" else 1) for end in ends), tuple(dict.fromkeys(map(ground, rows)))


def bake_doubts(bake, goods="soft enriched goods"):
    """Return in words where an oven or a core [degC] lies outside what is printed for such goods; () when nowhere.

    >>> from kit.formula import Bake
    >>> bake_doubts(Bake(core=80))[0]
    "'core' must be 85 to 93 °C (185 to 199 °F), as usual for soft enriched goods (got 80 °C); local codes come first"
    """
    said = []
    for name, kind, do in (("oven", "small pieces", "look at the dial"), ("core", goods, "local codes come first")):
        value, (low, high, _) = getattr(bake, name), printed(name, kind)
        if value is not None and not low <= value <= high:
            said.append(must(name, f"{warmth(low, high)}, as usual for {kind}", f"{value:g} °C", do))
    return tuple(said)


def goods_of(formula):
    """Return what kind of goods of bake_temperatures.csv a formula's piece is, for its core.

    >>> from kit.formula import Formula
    >>> goods_of(Formula.from_weights("bun", {"flour": 100, "water": 40, "butter": 15}))
    'soft enriched goods'
    """
    if formula.has("filling") or formula.pieces.filling:
        return "filled goods"
    groups = {formula.ingredients[key].group for key in formula.dough_keys}
    return "soft enriched goods" if groups & {"fat", "sugar", "egg"} else "lean goods"


def warmth(low, high):
    """Return a range [degC] in both units.

    >>> warmth(85, 93)
    '85 to 93 °C (185 to 199 °F)'
    """
    american = (figure(in_unit(end, "degF", "temperature"), 0) for end in (low, high))
    return f"{figure(low, 0)} to {figure(high, 0)} °C ({' to '.join(american)} °F)"


def _slip(name, value, flour, part):
    base, rows = "% of flour" if part == "dough" else f"% of the {part}'s base", table("usual_ranges").rows
    row = next((r for r in rows if (r.what, r.part) == (name, part) and r.hard_high_percent), None)
    if row and value > row.hard_high_percent:
        do = f"usual is {row['low_percent']} to {row['high_percent']} {base}"
        return must(name, f"at most {figure(row.hard_high_percent, 0)} {base}", f"{value:g} %", do)
    if row and 0 < value < row.low_percent / 10:
        batch = "on a kilogram of flour" if flour is None else "in this batch"
        got = f"{value:g} %, which is {figure((flour or 1000) * value / 100)} g {batch}"
        do = f"did you mean {value * 100:g} %? Move the slider if you mean it"
        return must(name, "0 %, or an amount that can be tasted", got, do)
    return ""
