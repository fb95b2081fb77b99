"""Slips of the pen: percentages that no bun of this kind has, and what a dough seldom lacks."""

from ..errors import FormulaError, must
from ..tables import table
from ..words import figure


def check_usual(name, value, flour=None, part="dough"):
    """Raise FormulaError when a percentage is a slip of the pen by usual_ranges.csv.

    name [kind or ingredient]; value [% of flour, or of the part's base]; flour of the batch [g].

    >>> check_usual("butter", 18)
    >>> check_usual("butter", 0.15)
    Traceback (most recent call last):
    ...
    kit.errors.FormulaError: 'butter' must be 0 %, or an amount that can be tasted (got 0.15 %, which is 1.5 g on a
    kilogram of flour); did you mean 15 %? Move the slider if you mean it
    """
    said = _slip(name, value, flour, part)
    if said:
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
    if not any(row["counts_as_liquid"] == "yes" or row["group"] in ("egg", "dairy") for row in rows):
        said.append("nothing wet is in the dough: has the file lost its end?")
    elif not any(row["kind"] == "yeast" for row in rows):
        said.append("no yeast is in the dough: has the file lost its end?")
    for part in (formula.part("dough"), *(p for p in formula.parts if p.kind == "topping")):
        totals = {}
        for row in {formula.ingredients[key]["key"]: formula.ingredients[key] for key in part.keys}.values():
            value = part.percentage(row["key"])
            if part.kind == "dough":
                value = float(formula.dough_percentages[formula.dough_keys.index(row["key"])])
            for name in {row["kind"], row["name"]}:
                totals[name] = totals.get(name, 0.0) + value
        for name, value in totals.items():
            slip = _slip(name, value, None, part.kind)
            if slip:
                said.append(f"{part.name}: {slip}")
    return tuple(said)


def _slip(name, value, flour, part):
    base = "% of flour" if part == "dough" else f"% of the {part}'s base"
    for row in table("usual_ranges").rows:
        if row["what"] == name and row["part"] == part and row["hard_high_percent"]:
            low, high = float(row["low_percent"]), float(row["hard_high_percent"])
            if value > high:
                do = f"usual is {row['low_percent']} to {row['high_percent']} {base}"
                return must(name, f"at most {figure(high, 0)} {base}", f"{value:g} %", do)
            if 0 < value < low / 10:
                batch = "on a kilogram of flour" if flour is None else "in this batch"
                got = f"{value:g} %, which is {figure((flour or 1000) * value / 100)} g {batch}"
                do = f"did you mean {value * 100:g} %? Move the slider if you mean it"
                return must(name, "0 %, or an amount that can be tasted", got, do)
            return ""
    return ""
