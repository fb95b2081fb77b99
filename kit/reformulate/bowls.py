"""A straight dough with a preferment or a cooked flour, and back: the total formula stays, only the bowls change."""

from dataclasses import replace

from ..errors import FormulaError, UnknownName, must
from ..formula.varying import with_line
from ..tables import table
from ..units import read
from ..words import did_you_mean, figure, listing, plain
from .substitutions import Substituted, Swap


def into_preferment(formula, kind, flour, hydration=None, yeast=None, liquid="water"):
    """Return Substituted: a preferment of one kind taken out of the total formula, which stays as it is.

    kind: poolish, biga or sponge; flour [% of total flour]; hydration of it, as poured, and yeast in it [% of its
    own flour], those of preferments.csv when None (common practice). Raises UnknownName, FormulaError.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"bread flour": 1000, "water": 500, "fresh yeast": 40})
    >>> into_preferment(bun, "poolish", 20, yeast=2).formula.part("poolish").percentages
    (20.0, 20.0, 0.4)
    """
    rows = {row["kind"]: row for row in table("preferments").rows}
    if plain(kind) not in rows:
        raise UnknownName(must("preferment", f"one of {listing(rows, 'or')}", repr(kind), did_you_mean(kind, rows)))
    row = rows[plain(kind)]
    yeasts = [key for key in formula.part("dough").keys if formula.ingredients[key]["kind"] == "yeast"]
    if not yeasts:
        raise FormulaError(must("yeast", "in the dough, for the preferment", "none", "write some into the formula"))
    wet = float(row["hydration_percent"]) if hydration is None else read(hydration, "percentage", "hydration")
    if yeast is None:  # in the form the dough has, by the first factor of yeast_forms.csv
        form = formula.ingredients[yeasts[0]]["name"]
        factors = [float(r["factor"]) for r in table("yeast_forms").rows if r["to_form"] == form]
        pinch = float(row["fresh_yeast_percent"]) * (factors[0] if factors else 1.0)
    else:
        pinch = read(yeast, "percentage", "yeast")
    name = plain(kind)
    made = formula.with_preferment(name, flour, {liquid: wet, yeasts[0]: pinch})
    return _moved(formula, made, name, row)


def into_cooked_flour(formula, flour, liquid="milk", ratio=5.0):
    """Return Substituted: part of the flour cooked with liquid first, both taken out of the total formula.

    flour [% of total flour]; ratio [g liquid per g flour], 5 by common practice; liquid: water or milk. What boils
    off must be given back by weight. Raises FormulaError when the dough has not that much liquid.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"bread flour": 1000, "milk": 500})
    >>> into_cooked_flour(bun, 5).formula.part("cooked flour").percentages
    (5.0, 25.0)
    """
    if not ratio > 0:
        do = "5 is usual"
        raise FormulaError(must("ratio", "more than 0 g of liquid for a gram of flour", f"{ratio:g}", do))
    made = formula.with_preferment("cooked flour", flour, {liquid: 100 * ratio})
    parts = [replace(p, kind="cooked flour") if p.name == "cooked flour" else p for p in made.parts]
    row = {
        "behaviour": "its starch is set and holds water: softer for longer, moister at the same total hydration; weigh "
        "it when cool and give back what boiled off",
        "source": "common_practice",
        "provenance": "common practice",
    }
    return _moved(formula, made.with_parts(parts).checked(), "cooked flour", row)


def into_straight(formula):
    """Return Substituted: everything in one bowl, the total formula as it is. Raises FormulaError when it is so.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 75, "water": 30}, {"sponge": {"flour": 25, "water": 25}})
    >>> into_straight(bun).formula.part("dough").percentages
    (100.0, 55.0)
    """
    first = [part for part in formula.bowls if part.kind != "dough"]
    if not first:
        raise FormulaError(must("preferment", "in the formula", "none", "it is a straight dough already"))
    final = formula.part("dough")
    for part in first:
        for key, value in zip(part.keys, part.percentages, strict=True):
            final = with_line(final, key, final.percentage(key) + value)
    parts = [final if part.kind == "dough" else part for part in formula.parts if part not in first]
    told = tuple(f"{part.name.capitalize()}: {_lines(formula, part)} go into the dough." for part in first)
    swap = Swap(
        f"{listing(part.name for part in first)} → straight dough",
        "dough",
        "total flour",
        (),
        told,
        "What was in the preferment left out of the dough, or the final dough's percentages read as the total's.",
        "sugar and fat weigh on the yeast from the start: more yeast or more time; less taste, and it stales sooner",
        "common_practice",
        "common practice",
    )
    return Substituted(formula.with_parts(parts).checked(), formula, (swap,))


def _lines(formula, part):
    lines = zip(part.keys, part.percentages, strict=True)
    return listing(f"{formula.ingredients[key]['name']} {figure(value, 2)}" for key, value in lines)


def _moved(formula, made, name, row):
    part, final = made.part(name), made.part("dough")
    left = {key: final.percentage(key) for key in part.keys}
    kept = listing(f"{formula.ingredients[key]['name']} {figure(value, 2)}" for key, value in left.items())
    told = (
        f"{name.capitalize()} takes {_lines(formula, part)} out of the total formula [% of total flour].",
        f"Left for the dough: {kept}; all else goes in the dough, and the total formula stays as it is.",
    )
    flour = made.flour_in(part)
    salt = formula.of_kind("salt")
    wrong = f"Put on top instead of taken out: {figure(100 + flour, 2)} parts of flour where 100 are meant"
    if salt:
        wrong += f", and salt {figure(salt, 2)} % is truly {figure(salt * 100 / (100 + flour), 2)} %"
    swap = Swap(
        f"straight dough → {name}",
        name,
        "total flour",
        (),
        told,
        wrong + ".",
        row["behaviour"],
        row["source"],
        row["provenance"],
    )
    return Substituted(made, formula, (swap,))
