"""What is asked of a formula, read into a Problem: what must hold, what may move, and what is usual."""

from dataclasses import replace
from typing import Any

import numpy as np

from .. import units
from ..balance import QUANTITIES, in_words, measure, names_called
from ..errors import AmountError, must
from ..formula import Formula
from ..tables import table
from ..words import figure, plain, without_zeros
from .moving import COST, PROCESS, model, variable
from .search import Demand, Problem

_SEASONS = ("salt_leaven", "flavour")  # groups that stay unless they are named, or what they are for is asked
_FOR = {"salt": ("salt",), "yeast": ("time_to_double",)}
_KINDS = {"g": "mass", "min": "time"}
_WET = ("hydration", "total_hydration")


def problem_of(
    formula: Formula, demands: dict, hold: Any, free: Any, limits: dict, cheapest: bool, prices: Any
) -> Problem:
    """Return the Problem; arguments as in `solve`. Raises AmountError, UnknownName, FormulaError."""
    hold, free = ((names,) if isinstance(names, str) else names for names in (hold, free))
    for what, names in (("demands", demands), ("limits", limits), ("hold", hold), ("free", free)):
        valued = what in ("demands", "limits")
        if isinstance(names, dict) != valued:
            be = "names with what each must be" if valued else "names alone"
            do = "what it must be goes into demands={name: value}, how far it may go into limits={name: (low, high)}"
            raise AmountError(must(what, be, repr(names), do))
    asked = [(name, value, "wanted") for name, value in demands.items()]
    asked += [(name, ..., "held") for name in hold] + [(name, value, "limit") for name, value in limits.items()]
    if not asked:
        do = "name a quantity and its target"
        raise AmountError(must("demands", "at least one thing that must hold", "none", do))
    if cheapest and prices is None:
        do = "give prices={ingredient: price per kg}, or what kit.read_prices read"
        raise AmountError(must("cheapest", "told what things cost", "no prices", do))
    known = names_called((*QUANTITIES, *PROCESS, *((COST,) if prices is not None else ())))
    used = {known.get(plain(name)) for name, _, _ in asked}
    lines = [(variable(formula, name), value, why) for name, value, why in asked if plain(name) not in known]
    wet = free is None and not used.isdisjoint(_WET)
    variables = _variables(formula, lines, free, used, wet and prices is None)
    if cheapest:
        given = {key for each, value, _ in lines if value is not ... for key in each.keys}
        variables = [_held_usual(formula, v) if given.isdisjoint(v.keys) else v for v in variables]
    found = model(formula, variables, getattr(prices, "per_kg", prices))
    made: dict[str, Demand] = {}
    for written, value, why in asked:
        demand = _demand(found, written, value, why, known.get(plain(written)))
        if demand.name in made:
            do = "say once what must hold of it"
            raise AmountError(must(in_words(demand.name), "asked for once", f"{made[demand.name].asked} and {why}", do))
        made[demand.name] = demand
    usual = [_usually_wet(formula, name) for name in _WET if cheapest and name not in used]
    first, behind = _liquids(formula, variables, lines) if wet else ((), ())
    return Problem(found, (*made.values(), *usual), cheapest, first, behind)


def _variables(formula, lines, free, used, water):
    """Return the variables there are, those that are named but may not move held where they are.

    water: whether it may come in where the dough has none.
    """
    found = [each for each, _, why in lines if why == "wanted"]
    others = [each for each, _, why in lines if why != "wanted"]

    def taken():
        return {key for each in found for key in each.keys}

    if free is None:
        found += [each for each in others if not (_same(each, found) or (each.place == "dough" and each.flour))]
        wet = [formula.ingredients.of_kind("water")[0]] if water and not formula.of_kind("water") else []
        for key in (*formula.dough_keys, *wet):
            if ("dough", key) not in taken() and moves_unasked(formula, key, used):
                each = variable(formula, key)
                row = _range(formula, each)
                most = row.hard_high_percent if row and row.hard_high_percent else np.inf
                found.append(replace(each, most=max(each.now, min(each.most, most))))
    else:
        found += [each for each in (variable(formula, name) for name in free) if not _same(each, found[: len(lines)])]
    if any(each.flour for each in found):
        flours = [key for key in formula.dough_keys if formula.ingredients[key].kind == "flour"]
        found += [variable(formula, key) for key in flours if ("dough", key) not in taken()]
    stay = [replace(each, least=each.now, most=each.now) for each in others if not _same(each, found)]
    return [*found, *stay]


def _same(each, some):
    return any(each.keys == other.keys for other in some)


def moves_unasked(formula: Formula, key: str, used: set) -> bool:
    """Return whether an ingredient may move when nobody named it: what seasons, leavens or is flour stays.

    used: the quantities that are asked for; salt moves for the salt, and yeast for the time to double.
    """
    row = formula.ingredients[key]
    return row.kind != "flour" and (row.group not in _SEASONS or not used.isdisjoint(_FOR.get(row.kind, ())))


def _liquids(formula, variables, lines):
    """Return the positions of water and of the other liquids of the dough that nobody named."""
    named = {key for each, *_ in lines for key in each.keys}
    poured = {
        n: formula.ingredients[next(iter(each.shares))].kind == "water"
        for n, each in enumerate(variables)
        if each.place == "dough" and named.isdisjoint(each.keys)
        if all(formula.ingredients[key].counts_as_liquid == "yes" for key in each.shares)
    }
    return (tuple(n for n, water in poured.items() if water == which) for which in (True, False))


def _range(formula, each):
    """Return the row of usual_ranges.csv of a Variable, its ingredient's before its kind's; None when none has one."""
    kind = next((part.kind for part in formula.parts if part.name == each.place), each.place)
    rows = {row.what: row for row in reversed(table("usual_ranges").rows) if row.part == kind}
    known = [formula.ingredients[key] for key in each.shares]
    names = [row.name for row in known if len(known) == 1] + [row.kind for row in known]
    return next((rows[name] for name in names if name in rows), None)


def _held_usual(formula, each):
    """Return a Variable within what is usual, or its own figure beyond that; what has no row stays where it is.

    Lines of a kind share its range as they share its mass; flours are 100 together whatever else.
    """
    row = _range(formula, each)
    if row is None:
        return replace(each, least=each.now, most=each.now, usual=True)
    kinds = {formula.ingredients[key].kind for key in each.shares}
    if row.what not in kinds:
        share = 1.0
    elif each.flour:
        return each
    else:
        bowls = formula.bowls if each.place == "dough" else (formula.part(each.place),)
        whole = float(sum(formula.ingredients.total(bowl.items, *kinds) for bowl in bowls))
        share = each.now / whole if whole else 1.0
    least, most = min(row.low_percent * share, each.now), max(row.high_percent * share, each.now)
    return replace(each, least=max(least, each.least), most=min(most, each.most), usual=True)


def _usually_wet(formula, name):
    row, now = table("usual_ranges").row(part="dough", what=name.replace("_", " ")), measure(formula, name)
    low, high = min(row.low_percent, now), max(row.high_percent, now)
    unit, words = QUANTITIES[name].unit, f"{demanded(row.what, low, high, '%')} as is usual"
    return Demand(f"usual {row.what}", unit, low, high, name, "usual", words)


def _demand(found, written, value, why, quantity):
    if quantity:
        name, unit, what, shown = quantity, found.unit(quantity), quantity, in_words(quantity)
    else:
        wanted = variable(found.formula, written)
        name = shown = wanted.name
        unit, what = wanted.unit, tuple(n for n, each in enumerate(found.variables) if each.keys == wanted.keys)[:1]
    low, high = (found.at().value(what),) * 2 if value is ... else _band(shown, value, unit)
    return Demand(name, unit, low, high, what, why, demanded(shown, low, high, unit))


def _band(name, value, unit):
    if not isinstance(value, tuple | list):
        return (_number(name, value, unit),) * 2
    if len(value) != 2:
        do = "write (low, high), None for an open end"
        raise AmountError(must(name, "a target or a band of two figures", repr(value), do))
    low, high = (
        open_end if end is None else _number(name, end, unit)
        for end, open_end in zip(value, (-np.inf, np.inf), strict=True)
    )
    if low > high:
        do = f"turn it round: ({trim(high)}, {trim(low)})"
        raise AmountError(must(name, "a band from low to high", f"{trim(low)} to {trim(high)}", do))
    if np.isinf(low) and np.isinf(high):
        raise AmountError(must(name, "a band with at least one end", "none", "give a low or a high figure"))
    return low, high


def _number(name, value, unit):
    if isinstance(value, str):
        value = units.read(value, _KINDS.get(unit, "percentage"), name)
    if isinstance(value, bool) or not isinstance(value, int | float | np.number) or not np.isfinite(value):
        raise AmountError(must(name, "a number", repr(value), "give a target or a band (low, high)"))
    return float(value)


def demanded(shown: str, low: float, high: float, unit: str) -> str:
    """Return a demand as a sentence says it.

    >>> demanded("fat", 10, float("inf"), "% of flour"), demanded("piece", 60, 60, "g")
    ('fat 10 % or more', 'piece 60 g')
    """
    figures = trim(low if np.isfinite(low) else high)
    if np.isfinite(low) and np.isfinite(high) and low != high:
        figures = f"{trim(low)} to {trim(high)}"
    end = " or more" if np.isinf(high) else " or less" if np.isinf(low) else ""
    return f"{' '.join(filter(None, (shown, figures, short(unit))))}{end}"


def short(unit: str) -> str:
    """Return a unit as it stands behind a figure: "% of flour" is "%"."""
    return "%" if unit.startswith("%") else unit


def trim(value: float) -> str:
    """Return a figure of two digits without idle noughts: 36, 33.12."""
    return without_zeros(figure(value, 2))
