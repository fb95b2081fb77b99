"""Say what must hold, and let the rest follow: the smallest or cheapest changes that do it.

How it is reached is in `search`; every answer is checked against the full balance before it is shown.
"""

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from .. import page
from ..balance import QUANTITIES, at_least, in_words
from ..cautions import unspelled
from ..errors import KitError, must
from ..formula import Formula
from ..formula.parts import HIGHEST, only_one
from ..tables import source
from ..words import capital, listing, one_of
from .asked import moves_unasked, problem_of, short, trim
from .moving import COST, PROCESS, changed, model, variable
from .search import STILL, Demand

PREFERENCES = ("smallest", "cheapest")
_STAYS = 3.0  # milk that nobody named moves when else the rest would move this many times as much
_GIVEN_UP = 1e-4  # a demand given up by more than this is told


class Impossible(KitError, ValueError):
    """Demands that cannot all hold: `conflict` names a smallest set of them, `nearest` is the nearest Solved."""

    def __init__(self, message, conflict=(), nearest=None):
        super().__init__(message)
        self.conflict = tuple(conflict)
        self.nearest = nearest


@dataclass(frozen=True)
class Came:
    """What a demand came to: before and after, and whether it was given up."""

    demand: Demand
    before: float
    after: float

    @property
    def name(self):
        """What it is of, as a sentence has it."""
        return in_words(self.demand.name)

    @property
    def traded(self):
        """Whether it was given up."""
        return bool(self.demand.off(self.after) > _GIVEN_UP)

    @property
    def gave_up(self):
        """What it came to in place of what was asked."""
        return f"{self.name} is {trim(self.after)} ({self.demand.words} was asked)"


@dataclass(frozen=True, eq=False)
class Solved(page.Result):
    """The formula that follows from what must hold: what moved, what each demand came to, and what was given up."""

    formula: Formula
    before: Formula = field(repr=False)
    moves: dict  # name: (before, after, unit)
    demands: tuple[Came, ...] = field(repr=False)
    notes: tuple[str, ...] = field(default=(), repr=False)
    refusal: Impossible | None = field(default=None, repr=False)  # why this is only the nearest, where it is
    columns = ("", "unit", "asked", "before", "after", "given up")

    @property
    def traded(self):
        """Names of the demands that were given up; empty when all hold."""
        return tuple(came.demand.name for came in self.demands if came.traded)

    @property
    def lead(self):
        """What moved, what holds and what was given up."""
        moved = [
            f"{name} {trim(a)} → {trim(b)} {short(unit)}"
            for name, (a, b, unit) in self.moves.items()
            if trim(a) != trim(b)
        ]
        said = [f"{listing(moved)}." if moved else "Nothing needs to move."]
        held = [came.name for came in self.demands if not came.traded]
        said += [f"{listing(held)} as asked."] if held else []
        return " ".join([*map(capital, said), *(f"Given up: {came.gave_up}." for came in self.demands if came.traded)])

    @property
    def words(self):
        """What moved and what came of it, in one paragraph."""
        return " ".join([self.lead, *self.notes])

    def frame_rows(self):
        """Return what moved, then each demand."""
        rows = [(name, unit, "moved", a, b, False) for name, (a, b, unit) in self.moves.items()]
        asked = [(c.demand.name, c.demand.unit, c.demand.words, c.before, c.after, c.traded) for c in self.demands]
        return rows + asked

    def sources(self):
        """Return what the answer rests on."""
        rows = [self.formula.ingredients[key] for part in self.formula.parts for key in part.keys]
        keys = dict.fromkeys(row.source for row in rows if row.source)
        return [*map(source, keys), "how a change is measured: assumed here"]

    def tables(self):
        """Return what moved, and what must hold."""
        moves = [[name, trim(a), trim(b), unit] for name, (a, b, unit) in self.moves.items()]
        rows = [
            [c.name, c.demand.words, trim(c.before), trim(c.after), "given up" if c.traded else "holds"]
            for c in self.demands
        ]
        moved = [(["moved", "before", "after", ""], moves)] if moves else []
        return [*moved, (["must hold", "asked", "before", "after", ""], rows)]


def solve(
    formula: Formula,
    demands: dict | None = None,
    hold: Any = (),
    free: Any = None,
    limits: dict | None = None,
    prefer: str = "smallest",
    prices: Any = None,
    nearest: bool = False,
) -> Solved:
    """Return Solved: the formula nearest to this one in which every demand holds.

    formula: one Formula
    demands: {quantity, ingredient, "piece" or "topping": target or (low, high), None for an open end}, each in its
        own unit [% of flour; g; min]; "water_activity" and "time_to_double" are those of kit.process
    hold: names of what stays as it is, not what it must be
    free: ingredients or kinds that may move; when None, all of the dough but flour and what seasons or leavens it,
        up to what usual_ranges.csv still believes; where a hydration is asked for, water goes first and other liquids
        only when it is used up
    limits: {name: (low, high)} that are never given up for a demand
    prefer: smallest, the sum of |change| / baseline; or cheapest, the cost of a piece within usual_ranges.csv or what
        is given by name
    prices: {ingredient or kind: price per kg}, or what `kit.read_prices` read; with them "cost_per_piece", of what is
        bought for it, losses made good, can be asked for
    nearest: where not all can hold, return what is nearest, its `refusal` saying why not, in place of raising it

    Returns the formula with what moved, what each demand came to and what was given up.
    Raises Impossible, with a smallest contradiction and the nearest formula; AmountError, UnknownName, FormulaError.

    Linear programme (HiGHS); quotients of linear sums are exact, the rest by steps along its slopes, checked.

    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 30, "egg": 20, "butter": 15})
    >>> print(solve(bun, {"butter": 25}, hold=["total_hydration"], free=["water"]).words)
    Butter 15 → 25 % and water 30 → 28.21 %. Butter and total hydration as asked.
    >>> solve(bun, {"egg": 70}, hold=["total_hydration"], free=["water"], nearest=True).refusal.conflict
    ('egg', 'total_hydration')
    """
    only_one(formula, "to start from", "choose one of them")
    cheapest = one_of("prefer", prefer, PREFERENCES) == "cheapest"
    problem = problem_of(formula, demands or {}, hold, free, limits or {}, cheapest, prices)
    best = problem.reach()
    if best is not None and problem.behind:
        others = enumerate(problem.model.variables)
        stay = [replace(v, least=v.now, most=v.now) if n in problem.behind else v for n, v in others]
        stayed = problem.over(stay).reach()
        if stayed is not None and (cheapest or problem.moved(stayed) <= _STAYS * problem.moved(best)):
            best = stayed
    if best is not None:
        return _solved(problem, best)
    refusal = _impossible(problem)
    if nearest and refusal.nearest is not None:
        return replace(refusal.nearest, refusal=refusal)
    raise refusal


def _solved(problem, values):
    """Return Solved at these values, with every demand measured on the formula itself."""
    before, variables = problem.model.formula, problem.model.variables
    values = [v.now if abs(x - v.now) <= STILL else float(x) for v, x in zip(variables, values, strict=True)]
    after = changed(before, variables, values)
    moves = {v.name: (v.now, x, v.unit) for v, x in zip(variables, values, strict=True) if x != v.now}
    sides = [problem.model.at(), model(after, (), problem.model.prices).at()]
    came = []
    for demand in [demand for demand in problem.demands if demand.asked != "usual"]:
        if isinstance(demand.what, str):
            pair = [side.value(demand.what) for side in sides]
        else:
            pair = [variables[demand.what[0]].now, values[demand.what[0]]]
        came.append(Came(demand, *pair))
    return Solved(after, before, moves, tuple(came), tuple(_notes(problem, came, np.array(values), after)))


def _notes(problem, came, values, after):
    """Yield why other liquids moved, what stopped at the end of what is usual, and what the tables do not know."""
    variables = problem.model.variables
    moved = [variables[n].name for n in problem.behind if values[n] != variables[n].now]
    if moved:
        left = any(values[n] > variables[n].least + _GIVEN_UP for n in problem.first)
        used = "Water is used up" if any(variables[n].now for n in problem.first) else "No water is in the dough"
        why = "Water alone cannot do it" if left else used
        yield f"{why}, so {listing(moved)} {'gives' if len(moved) == 1 else 'give'} way too."
    stopped = [
        f"{v.name} {trim(x)} %"
        for v, x in zip(variables, values, strict=True)
        if v.usual and min(x - v.least, v.most - x) < _GIVEN_UP < abs(x - v.now)
    ]
    if stopped:
        yield f"{listing(stopped).capitalize()}: the end of what is usual; a limit of your own goes further."
    for each in came:
        if each.demand.what in QUANTITIES and (missing := at_least(after, each.demand.what)):
            of = listing(dict.fromkeys(name for name, _ in missing))
            yield f"{each.name.capitalize()} is at least that: the tables do not know it of {of}."
    costed = problem.cheapest or any(each.demand.name == COST for each in came)
    if costed and (out := unspelled(after)):
        of = listing(f"{trim(g)} g of {kind}" for kind, g in out.items())
        yield f"Cost per piece is at least that: {of} on a piece is not spelled out."


# when it cannot be


def _impossible(problem):
    """Return the Impossible that says which demands contradict each other, how far each can go, and the nearest."""
    order, point = {"usual": -1, "limit": 0, "held": 1, "wanted": 2}, problem.model.at()
    straight = [demand for demand in problem.demands if point.ratio(demand.what).straight]
    conflict = list(problem.demands) if problem.reach(straight, some=True) is not None else straight
    for demand in sorted(conflict, key=lambda d: order[d.asked]):
        rest = [other for other in conflict if other is not demand]
        if problem.reach(rest, some=True) is None:
            conflict = rest
    near = problem.reach(elastic=True)
    nearest = None if near is None else _solved(problem, near)
    got = " with ".join(demand.words for demand in conflict) + _because(problem, conflict)
    do = "; or ".join([*_ends(problem, conflict), *_others(problem)]) or "let something else move"
    if nearest is not None and nearest.traded:
        do += f". Nearest, in .nearest: {listing(came.gave_up for came in nearest.demands if came.traded)}"
    be = "such that all can hold" if len(conflict) > 1 else "one that can hold"
    return Impossible(must("demands", be, got, do), (demand.name for demand in conflict), nearest)


def _because(problem, conflict):
    """Say what would have to go beyond its ends, where that is the same everywhere."""
    if not all(problem.model.at().ratio(demand.what).straight for demand in conflict):
        return ""
    variables = problem.model.variables
    free = (replace(v, least=-HIGHEST, most=HIGHEST) if v.usual or v.least < v.most else v for v in variables)
    found = problem.over(free).reach(conflict, some=True)
    if found is None:
        return ": nothing that may move can do it"
    said = []
    for each, value in zip(variables, found, strict=True):
        if not each.least - _GIVEN_UP <= value <= each.most + _GIVEN_UP:
            said.append(f"{each.name} would be {trim(value)} {short(each.unit)}")
            if each.usual:
                said[-1] += ", beyond what is usual: it wants a limit of its own"
            elif value < each.least and each.least > 0:
                said[-1] += f", where {trim(each.least)} is in a preferment already"
    more = "more water than the formula has, " if any(text.startswith("water ") for text in said) else ""
    return f": {more}{listing(said)}" if said else ""


def _ends(problem, conflict):
    """Yield how far what is wanted of the conflict can go while all else holds; what a dough will do has no end."""
    for demand in [d for d in conflict if d.asked == "wanted" and len(d.sides) == 1 and d.what not in PROCESS]:
        rest = [other for other in problem.demands if other is not demand]
        sign = -1 if problem.model.at().value(demand.what) < demand.low else 1
        found = problem.reach(rest, aim=(demand.what, sign))
        if found is not None:
            end = problem.model.at(found).value(demand.what)
            word = "at most" if sign < 0 else "at least"
            unknown = demand.what in QUANTITIES and at_least(problem.model.formula, demand.what)
            known = ", by what the tables know" if unknown else ""
            yield f"{in_words(demand.name)} can be {word} {trim(end)} {short(demand.unit)}".rstrip() + known


def _others(problem):
    """Yield what else of the dough could follow, so little of it as can be."""
    formula, variables = problem.model.formula, problem.model.variables
    taken = {key for each in variables for key in each.keys}
    used = {demand.what for demand in problem.demands}
    more = [
        variable(formula, key)
        for key in formula.dough_keys
        if ("dough", key) not in taken and moves_unasked(formula, key, used)
    ]
    wider = replace(problem, model=model(formula, (*variables, *more), problem.model.prices), cheapest=False)
    found = replace(wider, first=tuple(range(len(variables)))).reach() if more else None
    if found is not None:
        moved = [(v, x) for v, x in zip(more, found[len(variables) :], strict=True) if abs(x - v.now) > STILL]
        yield f"let {listing(f'{each.name} go to {trim(value)} %' for each, value in moved)}"
