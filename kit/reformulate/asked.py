"""What is asked of a formula, read into a Problem: what must hold, what may move, and what is usual."""

from dataclasses import replace
from typing import Any

import numpy as np

from .. import units
from ..balance import QUANTITIES, measure
from ..errors import AmountError, must
from ..formula import Formula
from ..tables import table
from ..words import figure, plain, without_zeros
from .moving import COST, PROCESS, Model, model, variable
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
    for what, given in (("demands", demands), ("limits", limits)):
        if not isinstance(given, dict):
            do = "write {name: what it must be}"
            raise AmountError(must(what, "names with what each must be", repr(given), do))
    for what, names in (("hold", hold), ("free", free)):
        if isinstance(names, dict):
            do = "what it must be goes into demands={name: value}, how far it may go into limits={name: (low, high)}"
            raise AmountError(must(what, "names alone", repr(names), do))
    asked = [(name, value, "wanted") for name, value in demands.items()]
    asked += [(name, ..., "held") for name in hold] + [(name, value, "limit") for name, value in limits.items()]
    if not asked:
        do = "name a quantity and its target"
        raise AmountError(must("demands", "at least one thing that must hold", "none", do))
    if cheapest and prices is None:
        do = "give prices={ingredient: price per kg}, or what kit.read_prices read"
        raise AmountError(must("cheapest", "told what things cost", "no prices", do))
    known = {plain(name): name for name in (*QUANTITIES, *PROCESS, *((COST,) if prices is not None else ()))}
    used = {known.get(plain(name)) for name, _, _ in asked}
    lines = [(variable(formula, name), value, why) for name, value, why in asked if plain(name) not in known]
    wet = free is None and not used.isdisjoint(_WET)
    variables, frozen = _variables(formula, lines, free, used, wet and prices is None)
    found = model(formula, variables, getattr(prices, "per_kg", prices))
    made: dict[str, Demand] = {}
    for written, value, why in asked:
        demand = _demand(found, written, value, why, known.get(plain(written)))
        if demand.name in made:
            do = "say once what must hold of it"
            raise AmountError(must(demand.name, "asked for once", f"{made[demand.name].asked} and {why}", do))
        made[demand.name] = demand
    usual = _usual(found, lines, used) if cheapest else ()
    first, behind = _liquids(formula, variables, lines) if wet else (frozenset(), frozenset())
    return Problem(found, (*made.values(), *usual), cheapest, frozen, first, behind)


def _variables(formula, lines, free, used, water):
    """Return the variables there are, and the positions of those that a limit names but that may not move.

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
                each, row = variable(formula, key), _range("dough", formula.ingredients[key])
                most = row.hard_high_percent if row and row.hard_high_percent else np.inf
                found.append(replace(each, most=max(each.now, min(each.most, most))))
    else:
        found += [each for each in (variable(formula, name) for name in free) if not _same(each, found[: len(lines)])]
    if any(each.flour for each in found):
        flours = [key for key in formula.dough_keys if formula.ingredients[key].kind == "flour"]
        found += [variable(formula, key) for key in flours if ("dough", key) not in taken()]
    frozen = [each for each in others if not _same(each, found)]
    return (*found, *frozen), frozenset(range(len(found), len(found) + len(frozen)))


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
    return tuple(frozenset(n for n, water in poured.items() if water == which) for which in (True, False))


def _range(part, ingredient):
    """Return the row of usual_ranges.csv of an ingredient in a part, its name before its kind; None when none has."""
    rows = {row.what: row for row in reversed(table("usual_ranges").rows) if row.part == part}
    return rows.get(ingredient.name, rows.get(ingredient.kind))


def _usual(found: Model, lines, used):
    """Yield the Demands that keep the cheapest answer usual: a kind in a part, a line that has a row of its own, water.

    Where the formula lies outside usual_ranges.csv its own figure bounds, as does a figure given by name; what has no
    row stays. used: the quantities that were asked for, which are free of it.
    """
    formula, ranges = found.formula, table("usual_ranges").rows
    for name in [name for name in _WET if name not in used]:
        row = next(row for row in ranges if (row.part, row.what) == ("dough", name.replace("_", " ")))
        yield _as_usual(row.what, QUANTITIES[name].unit, row, [measure(formula, name)], name)
    first = {(row.part, row.what): row for row in reversed(ranges)}
    kinds = {part.name: part.kind for part in formula.parts} | {"dough": "dough", "pieces": ""}
    groups: dict[tuple[str, str], list[int]] = {}
    for n, each in enumerate(found.variables):
        rows = [formula.ingredients[key] for key in each.shares]
        words = [rows[0].kind] if rows else [each.name]  # of a mass on a piece, its own
        words += [row.name for row in rows if len(rows) == 1 and (kinds[each.place], row.name) in first]
        for word in dict.fromkeys(words):
            groups.setdefault((each.place, word), []).append(n)
    for (place, word), positions in groups.items():
        some = [found.variables[n] for n in positions]
        keys = {key for each in some for key in each.keys}
        bowls = formula.bowls if place == "dough" else [part for part in formula.parts if part.name == place]
        lines_of = [(key, value) for bowl in bowls for key, value in bowl.items if (place, key) not in keys]
        fixed = sum(v for k, v in lines_of if word in (formula.ingredients[k].kind, formula.ingredients[k].name))
        given = [(each, value) for each, value, _ in lines if value is not ... and each.keys & keys]
        ends = [end for each, value in given for end in _band(each.name, value, each.unit) if np.isfinite(end)]
        ends.append(sum(each.now for each in some) + fixed)
        shown = f"{place} {word}" if kinds[place] not in ("dough", "") else word
        yield _as_usual(shown, some[0].unit, first.get((kinds[place], word)), ends, tuple(positions), fixed)


def _as_usual(shown, unit, row, ends, what, fixed=0.0):
    low, high = min(ends), max(ends)
    if row:
        low, high = min(low, row.low_percent), max(high, row.high_percent)
    why = "as is usual" if low < high else "as it is, for want of what is usual"
    return Demand(f"usual {shown}", unit, low, high, what, "usual", f"{in_words(shown, low, high, unit)} {why}", fixed)


def _demand(found: Model, written, value, why, quantity):
    if quantity:
        name, unit, what, shown = quantity, found.unit(quantity), quantity, quantity.replace("_", " ")
    else:
        wanted = variable(found.formula, written)
        name = shown = wanted.name
        unit, what = wanted.unit, tuple(n for n, each in enumerate(found.variables) if each.keys == wanted.keys)[:1]
    low, high = (found.at().value(what),) * 2 if value is ... else _band(shown, value, unit)
    return Demand(name, unit, low, high, what, why, in_words(shown, low, high, unit))


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


def in_words(shown: str, low: float, high: float, unit: str) -> str:
    """Return a demand as a sentence says it.

    >>> in_words("fat", 10, float("inf"), "% of flour"), in_words("piece", 60, 60, "g")
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
