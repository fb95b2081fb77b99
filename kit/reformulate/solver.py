"""Say what must hold, and let the rest follow: the smallest or cheapest changes that do it.

How it is reached is in `search`; every answer is checked against the full balance before it is shown.
"""

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from .. import page
from ..balance import at_least
from ..cautions import unspelled
from ..errors import KitError, must
from ..formula import Formula
from ..formula.parts import only_one
from ..tables import source
from ..words import capital, listing, one_of
from .asked import moves_unasked, problem_of, short, trim
from .moving import COST, PROCESS, changed, model, variable
from .search import HELD, STILL, Demand

PREFERENCES = ("smallest", "cheapest")
_STAYS = 3.0  # milk that nobody named moves when else the rest would move this many times as much
_GIVEN_UP = 1e-4  # a demand given up by more than this is told


class Impossible(KitError, ValueError):
    """Demands that cannot all hold: `conflict` names a smallest set of them, `nearest` is the nearest Solved."""

    def __init__(self, message, conflict=(), nearest=None):
        super().__init__(message)
        self.conflict = tuple(conflict)
        self.nearest = nearest

    @property
    def words(self):
        """Why not, and what is nearest, in one paragraph."""
        return str(self)

    def _repr_html_(self):
        near = "" if self.nearest is None else f"<p>The nearest:</p>{self.nearest._repr_html_()}"
        return f"<p>{page.escape(self)}</p>{near}"


@dataclass(frozen=True)
class Came:
    """What a demand came to: before and after, and whether it was given up."""

    demand: Demand
    before: float
    after: float

    @property
    def name(self):
        """What it is of, as a sentence has it."""
        return self.demand.name.replace("_", " ")

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
        stayed = replace(problem, frozen=problem.frozen | problem.behind).reach()
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
    variables, found = problem.model.variables, problem.model
    moved = [variables[n].name for n in sorted(problem.behind) if values[n] != variables[n].now]
    if moved:
        left = any(values[n] > variables[n].least + _GIVEN_UP for n in problem.first)
        used = "Water is used up" if any(variables[n].now for n in problem.first) else "No water is in the dough"
        why = "Water alone cannot do it" if left else used
        yield f"{why}, so {listing(moved)} {'gives' if len(moved) == 1 else 'give'} way too."
    stopped = []
    for demand in problem.demands:
        if demand.asked == "usual" and demand.low < demand.high:
            now, then = (point.value(demand.what) + demand.fixed for point in (found.at(), found.at(values)))
            ends = [end for end in (demand.low, demand.high) if abs(then - end) < _GIVEN_UP < abs(then - now)]
            stopped += [f"{demand.name.removeprefix('usual ')} {trim(end)} %" for end in ends]
    if stopped:
        yield f"{listing(stopped).capitalize()}: the end of what is usual; a limit of your own goes further."
    for each in came:
        if missing := at_least(after, each.demand.name):
            of = listing(dict.fromkeys(name for name, _ in missing))
            yield f"{each.name.capitalize()} is at least that: the tables do not know it of {of}."
    costed = problem.cheapest or any(each.demand.name == COST for each in came)
    if costed and (out := unspelled(after)):
        of = listing(f"{trim(g)} g of {kind}" for kind, g in out.items())
        yield f"Cost per piece is at least that: {of} on a piece is not spelled out."


# when it cannot be


def _impossible(problem):
    """Return the Impossible that says which demands contradict each other, how far each can go, and the nearest."""
    order = {"usual": -1, "limit": 0, "held": 1, "wanted": 2}
    conflict = list(problem.demands)
    for demand in sorted(problem.demands, key=lambda d: order[d.asked]):
        rest = [other for other in conflict if other is not demand]
        if problem.reach(rest, some=True) is None:
            conflict = rest
    near = problem.reach(elastic=True)
    nearest = None if near is None else _solved(problem, near)
    got = " with ".join(demand.words for demand in conflict) + _because(problem, conflict)
    others = list(_others(problem))  # first, since what is tried is bounded
    do = "; or ".join([*_ends(problem, conflict), *others]) or "let something else move"
    if nearest is not None and nearest.traded:
        do += f". Nearest, in .nearest: {listing(came.gave_up for came in nearest.demands if came.traded)}"
    be = "such that all can hold" if len(conflict) > 1 else "one that can hold"
    return Impossible(must("demands", be, got, do), (demand.name for demand in conflict), nearest)


def _because(problem, conflict):
    """Say what would have to go below what there is; what a dough will do is not asked about less than nothing."""
    if any(demand.what in PROCESS for demand in conflict):
        return ""
    variables = problem.model.variables
    deeper = tuple(v if n in problem.frozen else replace(v, least=-v.most) for n, v in enumerate(variables))
    found = replace(problem, model=replace(problem.model, variables=deeper)).reach(conflict)
    if found is None:
        return ": nothing that may move can do it"
    said = []
    for each, value in zip(variables, found, strict=True):
        if value < each.least - _GIVEN_UP:
            holds = f", where {trim(each.least)} is in a preferment already" if each.least > 0 else ""
            said.append(f"{each.name} would be {trim(value)} {short(each.unit)}{holds}")
    more = "more water than the formula has, " if any(text.startswith("water ") for text in said) else ""
    return f": {more}{listing(said)}" if said else ""


def _ends(problem, conflict):
    """Yield how far each of the demands in conflict can go while all others hold, or if need be the conflict's own."""
    for demand in conflict:
        if problem.enough:
            return
        if demand.asked == "usual":
            name, ends = demand.name.removeprefix("usual "), f"{trim(demand.low)} to {trim(demand.high)}"
            leave = f"let {name} leave {ends} {short(demand.unit)} by a limit of its own"
            yield leave if demand.low < demand.high else f"give {name} a limit of its own"
            continue
        rest = [other for other in problem.demands if other is not demand]
        if problem.reach(rest, some=True) is None:
            rest = [other for other in conflict if other is not demand]
        signs, there = (-1, 1), problem.reach(rest, some=True)
        if there is not None and demand.what not in PROCESS:  # where all others hold it is on one side of its band
            signs = signs[:1] if problem.model.at(there).value(demand.what) < demand.low else signs[1:]
        for sign in signs:
            found = problem.reach(rest, aim=(demand.what, sign))
            if found is None:
                continue
            end = problem.model.at(found).value(demand.what)
            if (end < demand.low - HELD) if sign < 0 else (end > demand.high + HELD):
                shown, word = demand.name.replace("_", " "), "at most" if sign < 0 else "at least"
                yield f"{shown} can be {word} {trim(end)} {short(demand.unit)}".rstrip()


def _others(problem):
    """Yield what one more ingredient would have to become, for the two that would move least."""
    formula, found = problem.model.formula, []
    taken = {key for each in problem.model.variables for key in each.keys}
    used = {demand.what for demand in problem.demands}
    for key in formula.dough_keys:
        if problem.enough or ("dough", key) in taken or not moves_unasked(formula, key, used):
            continue
        each = variable(formula, key)
        wider = replace(problem, model=model(formula, (*problem.model.variables, each), problem.model.prices))
        values = wider.reach()
        if values is None or abs(values[-1] - each.now) <= STILL:
            continue
        near = wider.reach(aim=((len(values) - 1,), 1 if values[-1] > each.now else -1))
        if near is not None:
            found.append((abs(near[-1] / each.now - 1), each.name, near[-1]))
    for _, name, value in sorted(found)[:2]:
        yield f"let {name} go to {trim(value)} %"
