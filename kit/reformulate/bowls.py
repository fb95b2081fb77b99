"""A straight dough with a preferment or a cooked flour, and back: the total formula stays, only the bowls change."""

from dataclasses import replace

from ..errors import FormulaError, must
from ..formula import Formula
from ..formula.varying import with_line
from ..tables import table
from ..words import figure, listing, one_of
from .substituted import Substituted, Swap


def mixed_by(formula: Formula, method: str, flour: float | str | None, lines: dict | None) -> Substituted:
    """Return the same total formula by a method of preferments.csv, its arguments as in `substitute`."""
    rows = {row.kind: row for row in table("preferments").rows}
    method = one_of("method", method, rows)
    row = rows[method]
    if method == "straight":
        part, (made, title, told) = "dough", _straight(formula)
        wrong = (
            "What was in the preferment left out of the dough, or the final dough's percentages read as the total's."
        )
    else:
        if flour is None:
            do = "say flour=20 for a fifth of it"
            raise FormulaError(must("flour", f"the % of total flour that goes into the {method}", "none", do))
        made = formula.with_preferment(method, flour, _usual_lines(formula, row) if lines is None else lines)
        if method == "cooked flour":
            made = made.with_parts([replace(p, kind=method) if p.name == method else p for p in made.parts]).checked()
        part, title, final = method, f"straight dough → {method}", made.part("dough")
        kept = _listed(formula, [(key, final.percentage(key)) for key in made.part(method).keys])
        told = [
            f"{method.capitalize()} takes {_listed(formula, made.part(method).items)} out of the total formula "
            "[% of total flour].",
            f"Left for the dough: {kept}; all else goes in the dough, and the total formula stays as it is.",
        ]
        whole, salt = 100 + made.flour_in(made.part(method)), formula.of_kind("salt")
        wrong = f"Put on top instead of taken out: {figure(whole, 2)} parts of flour where 100 are meant"
        truly = f", and salt {figure(salt, 2)} % is truly {figure(salt * 100 / whole, 2)} %" if salt else ""
        wrong = f"{wrong}{truly}."
    swap = Swap(title, part, "total flour", tuple(told), wrong, row.behaviour, row.source, row.provenance)
    return Substituted(made, formula, (swap,))


def _usual_lines(formula, row):
    """Return {ingredient: % of its own flour} as preferments.csv has it, yeast in the form that the dough has."""
    lines = {row.liquid: row.hydration_percent}
    if row.fresh_yeast_percent:
        yeasts = [key for key in formula.part("dough").keys if formula.ingredients[key].kind == "yeast"]
        if not yeasts:
            raise FormulaError(must("yeast", "in the dough, for the preferment", "none", "write some into the formula"))
        form = formula.ingredients[yeasts[0]].name
        factors = [forms.factor for forms in table("yeast_forms").rows if forms.to_form == form]
        lines[yeasts[0]] = row.fresh_yeast_percent * (factors[0] if factors else 1.0)
    return lines


def _straight(formula):
    """Return the formula with all bowls in one, a title, and what went where in sentences."""
    first = [part for part in formula.bowls if part.kind != "dough"]
    if not first:
        raise FormulaError(must("preferment", "in the formula", "none", "it is a straight dough already"))
    final = formula.part("dough")
    for key, value in (line for part in first for line in part.items):
        final = with_line(final, key, final.percentage(key) + value)
    parts = [final if part.kind == "dough" else part for part in formula.parts if part not in first]
    told = [f"{part.name.capitalize()}: {_listed(formula, part.items)} go into the dough." for part in first]
    return formula.with_parts(parts).checked(), f"{listing(part.name for part in first)} → straight dough", told


def _listed(formula, lines):
    return listing(f"{formula.ingredients[key].name} {figure(value, 2)}" for key, value in lines)
