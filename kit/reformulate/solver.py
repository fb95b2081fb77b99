"""Say what must hold, and let the rest follow: the smallest, cheapest or fewest changes that do it.

How it is reached is in `search`; every answer is checked against the full balance before it is shown.
"""

import itertools
from dataclasses import dataclass, field, replace

import numpy as np

from .. import page, units
from ..balance import QUANTITIES, at_least, dough_class, measure, own_steps
from ..cautions import unspelled
from ..errors import AmountError, KitError, UnknownName, must
from ..formula import Formula
from ..formula.parts import only_one
from ..tables import source, table
from ..words import did_you_mean, figure, listing, plain, without_zeros
from .moving import PROCESS, changed, model, variable
from .search import FLOOR, HELD, STILL, Search

PREFERENCES = ("smallest", "cheapest", "fewest")
_BELOW = 1e-4  # a class ends just below the line at which the next begins [% of flour]
_SEASONS = ("salt_leaven", "flavour")
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
class Demand:
    """One thing that must hold: a quantity or an ingredient between two figures."""

    name: str
    unit: str
    low: float
    high: float
    ways: tuple  # alternatives, each ((what, low, high), ...); what: a quantity, or the positions of variables
    asked: str  # wanted, held, limit, usual
    words: str

    def __str__(self):
        return self.words


@dataclass(frozen=True)
class Came:
    """What a demand came to: before and after, and whether it was given up."""

    demand: Demand
    before: object
    after: object
    traded: bool


@dataclass(frozen=True, eq=False)
class Solved:
    """The formula that follows from what must hold: what moved, what each demand came to, and what was given up."""

    formula: Formula
    before: Formula = field(repr=False)
    moves: dict  # name: (before, after, unit)
    demands: tuple = field(repr=False)  # Came
    prefer: str = "smallest"
    notes: tuple = field(default=(), repr=False)
    refusal: Impossible | None = field(default=None, repr=False)  # why this is only the nearest, where it is

    @property
    def traded(self):
        """Names of the demands that were given up; empty when all hold."""
        return tuple(came.demand.name for came in self.demands if came.traded)

    @property
    def words(self):
        """What moved and what came of it, in one paragraph."""
        moved = [
            f"{name} {_trim(a)} → {_trim(b)} {_short(unit)}"
            for name, (a, b, unit) in self.moves.items()
            if _trim(a) != _trim(b)
        ]
        said = [f"{listing(moved)}." if moved else "Nothing needs to move."]
        held = [_plain_name(came.demand) for came in self.demands if not came.traded]
        if held:
            said.append(f"{listing(held)} as asked.")
        said += [f"Given up: {_gave_up(came)}." for came in self.demands if came.traded]
        return " ".join([*said, *self.notes])

    def to_frame(self):
        """Return a DataFrame: what moved, then each demand; unit, asked, before, after, given up."""
        rows = [(name, unit, "moved", a, b, False) for name, (a, b, unit) in self.moves.items()]
        rows += [(c.demand.name, c.demand.unit, c.demand.words, c.before, c.after, c.traded) for c in self.demands]
        return page.frame(["", "unit", "asked", "before", "after", "given up"], rows, index=True)

    def sources(self):
        """Return what the answer rests on."""
        found = dict.fromkeys(key for part in self.formula.parts for key in part.keys)
        keys = dict.fromkeys(self.formula.ingredients[key]["source"] for key in found)
        return [source(key) for key in keys if key] + ["how a change is measured: assumed here"]

    def _repr_html_(self):
        moves = [[name, _trim(a), _trim(b), unit] for name, (a, b, unit) in self.moves.items()]
        html = f"<p>{page.escape(self.words)}</p>"
        html += page.table(["moved", "before", "after", ""], moves) if moves else ""
        rows = [
            [
                _plain_name(c.demand),
                c.demand.words,
                _shown(c.before),
                _shown(c.after),
                "given up" if c.traded else "holds",
            ]
            for c in self.demands
        ]
        return html + page.table(["must hold", "asked", "before", "after", ""], rows)


def solve(formula, demands=None, hold=(), free=None, limits=None, prefer="smallest", also=None, nearest=False):
    """Return Solved: the formula nearest to this one in which every demand holds.

    demands {quantity, ingredient, "piece" or "topping": target or (low, high), None for an open end}, in the
    quantity's own unit [% of flour; g; min]; "dough_class": a class; "water_activity" and
    "time_to_double" are those of kit.process. hold: names that stay where they are.
    free: ingredients or kinds that may move (when None, all of the dough but flour, salt, yeast and spice, up to
    what usual_ranges.csv still believes; where a hydration is asked for, water goes first and other liquids only when
    it is used up). limits {name: (low, high)}: never given up for a demand. prefer: smallest (sum of |change| /
    baseline), cheapest (cost per piece, within usual_ranges.csv or what is given by name) or fewest (ingredients
    touched). also {name: function of a formula, or {ingredient: figure per kg}, or the prices that were read}, the
    last two giving "cost per piece" of what is bought for it, losses made good. nearest: where not all can
    hold, return what is nearest, its `refusal` saying why not, in place of raising it.
    Raises Impossible, with a smallest contradiction and the nearest formula; AmountError, UnknownName, FormulaError.

    Linear programme (HiGHS); quotients of linear sums are exact, the rest by steps along its slopes, checked.

    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 30, "egg": 20, "butter": 15})
    >>> print(solve(bun, {"butter": 25}, hold=["total_hydration"], free=["water"]).words)
    butter 15 → 25 % and water 30 → 28.21 %. butter and total hydration as asked.
    >>> solve(bun, {"egg": 70}, hold=["total_hydration"], free=["water"], nearest=True).refusal.conflict
    ('egg', 'total_hydration')
    """
    only_one(formula, "to start from", "choose one of them")
    if prefer not in PREFERENCES:
        do = did_you_mean(prefer, PREFERENCES)
        raise UnknownName(must("prefer", f"one of {listing(PREFERENCES, 'or')}", repr(prefer), do))
    problem = _problem(formula, demands or {}, hold, free, limits or {}, prefer, also or {})
    best = problem.reach(problem.demands)
    if best is not None and problem.behind:
        stayed = replace(problem, frozen=problem.frozen | problem.behind).reach(problem.demands)
        if stayed is not None and (prefer == "cheapest" or problem.moved(stayed) <= _STAYS * problem.moved(best)):
            best = stayed
    if best is None:
        refusal = _impossible(problem)
        if nearest and refusal.nearest is not None:
            return replace(refusal.nearest, refusal=refusal)
        raise refusal
    return problem.solved(best)


# what is asked


def _problem(formula, demands, hold, free, limits, prefer, also):
    if isinstance(hold, str):
        hold = (hold,)
    if isinstance(free, str):
        free = (free,)
    for what, given in (("demands", demands), ("limits", limits), ("also", also)):
        if not isinstance(given, dict):
            do = "write {name: what it must be}"
            raise AmountError(must(what, "names with what each must be", repr(given), do))
    asked = [(name, value, "wanted") for name, value in demands.items()]
    asked += [(name, ..., "held") for name in hold] + [(name, value, "limit") for name, value in limits.items()]
    if not asked:
        raise AmountError(
            must("demands", "at least one thing that must hold", "none", "name a quantity and its target")
        )
    also = {name: getattr(what, "per_kg", what) for name, what in also.items()}
    if prefer == "cheapest" and not isinstance(also.get("cost"), dict):
        do = 'give also={"cost": {ingredient: price per kg}}'
        raise AmountError(must("cheapest", "told what things cost", "no prices", do))
    known = _quantities(also)
    used = {known.get(plain(name)) for name, _, _ in asked}
    also = {name: function for name, (function, _) in PROCESS.items() if name in used} | also
    wet = free is None and bool({"hydration", "total_hydration"} & used)
    free_of_charge = all(callable(what) for what in also.values())  # else water not in it may have no price
    variables, frozen = _variables(formula, asked, free, known, wet and free_of_charge)
    first, behind = _liquids(formula, variables, asked) if wet else ((), ())
    found = model(formula, variables, also)
    made, names = [], {}
    for written, value, why in asked:
        demand = _demand(found, variables, written, value, why, known)
        if demand.name in names:
            do = "say once what must hold of it"
            raise AmountError(must(demand.name, "asked for once", f"{names[demand.name]} and {why}", do))
        names[demand.name] = why
        made.append(demand)
    if prefer == "cheapest":
        given = [(name, value) for name, value, _ in asked if plain(name) not in known]
        made += _usual(formula, variables, given, set(names))
    return _Problem(found, tuple(made), prefer, frozen, also, frozenset(first), frozenset(behind))


def _quantities(also):
    """Return {what a baker writes: the quantity's name}."""
    known = {plain(name): name for name in (*QUANTITIES, *PROCESS, "dough_class")}
    for name, what in also.items():
        full = name if callable(what) else f"{name}_per_piece"
        known |= {plain(name): full, plain(full): full}
    return known


def _variables(formula, asked, free, known, water=False):
    """Return the variables there are, and which of them are frozen: named in a limit, but not free.

    water: whether it may come in where the dough has none.
    """
    wanted = [variable(formula, name) for name, _, why in asked if plain(name) not in known and why == "wanted"]
    others = [variable(formula, name) for name, _, why in asked if plain(name) not in known and why != "wanted"]
    found = list(wanted)
    salted = any(known.get(plain(name)) == "salt" for name, _, _ in asked)

    def taken(some):
        return {key for each in some for key in each.keys}

    if free is None:
        opened = [each for each in others if each.place != "dough" or not each.flour]
        found += [each for each in opened if not _same(each, found)]
        wet = [formula.ingredients.of_kind("water")[0]] if water and not formula.of_kind("water") else []
        for key in (*formula.dough_keys, *wet):
            if ("dough", key) not in taken(found) and _moves_unasked(formula, key, salted):
                each = variable(formula, key)
                found.append(replace(each, most=max(each.now, min(each.most, _highest(formula, key)))))
    else:
        found += [each for each in (variable(formula, name) for name in free) if not _same(each, wanted)]
    if any(each.flour for each in found):
        mine = taken(found)
        for key in formula.dough_keys:
            if ("dough", key) not in mine and formula.ingredients[key]["kind"] == "flour":
                found.append(variable(formula, key))
    frozen = [each for each in others if not _same(each, found)]
    return (*found, *frozen), {len(found) + n for n in range(len(frozen))}


def _moves_unasked(formula, key, salted=False):
    """Return whether an ingredient may move when nobody named it: what seasons, leavens or is flour stays."""
    row = formula.ingredients[key]
    return row["kind"] != "flour" and row["group"] not in _SEASONS or (salted and row["kind"] == "salt")


def _liquids(formula, variables, asked):
    """Return the positions of water and of the other liquids of the dough that nobody named."""
    named = {plain(name) for name, _, _ in asked}
    places = {"water": [], "": []}
    for n, each in enumerate(variables):
        rows = [formula.ingredients[key] for key in each.shares]
        poured = each.place == "dough" and rows and all(row["counts_as_liquid"] == "yes" for row in rows)
        if poured and not named & {word for row in rows for word in (row["kind"], plain(row["name"]))}:
            places["water" if rows[0]["kind"] == "water" else ""].append(n)
    return places["water"], places[""]


def _range(part, names):
    """Return the first row of usual_ranges.csv that one of these names has in a part; None when there is none."""
    rows = [row for row in table("usual_ranges").rows if row["part"] == part and row["what"] in names]
    return next((row for row in sorted(rows, key=lambda row: names.index(row["what"]))), None)


def _highest(formula, key):
    """Return the percentage beyond which a line of the dough is surely a slip of the pen, by usual_ranges.csv."""
    row = _range("dough", (formula.ingredients[key]["name"], formula.ingredients[key]["kind"]))
    return float(row["hard_high_percent"]) if row and row["hard_high_percent"] else np.inf


def _usual(formula, variables, given, asked):
    """Yield the Demands that keep the cheapest answer usual: a kind in a part, a line that has a row of its own, water.

    Where the formula lies outside usual_ranges.csv its own figure bounds, as does a figure given by name; what has no
    row stays. given [(name, value)]; asked: the quantities that were asked for, which are free of it.
    """
    for name in [name for name in ("hydration", "total_hydration") if name not in asked]:
        row, now = _range("dough", (name.replace("_", " "),)), measure(formula, name)
        low, high = min(float(row["low_percent"]), now), max(float(row["high_percent"]), now)
        yield _as_usual(name.replace("_", " "), QUANTITIES[name].unit, low, high, (name, low, high))
    kinds = {part.name: part.kind for part in formula.parts} | {"dough": "dough"}
    groups = {}
    for n, each in enumerate(variables):
        rows = [formula.ingredients[key] for key in each.shares]
        words = {rows[0]["kind"]: "kind"} if rows else {each.name: ""}  # else a mass per piece
        if len(rows) == 1 and _range(kinds[each.place], (rows[0]["name"],)):
            words[rows[0]["name"]] = "name"
        for word, column in words.items():
            groups.setdefault((each.place, word, column), []).append(n)
    bounds = [(variable(formula, name), value) for name, value in given if value is not ...]
    for (place, word, column), positions in groups.items():
        some = [variables[n] for n in positions]
        now, row = some[0].now, _range(kinds.get(place), (word,))
        if column:
            bowls = formula.bowls if place == "dough" else (formula.part(place),)
            lines = [line for bowl in bowls for line in zip(bowl.keys, bowl.percentages, strict=True)]
            now = float(sum(value for key, value in lines if formula.ingredients[key][column] == word))
        fixed = now - sum(each.now for each in some)
        low, high = (float(row["low_percent"]), float(row["high_percent"])) if row else (now, now)
        mine = {key for each in some for key in each.keys}
        ends = [end for each, value in bounds if each.keys & mine for end in _band(each.name, value, each.unit)]
        ends = [end for end in ends if np.isfinite(end)] + [now]
        low, high = min(low, *ends), max(high, *ends)
        shown = f"{place} {word}" if place not in ("dough", "pieces") else word
        yield _as_usual(shown, some[0].unit, low, high, (tuple(positions), low - fixed, high - fixed))


def _as_usual(shown, unit, low, high, row):
    words = _asked(shown, low, high, unit) + (" as is usual" if low < high else " as it is, for want of what is usual")
    return Demand(f"usual {shown}", unit, low, high, ((row,),), "usual", words)


def _same(each, some):
    return any(each.keys == other.keys for other in some)


def _demand(found, variables, written, value, why, known):
    name = known.get(plain(written))
    if name == "dough_class":
        return _class(found.formula, value, why)
    if name:
        unit, now = found.units[name], (lambda: found.quantity(name).value)
        what, shown = name, name.replace("_", " ")
    else:
        wanted = variable(found.formula, written)
        place = next(n for n, each in enumerate(variables) if each.keys == wanted.keys)
        unit, what, shown = wanted.unit, place, wanted.name
        name, now = wanted.name, (lambda: wanted.now)
    if value is ...:
        low = high = float(now())
    else:
        low, high = _band(shown, value, unit)
    return Demand(name, unit, low, high, (((what, low, high),),), why, _asked(shown, low, high, unit))


def _band(name, value, unit):
    if isinstance(value, tuple | list):
        if len(value) != 2:
            do = "write (low, high), None for an open end"
            raise AmountError(must(name, "a target or a band of two figures", repr(value), do))
        low = -np.inf if value[0] is None else _number(name, value[0], unit)
        high = np.inf if value[1] is None else _number(name, value[1], unit)
        if low > high:
            do = f"turn it round: ({_trim(high)}, {_trim(low)})"
            raise AmountError(must(name, "a band from low to high", f"{_trim(low)} to {_trim(high)}", do))
        if low == -np.inf and high == np.inf:
            raise AmountError(must(name, "a band with at least one end", "none", "give a low or a high figure"))
        return low, high
    number = _number(name, value, unit)
    return number, number


def _number(name, value, unit):
    if isinstance(value, str):
        value = units.read(value, "mass" if unit == "g" else "percentage", name)
    try:
        number = float(value)
    except (TypeError, ValueError):
        number = np.nan
    if isinstance(value, bool) or not np.isfinite(number):
        raise AmountError(must(name, "a number", repr(value), "give a target or a band (low, high)"))
    return number


def _class(formula, value, why):
    names, fat, sugar = own_steps()
    if value is ...:
        value = dough_class(formula).name
    if plain(value) not in names:
        raise UnknownName(
            must("dough class", f"one of {listing(names, 'or')}", repr(value), did_you_mean(value, names))
        )
    step = names.index(plain(value))
    last = step + 1 == len(names)
    tops = [np.inf if last else begins[step + 1] - _BELOW for begins in (fat, sugar)]
    below = (("fat", -np.inf, tops[0]), ("sugars", -np.inf, tops[1]))
    ways = [below]
    if step:
        ways = [
            (("fat", fat[step], tops[0]), ("sugars", -np.inf, tops[1])),
            (("fat", -np.inf, tops[0]), ("sugars", sugar[step], tops[1])),
        ]
    return Demand("dough_class", "", np.nan, np.nan, tuple(ways), why, f"dough class {names[step]}")


def _asked(shown, low, high, unit):
    unit = _short(unit)
    if low == high:
        return f"{shown} {_trim(low)} {unit}".rstrip()
    if high == np.inf:
        return f"{shown} {_trim(low)} {unit} or more".replace("  ", " ")
    if low == -np.inf:
        return f"{shown} {_trim(high)} {unit} or less".replace("  ", " ")
    return f"{shown} {_trim(low)} to {_trim(high)} {unit}".rstrip()


def _short(unit):
    return "%" if unit.startswith("%") else unit


def _trim(value):
    """Return a figure of two digits without idle noughts: 36, 33.12."""
    return without_zeros(figure(value, 2))


def _plain_name(demand):
    return demand.name.replace("_", " ")


def _shown(value):
    return value if isinstance(value, str) else _trim(value)


def _gave_up(came):
    return f"{_plain_name(came.demand)} is {_shown(came.after)} ({came.demand.words} was asked)"


# how it is reached


@dataclass(frozen=True, eq=False)
class _Problem:
    model: object
    demands: tuple
    prefer: str
    frozen: set
    also: dict
    first: frozenset = frozenset()  # positions of water, which gives way first
    behind: frozenset = frozenset()  # of the liquids that stay while they can

    def reach(self, demands, elastic=False, aim=None):
        """Return the variables' values at which these demands hold, None when none do; the best of all ways.

        elastic: give up as little as can be instead. aim: (quantity or variable, sign) to make as small as it
        goes in place of what is preferred.
        """
        best = None
        for ways in itertools.product(*(demand.ways for demand in demands)):
            rows = [(n, *row) for n, way in enumerate(ways) for row in way]
            some = Search(self, demands, rows, elastic, aim).run()
            if some is not None and (best is None or some[0] < best[0]):
                best = some
        return None if best is None else best[1]

    def moved(self, values):
        """Return the sum of |change| / baseline, without the water that goes first."""
        now = self.model.now
        changes = np.abs(values - now) / np.maximum(np.abs(now), FLOOR)
        return float(np.delete(changes, list(self.first)).sum())

    def feasible(self, demands):
        """Return whether these demands can hold together."""
        return self.reach(demands) is not None

    def solved(self, values):
        """Return Solved at these values, with every demand measured on the formula itself."""
        formula = self.model.formula
        variables = self.model.variables
        values = [v.now if abs(x - v.now) <= STILL else float(x) for v, x in zip(variables, values, strict=True)]
        after = changed(formula, variables, values)
        moves = {v.name: (v.now, x, v.unit) for v, x in zip(variables, values, strict=True) if x != v.now}
        asked = [demand for demand in self.demands if demand.asked != "usual"]
        sides = [model(f, (), self.also) for f in (formula, after)]
        came = tuple(self._came(demand, sides, values) for demand in asked)
        notes = [*self._gave_way(values), *self._stopped(values)]
        for demand in asked:
            missing = at_least(after, demand.name)
            if missing:
                of = listing(dict.fromkeys(name for name, _ in missing))
                notes.append(f"{_plain_name(demand).capitalize()} is at least that: the tables do not know it of {of}.")
        bought = [d for d in self.demands if d.name.removesuffix("_per_piece") in self.model.columns]
        named = [_plain_name(demand) for demand in bought] or ["cost per piece"] * (self.prefer == "cheapest")
        if named and (out := unspelled(after)):
            of = listing(f"{_trim(g)} g of {kind}" for kind, g in out.items())
            notes.append(f"{listing(named).capitalize()} is at least that: {of} on a piece is not spelled out.")
        return Solved(after, formula, moves, came, self.prefer, tuple(notes))

    def _gave_way(self, values):
        """Yield why other liquids moved, when they did."""
        variables = self.model.variables
        moved = [variables[n].name for n in self.behind if values[n] != variables[n].now]
        if moved:
            left = any(values[n] > variables[n].least + _GIVEN_UP for n in self.first)
            used = "Water is used up" if any(variables[n].now for n in self.first) else "No water is in the dough"
            why = "Water alone cannot do it" if left else used
            yield f"{why}, so {listing(moved)} {'gives' if len(moved) == 1 else 'give'} way too."

    def _stopped(self, values):
        """Yield what stopped at the end of what is usual, when the cheapest was asked for."""
        said = []
        for demand in self.demands:
            if demand.asked == "usual" and demand.low < demand.high:
                ((what, low, high),) = demand.ways[0]
                value, now = (self.model.quantity(what, v).value for v in (np.array(values), self.model.now))
                for end, bound in ((low, demand.low), (high, demand.high)):
                    if abs(value - end) < _GIVEN_UP < abs(value - now):
                        said.append(f"{demand.name.removeprefix('usual ')} {_trim(bound)} %")
        if said:
            yield f"{listing(said).capitalize()}: the end of what is usual; a limit of your own goes further."

    def _came(self, demand, sides, values):
        if demand.name == "dough_class":
            pair = [dough_class(side.formula).name for side in sides]
            return Came(demand, *pair, pair[1] != demand.words.removeprefix("dough class "))
        what = demand.ways[0][0][0]
        if isinstance(what, int):
            pair = self.model.variables[what].now, values[what]
        else:
            pair = [side.quantity(what).value for side in sides]
        off = max(demand.low - pair[1], pair[1] - demand.high, 0.0)
        return Came(demand, *pair, bool(off > _GIVEN_UP))


# when it cannot be


def _impossible(problem):
    """Return the Impossible that says which demands contradict each other, how far each can go, and the nearest."""
    order = {"usual": -1, "limit": 0, "held": 1, "wanted": 2}
    conflict = list(problem.demands)
    for demand in sorted(problem.demands, key=lambda d: order[d.asked]):
        rest = [other for other in conflict if other is not demand]
        if not problem.feasible(rest):
            conflict = rest
    near = problem.reach(problem.demands, elastic=True)
    nearest = None if near is None else problem.solved(near)
    got = " with ".join(demand.words for demand in conflict) + _because(problem, conflict)
    ways = [*_ends(problem, conflict), *_others(problem)]
    do = f"{'; or '.join(ways)}" if ways else "let something else move"
    if nearest is not None:
        gave = listing(_gave_up(came) for came in nearest.demands if came.traded)
        do += f". Nearest, in .nearest: {gave}" if gave else ""
    be = "such that all can hold" if len(conflict) > 1 else "one that can hold"
    return Impossible(must("demands", be, got, do), (demand.name for demand in conflict), nearest)


def _because(problem, conflict):
    """Say what would have to go below what there is; a caller's function is not asked about less than nothing."""
    if any(what in problem.model.functions for demand in conflict for way in demand.ways for what, _, _ in way):
        return ""
    deeper = tuple(
        v if n in problem.frozen else replace(v, least=-v.most) for n, v in enumerate(problem.model.variables)
    )
    found = replace(problem, model=replace(problem.model, variables=deeper)).reach(conflict)
    if found is None:
        return ": nothing that may move can do it"
    said = []
    for each, value in zip(problem.model.variables, found, strict=True):
        if value < each.least - _GIVEN_UP:
            holds = f", where {_trim(each.least)} is in a preferment already" if each.least > 0 else ""
            said.append(f"{each.name} would be {_trim(value)} {_short(each.unit)}{holds}")
    more = "more water than the formula has, " if any(text.startswith("water ") for text in said) else ""
    return f": {more}{listing(said)}" if said else ""


def _ends(problem, conflict):
    """Yield how far each of the demands in conflict can go while all others hold, or if need be the conflict's own."""
    for demand in conflict:
        if demand.asked == "usual":
            name, ends = demand.name.removeprefix("usual "), f"{_trim(demand.low)} to {_trim(demand.high)}"
            leave = f"let {name} leave {ends} {_short(demand.unit)} by a limit of its own"
            yield leave if demand.low < demand.high else f"give {name} a limit of its own"
            continue
        if len(demand.ways) > 1:
            continue
        rest = [other for other in problem.demands if other is not demand]
        if not problem.feasible(rest):
            rest = [other for other in conflict if other is not demand]
        what = demand.ways[0][0][0]
        for sign, word in ((-1, "at most"), (1, "at least")):
            found = problem.reach(rest, aim=(what, sign))
            if found is None:
                continue
            end = problem.model.quantity(what, found).value
            if (end < demand.low - HELD) if sign < 0 else (end > demand.high + HELD):
                yield f"{_plain_name(demand)} can be {word} {_trim(end)} {_short(demand.unit)}".rstrip()


def _others(problem):
    """Yield what one more ingredient would have to become, for the two that would move least."""
    formula, found = problem.model.formula, []
    taken = {key for each in problem.model.variables for key in each.keys}
    for key in formula.dough_keys:
        if ("dough", key) in taken or not _moves_unasked(formula, key):
            continue
        each = variable(formula, key)
        wider = replace(problem, model=model(formula, (*problem.model.variables, each), problem.also))
        values = wider.reach(problem.demands)
        if values is None or abs(values[-1] - each.now) <= STILL:
            continue
        near = wider.reach(problem.demands, aim=(len(values) - 1, 1 if values[-1] > each.now else -1))
        if near is not None:
            found.append((abs(near[-1] / each.now - 1), each.name, near[-1]))
    for _, name, value in sorted(found)[:2]:
        yield f"let {name} go to {_trim(value)} %"
