"""Before the bake: trials planned so that the evidence can decide, and what a plan can and cannot show."""

import datetime
import hashlib
import itertools
import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from .. import page
from ..balance.accounts import only_one
from ..errors import AmountError, FormulaError, must
from ..formula import Formula, scale
from ..formula.varying import LEAST
from ..units import read
from ..words import capital, figure, kept, listing, nearest, one_of, plain, plural
from .bakes import Scatter, bakes_of, repeat_scatter
from .comparing import described
from .effects import Levels, Surface, _factorial, _scheffe, _with_others, least_squares
from .fields import TrialError, date_of
from .records import Trial
from .statistics import FEWEST, smallest_effect

KINDS = ("pairs", "screening", "factorial", "central composite", "simplex lattice", "simplex centroid")
MIXTURES = KINDS[4:]
MOST = 40  # bakes: more are never baked as planned
ROTATABLE = math.sqrt(2)  # how far star bakes lie from the middle, of two factors: as far as the corners
KNOWN = 0.02  # share to which salt must be known for a batch to be an honest test


@dataclass(frozen=True)
class Factor:
    """One thing that a plan changes: its name, where `vary` finds it, its unit, what it is now, its low and high."""

    name: str
    path: tuple
    unit: str
    now: float
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class PlannedBake:
    """One bake of a plan: its day and turn from 1, the code written on the tray, what it is, its formula."""

    day: int
    turn: int
    code: int
    what: str
    control: bool
    formula: Formula = field(repr=False)
    weighed_differently: dict = field(repr=False)  # (part, ingredient): (g of the control, g of this bake)


@dataclass(frozen=True, eq=False)
class Plan:
    """Trials planned: bakes in the order they are baked, what they can show, a page for the wall."""

    formula: Formula = field(repr=False)  # the control
    kind: str
    factors: tuple
    days: int
    bakes: tuple = field(repr=False)
    levels: Levels = field(repr=False)
    formulas: Formula = field(repr=False)  # Formulas: a formula a bake, as `vary` makes them
    field: str
    scatter: object  # Scatter of the kitchen's repeats, None without
    smallest: float | None  # smallest difference seen with 80 % power, in SD of repeats; None without repeats
    flour: float  # of each batch [g]
    least_flour: float | None  # that the scale can weigh honestly [g]
    scale_step: float  # [g]
    seed: int

    @property
    def smallest_in_unit(self):
        """The smallest difference it would see [unit of the field]; None without the kitchen's repeats."""
        return None if None in (self.scatter, self.smallest) else self.smallest * self.scatter.value

    @property
    def sentences(self):
        """What the plan can and cannot show, in words."""
        return tuple(_sentences(self))

    def to_frame(self):
        """Return a DataFrame: day, turn, code, bake, whether it is the control, and the factors' levels."""
        rows = [(b.day, b.turn, b.code, b.what, b.control, *row)
                for b, row in zip(self.bakes, self.levels.real.tolist(), strict=True)]  # fmt: skip
        levels = (f"{f.name}, {f.unit}" for f in self.factors)
        return page.frame(["day", "turn", "code", "bake", "control", *levels], rows)

    def table(self):
        """Return the bakes in their order as HTML."""
        rows = [[f"day {b.day}, {b.turn}", str(b.code), b.what] for b in self.bakes]
        strong = [n for n, b in enumerate(self.bakes) if b.turn == 1]
        return page.table(["bake", "code", "what"], rows, strong=strong)

    def _repr_html_(self):
        return self.table() + "".join(f"<p>{page.escape(words)}</p>" for words in self.sentences)

    def page(self, first=None, every=7, paper="A4"):
        """Return the plan as a whole HTML page for the wall; first: date of the first day, every [days] the next."""
        return _page(self, None if first is None else _dates(self, first, every), paper)

    def trials(self, first, every=7, predicted=None, hypothesis="", **entries):
        """Return the bakes as Trials to be saved in a book and filled in.

        first: date of the first day, or a date a day; every [days] the next; predicted {what or code: {field: value or
        (value, low, high)}}, kept where the book lets nobody change it after the bake; hypothesis in words; entries: of
        every trial, such as baker, parent, invented, question. Raises TrialError, UnknownName.
        """
        dates, predicted = _dates(self, first, every), dict(predicted or {})
        known = {bake.what for bake in self.bakes} | {bake.code for bake in self.bakes}
        if odd := next((each for each in predicted if each not in known), None):
            be = f"one of {listing(dict.fromkeys(b.what for b in self.bakes), 'or')}"
            raise TrialError(must("predicted", be, repr(odd), "name a bake or its code"))
        entries = {"question": _question(self), "invented": self.formula.invented} | entries
        made = []
        for bake in self.bakes:
            foreseen = predicted.get(bake.code, predicted.get(bake.what, {}))
            notes = "\n".join(filter(None, [
                f"Plan: {self.kind}, day {bake.day} of {self.days}, turn {bake.turn}, code {bake.code}: {bake.what}.",
                hypothesis and f"Hypothesis before the bake: {hypothesis}", str(entries.get("notes", "")),
            ]))  # fmt: skip
            trial = Trial.of(f"{bake.what}, code {bake.code}", dates[bake.day - 1], formula=bake.formula,
                             planned_flour_weighed=self.flour, mix=f"mix {bake.turn}",
                             **(entries | {"notes": notes}))  # fmt: skip
            for name, value in foreseen.items():
                trial = trial.with_entry(f"predicted {name}", value)
            made.append(trial)
        return tuple(made)

    def values(self, given, name=None):
        """Return one value a bake [unit of the field], NaN where none is.

        given: {code: value}, or Trials that were planned so, or a figure a bake in their order; name: the field that
        is read from Trials. Raises TrialError for a bake that is not of this plan, AmountError.
        """
        found = np.full(len(self.bakes), np.nan)
        if isinstance(given, Mapping) or hasattr(given, "items"):
            place = {bake.code: n for n, bake in enumerate(self.bakes)}
            for code, value in given.items():
                if code not in place:
                    raise TrialError(must("code", "of a bake of this plan", repr(code)[:40], "look on the plan's page"))
                found[place[code]] = _measured(value, code)
            return found
        if not np.iterable(given) or isinstance(given, str):
            raise AmountError(must("values", "{code: value}, Trials or figures", repr(given)[:40], "bake first"))
        given = list(given)
        if any(isinstance(each, Trial) for each in given):
            return self._from_trials(given, name or self.field)
        if len(given) != len(found):
            do = "one a bake in the plan's order, or {code: value}"
            raise AmountError(must("values", f"{len(found)} figures", len(given), do))
        return np.array([_measured(value, bake.code) for value, bake in zip(given, self.bakes, strict=True)])

    def _from_trials(self, trials, name):
        """Take each day's bakes for the first day of the plan that they fit, and each bake by its planned formula."""
        found, by_date, left = np.full(len(self.bakes), np.nan), defaultdict(list), list(range(1, self.days + 1))
        for bake in bakes_of(trials):
            recipe = bake.trials[0].planned_formula
            by_date[bake.date].append((recipe and recipe.fingerprint, bake))
        for date, some in sorted(by_date.items()):
            for day in left:
                places = [n for n, b in enumerate(self.bakes) if b.day == day]
                taken = {}
                for fingerprint, bake in some:
                    fits = (n for n in places if n not in taken and self.bakes[n].formula.fingerprint == fingerprint)
                    taken[next(fits, None)] = bake
                if None not in taken:
                    break
            else:
                be, do = "those of one day of the plan", "leave out what was not planned here"
                raise TrialError(must(f"bakes of {date}", be, plural(len(some), "bake"), do))
            left.remove(day)
            for n, bake in taken.items():
                found[n] = math.nan if (mean := bake.mean(name)) is None else mean
        return found


def plan_trials(formula, changes, kind=None, days=None, field="height", trials=None, centre=None, part="topping",
                flour=None, scale_step=1.0, seed=1):  # fmt: skip
    """Return the Plan of bakes that decides about changes to a formula, the control in every day's session.

    changes: {thing: new value} for pairs, A against B on each day; [{thing: value}, ...] for screening variants;
    {thing: (low, high)} of 2 or 3 things for a factorial, of 2 for a "central composite"; {thing: lowest share [% of
    the three together]} of three things of a part for a "simplex lattice" or "simplex centroid". Things as `vary`
    takes them [% of flour, or of the part's base], {"topping": {"sugar": 95}} and {"pieces": {"topping": 24}} [g] too.
    days: sessions, else 4 pairs, 1 of screening, 2 else; field: the answer to judge by; trials: whose repeats tell the
    scatter, or that Scatter; centre: centre bakes a day; flour: of a batch [g]; scale_step: what the scale reads [g];
    seed: of the lot.
    Raises FormulaError, AmountError, UnknownName.

    >>> bun = Formula.from_weights("bun", {"flour": 1000, "milk": 560, "butter": 180, "salt": 16})
    >>> plan = plan_trials(bun, {"butter": 25})
    >>> [bake.what for bake in plan.bakes][:4], round(plan.smallest, 1)
    (['butter 25 %', 'control', 'control', 'butter 25 %'], 3.0)
    """
    only_one(formula, "to plan trials of", "plan for one of them")
    kind = one_of("kind", _usual_kind(changes) if kind is None else kind, KINDS)
    days = {"pairs": FEWEST, "screening": 1}.get(kind, 2) if days is None else days
    centre = (3 if kind == "central composite" else 0) if centre is None else centre
    for name, value, least in (("days", days, 1), ("centre", centre, 0), ("seed", seed, 0)):
        if not isinstance(value, (int, np.integer)) or isinstance(value, bool) or value < least:
            raise AmountError(must(name, f"a whole number, {least} or more", repr(value), "count them"))
    described(str(field))
    factors, points = _points(formula, changes, kind, centre, part)
    sessions = _sessions(kind, factors, points, days)
    if (many := sum(map(len, sessions))) > MOST:
        raise AmountError(must("plan", f"at most {MOST} bakes", f"{many}", "take fewer days, levels or factors"))
    order = [(day, place) for day, some in enumerate(sessions, 1) for place in _drawn(some, day, kind, days, seed)]
    real = np.array([place for _, place in order])
    levels = _levels(kind, factors, real, [day for day, _ in order])
    formulas = _vary(formula, kind, factors, real, part)
    step = read(scale_step, "mass", "scale step")
    if not step > 0:
        raise AmountError(must("scale step", "a mass above 0 g", f"{step:g} g", "look at the scale's last digit"))
    least = _least_flour(formula, step)
    if flour is None:
        flour = max(scale(formula).flour if formula.pieces.count else 0.0, math.ceil((least or 1000) / 100) * 100)
    flour = read(flour, "mass", "flour")
    made, control = {}, scale(formula, flour=flour)
    codes = _lot(range(100, 1000), f"{seed} codes")
    bakes = []
    for n, (day, place) in enumerate(order):
        if place not in made:
            own = _without_nothing(formulas[n])
            is_control = own.fingerprint == _without_nothing(formula).fingerprint
            own = formula if is_control else own
            made[place] = is_control, own, _what(kind, factors, place, is_control), _differently(control, own)
        is_control, own, what, grams = made[place]
        turn = 1 + sum(other == day for other, _ in order[:n])
        bakes.append(PlannedBake(day, turn, codes[n], what, is_control, own, grams))
    if all(bake.control for bake in bakes):
        got = listing(f"{f.name} {f.high:g} {f.unit.split()[0]}" for f in factors)
        raise AmountError(must("changes", "other than the formula as it is", got, "change something"))
    scatter = trials if trials is None or isinstance(trials, Scatter) else repeat_scatter(trials, field)
    return Plan(formula, kind, factors, int(days), tuple(bakes), levels, formulas, field, scatter,
                _smallest(levels, kind, scatter), float(flour), least, step, seed)  # fmt: skip


def smallest_by_days(plan, most=10):
    """Return [(bakes, smallest difference in SD of repeats)] of the same plan on 1 to so many days, up to 40 bakes.

    >>> bun = Formula.from_weights("bun", {"flour": 1000, "milk": 560, "butter": 180, "salt": 16})
    >>> [(bakes, round(sd, 1)) for bakes, sd in smallest_by_days(plan_trials(bun, {"butter": 25}), 4)]
    [(4, 16.3), (6, 4.6), (8, 3.0)]
    """
    found, on = [], np.array([bake.day for bake in plan.bakes])
    by_day = [plan.levels.real[on == day] for day in range(1, plan.days + 1)]
    for days in range(1, most + 1):
        some = [by_day[day % len(by_day)] for day in range(days)]
        real = np.vstack(some)
        levels = _levels(plan.kind, plan.factors, real, np.repeat(np.arange(days), [len(s) for s in some]))
        smallest = _smallest(levels, plan.kind, None)
        if smallest is not None and len(real) <= MOST:
            found.append((len(real), smallest))
    return found


# what is changed


def _usual_kind(changes):
    if isinstance(changes, Mapping):
        values = [v for value in changes.values() for v in (value.values() if isinstance(value, Mapping) else (value,))]
        return "factorial" if values and all(np.ndim(value) == 1 for value in values) else "pairs"
    return "screening"


def _flat(changes):
    """Return {path: value} of changes as `vary` takes them."""
    if not isinstance(changes, Mapping) or not changes:
        do = "write it like {'butter': 25}"
        raise AmountError(must("changes", "{thing: value}, one or more", repr(changes)[:60], do))
    found = {}
    for name, value in changes.items():
        inner = value.items() if isinstance(value, Mapping) else ((None, value),)
        found |= {((name,) if each is None else (name, each)): v for each, v in inner}
    odd = next((path for path in found if len(path) == 1 and plain(path[0]) in ("piece", "pieces")), None)
    if odd or not found:
        do = "write it like {'butter': 25} or {'pieces': {'topping': 24}}"
        raise AmountError(must("changes", "things with their values", repr(changes)[:60], do))
    return found


def _points(formula, changes, kind, centre, part):
    """Return the Factors and the places (levels of each) that a whole plan holds beside the control."""
    if kind in MIXTURES:
        return _mixture(formula, changes, kind, part)
    if kind == "screening":
        listed = changes if isinstance(changes, (list, tuple)) and changes else [changes]
        variants = [_flat(each) for each in listed]
    else:
        variants = [_flat(changes)]
    paths = list(dict.fromkeys(path for variant in variants for path in variant))
    if kind in ("pairs", "screening"):
        now = [_now(formula, path) for path in paths]
        variants = [{path: _value(path, value) for path, value in each.items()} for each in variants]
        rows = [tuple(each.get(path, now[n]) for n, path in enumerate(paths)) for each in variants]
        ends = [(now[n], max((row[n] for row in rows), key=lambda v, m=n: abs(v - now[m]))) for n in range(len(paths))]
        return tuple(_factor(path, now[n], *ends[n]) for n, path in enumerate(paths)), rows
    few = (2, 3) if kind == "factorial" else (2,)
    if len(paths) not in few:
        be = f"{listing(few, 'or')} things from low to high"
        raise AmountError(must(kind, be, len(paths), "change one thing in pairs, or leave one as it is"))
    factors = []
    for path, ends in variants[0].items():
        ends = tuple(_value(path, each) for each in ends) if np.ndim(ends) == 1 and len(ends) == 2 else ends
        if not (isinstance(ends, tuple) and len(ends) == 2 and ends[0] < ends[1]):
            raise AmountError(must(_words(path), "(low, high), low below high", repr(ends), "give two levels"))
        factors.append(_factor(path, _now(formula, path), *ends))
    coded = [*itertools.product(*[(-1, 1)] * len(factors))]
    if kind == "central composite":
        coded += [(sign * ROTATABLE * (n == 0), sign * ROTATABLE * (n == 1)) for n in (0, 1) for sign in (-1, 1)]
    coded += [(0,) * len(factors)] * centre
    rows = [tuple(round((f.low + f.high) / 2 + c * (f.high - f.low) / 2, 2) for f, c in zip(factors, row, strict=True))
            for row in coded]  # fmt: skip
    for n, factor in enumerate(factors):
        if (least := min(row[n] for row in rows)) < 0:
            do = f"star bakes lie {ROTATABLE - 1:.0%} of half the step beyond low and high: bring them nearer"
            raise FormulaError(must(factor.name, "0 or more in every bake", f"{least:g} {factor.unit}", do))
    return tuple(factors), rows


def _mixture(formula, changes, kind, part):
    flat, within = _flat(changes), formula.part(part)
    if len(flat) != 3 or any(len(path) != 1 for path in flat):
        do = "write it like {'flour': 30, 'sugar': 25, 'butter': 20}"
        raise AmountError(must(kind, f"the lowest shares of three things of the {within.name}", len(flat), do))
    low = [_value((path[0],), value) for path, value in flat.items()]
    free = 100 - sum(low)
    if min(low) < 0 or free <= 0:
        got = listing(f"{value:g} %" for value in low)
        raise AmountError(must("lowest shares", "0 % or more, and below 100 % together", got, "lower one"))
    now = [within.mass and sum(within.percentage(key) for key in _lines(formula, within, path[0])) for path in flat]
    factors = tuple(
        Factor(path[0], path, "% of the three", 100 * has / sum(now), least, least + free)
        for path, has, least in zip(flat, now, low, strict=True)
    )
    weights = [np.eye(3)[n] for n in range(3)] + [np.eye(3)[[n, m]].mean(0) for n, m in ((0, 1), (0, 2), (1, 2))]
    weights += [np.full(3, 1 / 3)] if kind == "simplex centroid" else []
    return factors, [tuple(least + free * w for least, w in zip(low, row, strict=True)) for row in weights]


def _lines(formula, part, name):
    """Return the ingredients of a part that a kind or a name means. Raises FormulaError when it has none."""
    known = formula.ingredients
    keys = [key for key in part.keys if known[key]["kind"] == plain(name)]
    keys = keys or [key for key in part.keys if key == known.find(name)]
    if not keys or not sum(part.percentage(key) for key in keys):
        has = listing(known[key]["name"] for key in part.keys)
        raise FormulaError(must(name, f"in the {part.name}", has, "a mixture is of what is there"))
    return keys


def _factor(path, now, low, high):
    unit = "g" if plain(path[0]) in ("piece", "pieces") else "% of flour" if len(path) == 1 else "% of its base"
    return Factor(_words(path), path, unit, now, low, high)


def _words(path):
    if len(path) == 1:
        return plain(path[0])
    where = "of a piece" if plain(path[0]) in ("piece", "pieces") else f"in the {path[0]}"
    return f"{plain(path[1])} {where}"


def _value(path, written):
    kind = "mass" if plain(path[0]) in ("piece", "pieces") and len(path) == 2 else "percentage"
    value = read(float(written) if isinstance(written, np.number) else written, kind, _words(path))
    if value < 0:
        do = "leave it out with 0"
        raise FormulaError(must(_words(path), "0 or more", f"{value:g} {'g' if kind == 'mass' else '%'}", do))
    return value


def _now(formula, path):
    """Return what a path is in the formula [% or g]. Raises UnknownName."""
    if plain(path[0]) in ("piece", "pieces"):
        return float(getattr(formula.pieces, plain(path[1]), 0.0))
    known = formula.ingredients
    parts = formula.bowls if len(path) == 1 else (formula.part(path[0]),)
    named = plain(path[-1])
    key = None if named in known.kinds else known.find(path[-1])
    return float(sum(v for p in parts for k, v in zip(p.keys, p.percentages, strict=True)
                     if (known[k]["kind"] == named if key is None else k == key)))  # fmt: skip


# the bakes and their order


def _sessions(kind, factors, points, days):
    """Return the places of each day: the control and every variant; corners or stars of a composite, in turn."""
    control = tuple(f.now for f in factors)

    def with_control(some, many=1):
        alike = [place for place in some if np.allclose(place, control, atol=0.005)]
        return [place for place in some if place not in alike] + [control] * max(many, len(alike))

    if kind == "central composite":
        centres = points[8:]
        halves = with_control(points[:4] + centres), with_control(points[4:8] + centres)
        return [halves[day % 2] for day in range(days)]
    if kind == "screening" and days == 1:
        return [with_control(points, 2)]
    return [with_control(points)] * days


def _drawn(places, day, kind, days, seed):
    """Return a day's places in the order drawn by lot; of pairs, one begins as often as the other."""
    if kind == "pairs" and len(places) == 2:
        turned = _lot(range(days), f"{seed} pairs").index(day - 1) < (days + seed % 2) // 2
        return places[::-1] if turned else places
    return [places[n] for n in _lot(range(len(places)), f"{seed} day {day}")]


def _lot(what, words):
    """Return things in an order drawn by lot, the same for the same words on any machine and in any year."""
    return sorted(what, key=lambda each: hashlib.sha256(f"{words} {each}".encode()).digest())


def _levels(kind, factors, real, days):
    low, high = (np.array([getattr(f, end) for f in factors]) for end in ("low", "high"))
    middle, half = (low, high - low) if kind in MIXTURES else ((low + high) / 2, (high - low) / 2)
    half = np.where(half == 0, 1.0, half)  # a thing that stays is refused by whoever asks for its effect
    names, units = tuple(f.name for f in factors), tuple(f.unit for f in factors)
    return Levels(names, units, real, (real - middle) / half, np.asarray(days), middle, half)


def _vary(formula, kind, factors, real, part):
    """Return the Formulas of the bakes, made by one `vary`."""
    changes = {}
    if kind in MIXTURES:
        within, columns = formula.part(part), dict(zip(factors, real.T, strict=True))
        masses = {key: np.full(len(real), float(within.percentage(key))) for key in within.keys}
        whole = sum(f.now and sum(within.percentage(k) for k in _lines(formula, within, f.name)) for f in factors)
        for factor, shares in columns.items():
            keys = _lines(formula, within, factor.name)
            has = sum(within.percentage(key) for key in keys)
            masses |= {key: whole * shares / 100 * within.percentage(key) / has for key in keys}
        base = sum(m for key, m in masses.items() if not within.base or formula.ingredients[key]["kind"] in within.base)
        if np.any(base <= 0):
            do = f"give {listing(within.base)} a lowest share above 0"
            raise FormulaError(must(f"{within.name} {listing(within.base)}", "above 0 % in every bake", "0 %", do))
        changes[within.name] = {key: 100 * mass / base for key, mass in masses.items()}
    else:
        for factor, column in zip(factors, real.T, strict=True):
            if len(factor.path) == 1:
                changes[factor.path[0]] = column
            else:
                changes.setdefault(factor.path[0], {})[factor.path[1]] = column
    return formula.vary(changes, grid=False)


def _without_nothing(formula):
    """Return a formula without lines of 0 %, which are there for other bakes of the plan."""
    parts = []
    for part in formula.parts:
        lines = {k: float(v) for k, v in zip(part.keys, part.percentages, strict=True) if v > LEAST}
        parts.append(replace(part, keys=tuple(lines), percentages=tuple(lines.values())))
    return replace(formula, parts=tuple(parts))


def _what(kind, factors, place, control):
    if kind in MIXTURES:
        words = ", ".join(f"{f.name} {level:.3g}" for f, level in zip(factors, place, strict=True)) + " %"
    else:
        words = ", ".join(
            f"{f.name} {level:.4g} {f.unit.split()[0]}"
            for f, level in zip(factors, place, strict=True)
            if kind not in ("pairs", "screening") or abs(level - f.now) > LEAST
        )
    return ("control" + f": {words}" * bool(words)) if control else words


def _differently(control, formula):
    """Return {(part, ingredient): (g of the control, g now)} of what is weighed otherwise for the same flour.

    Of a part outside the dough as much is made as for the control's pieces, whatever the dough weighs.
    """
    batch, found = scale(formula, flour=control.flour), {}
    for part in formula.parts:
        lines = [
            {key: float(p.percentage(key)) for p in f.parts if p.name == part.name for key in p.keys}
            for f in (control.formula, formula)
        ]
        keys = list(dict.fromkeys((*lines[0], *lines[1])))
        moved = [key for key in keys if abs(lines[0].get(key, 0.0) - lines[1].get(key, 0.0)) > 1e-4]
        same, pieces = 1.0, [float(getattr(f.pieces, part.kind, 0.0)) for f in (control.formula, formula)]
        if part not in formula.bowls and batch.mass(part.name) and (moved or pieces[0] != pieces[1]):
            moved = keys  # its lines share one base: each may be weighed otherwise
            same = control.mass(part.name) / batch.mass(part.name) * (pieces[1] / pieces[0] if pieces[0] else 1.0)
        for key in moved:
            grams = tuple(f * float(b.grams.get((part.name, key), 0.0)) for b, f in ((control, 1.0), (batch, same)))
            if abs(grams[0] - grams[1]) >= 0.05:
                found[part.name, formula.ingredients[key]["name"]] = grams
    for name in ("dough", "topping", "wash", "filling"):
        grams = tuple(float(getattr(f.pieces, name)) for f in (control.formula, formula))
        if grams[0] != grams[1]:
            found["a piece", name] = grams
    return found


# what the plan can show


def _least_flour(formula, step):
    """Return the flour [g] from which salt, weighed to half a step, is known to 2 %; None without salt."""
    salt = float(formula.of_kind("salt"))
    return step / (2 * KNOWN * salt / 100) if salt else None


def _smallest(levels, kind, scatter):
    """Return the smallest difference seen with 80 % power in SD of repeats; None without repeats."""
    ones = np.ones((len(levels.coded), 1))
    if kind in ("pairs", "screening"):
        alike, place = np.unique(np.round(levels.coded, 6), axis=0, return_inverse=True)
        least = np.bincount(np.ravel(place)).argmax()  # the control is baked most often
        columns = np.column_stack([ones, np.delete(np.eye(len(alike))[np.ravel(place)], least, axis=1)])
        contrast = np.eye(columns.shape[1])[1]
    elif kind == "factorial":
        among = (np.abs(np.abs(levels.coded) - 1) < 1e-6).all(1)
        names, columns = _factorial(levels)
        columns, _ = _with_others(columns, names, levels, among)
        contrast = 2 * np.eye(columns.shape[1])[1]
    elif kind == "central composite":
        columns = Surface._columns(None, levels.coded)
        contrast = 2 * np.eye(6)[1]
    else:
        among = (levels.coded > -1e-6).all(1)
        columns = _scheffe(np.where(among[:, None], levels.coded, 0.0))
        if not among.all():
            columns = np.column_stack([columns, ~among])
        contrast = np.r_[1.0, -1.0, np.zeros(columns.shape[1] - 2)]
    try:
        fit = least_squares(columns, levels.days, levels.coded)
    except AmountError:  # too few bakes for what the plan asks: it shows nothing by itself
        return None
    df = fit.df or (scatter.df if scatter is not None else 0)
    return smallest_effect(df, 1 / math.sqrt(contrast @ fit.covariance @ contrast)) if df else None


def _sentences(plan):
    (what, unit, digits), many = described(plan.field), len(plan.bakes)
    controls = sum(bake.control for bake in plan.bakes)
    yield (f"{capital(plan.kind)}: {plural(many, 'bake')} on {plural(plan.days, 'day')}, {controls} of them the "
           f"control, one or more in every session; order drawn by lot (seed {plan.seed}).")  # fmt: skip
    of = {
        "pairs": "a difference", "screening": "a variant's difference", "factorial": "an effect from low to high",
        "central composite": "a straight effect from low to high",
    }.get(plan.kind, "a difference between two corners")  # fmt: skip
    if plan.smallest is None:
        yield (f"No bake is repeated and no repeats of yours are given: how small {of} it would see can't be told. "
               "Add a day.")  # fmt: skip
    elif plan.scatter is None:
        yield (f"In four of five such trials it would see {of} of {figure(plan.smallest)} SD of your repeats; give "
               f"trials with repeats to have it in {unit}.")  # fmt: skip
    else:
        rests = plan.scatter.words or f", {plan.scatter.df} degrees of freedom"
        yield (f"In four of five such trials it would see {of} of {figure(plan.smallest_in_unit, digits)} {unit} of "
               f"{what}, {figure(plan.smallest)} SD of your repeats ({figure(plan.scatter.value, 2)} {unit}{rests}); a "
               "smaller one may be missed.")  # fmt: skip
    several = len(plan.factors) > 1
    if plan.kind == "pairs" and several:
        yield (f"{capital(listing(f.name for f in plan.factors))} change at once: if it comes out different, nothing "
               "tells which did it; only a factorial separates them.")  # fmt: skip
    if plan.kind in ("pairs", "screening") and plan.days < FEWEST:
        yield (f"On fewer than {FEWEST} days there are dots and a range, and no probability: enough to drop the "
               "hopeless, not to choose.")  # fmt: skip
    if plan.kind == "factorial":
        bent = (np.abs(plan.levels.coded) < 1e-6).all(1).any()
        yield ("It tells the factors apart, and what they do together. " + (
            "Its centre bakes show whether the answer bends between low and high, not which factor bends it." if bent
            else "It doesn't see what happens between low and high: add centre bakes for that."))  # fmt: skip
    if plan.kind == "central composite" and plan.days < 2:
        yield "One day bakes the corners alone: the stars, and with them any bend, come on the second."
    if plan.kind in MIXTURES or plan.kind == "central composite":
        yield "Of what lies outside the region baked it says nothing."
    if plan.least_flour is not None:
        short = plan.flour < plan.least_flour
        yield (f"On a scale that reads {plan.scale_step:g} g, salt is known to 2 % from "
               f"{math.ceil(plan.least_flour):,} g of flour; a batch here has {figure(plan.flour, 0)} g"
               f"{': too little for an honest test' if short else ''}.")  # fmt: skip
    yield f"Judge by {what}, chosen now; whatever else is measured describes."


def _question(plan):
    what = described(plan.field)[0]
    if plan.kind in MIXTURES:
        return f"Which shares of {listing(f.name for f in plan.factors)} serve {what} best?"
    moves = (f"{f.name} {f.low:.4g} to {f.high:.4g} {f.unit.split()[0]}" for f in plan.factors)
    return f"What does {listing(moves)} do to {what}?"


def _dates(plan, first, every):
    if not isinstance(first, (str, datetime.date)):
        dates = [date_of(each) for each in first]
        if len(set(dates)) != plan.days or dates != sorted(dates):
            raise TrialError(must("dates", f"{plan.days}, one after another", len(dates), "give one for each day"))
        return dates
    if not isinstance(every, (int, np.integer)) or isinstance(every, bool) or every < 1:
        raise TrialError(must("every", "a whole number of days, 1 or more", repr(every), "7 for once a week"))
    first = date_of(first)
    return [date_of(first + datetime.timedelta(days=int(every) * n)) for n in range(plan.days)]


def _measured(value, code):
    try:
        made = math.nan if value is None or value == "" else float(value)
    except (TypeError, ValueError):
        made = math.inf
    if math.isinf(made):
        raise AmountError(must(f"value of {code}", "a finite number", repr(value)[:40], "leave a lost bake empty"))
    return made


# the page for the wall

WALL = """
body { max-width: none; font: 10.5pt/1.3 Arial, "Liberation Sans", Helvetica, sans-serif }
@page { margin: 11mm } h1 { font-size: 16pt; margin: 0 } p { margin: 1mm 0 } ul { margin: 1mm 0; padding-left: 5mm }
section { break-inside: avoid; margin: 2.5mm 0 0 } h2 { font-size: 12pt; margin: 0; border-bottom: 0.5mm solid #000 }
h2 i { float: right; font-style: normal; font-weight: 400; font-size: 10pt }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums } tr { break-inside: avoid }
td, th { border-bottom: 0.2mm solid #777; padding: 0.8mm 1.5mm; text-align: left; font-weight: 400 }
th { font-size: 9pt; vertical-align: bottom } .code { font-size: 14pt; font-weight: 700; line-height: 1.1 }
.g { text-align: right } td.g { font-size: 12pt } .g b { font-size: 13pt } .control { font-weight: 700 }
.tick { display: inline-block; width: 4mm; height: 4mm; border: 0.4mm solid #000; vertical-align: -0.6mm }
.write { width: 24mm } td.write { border: 0.4mm solid #000 } .says { font-size: 8.5pt }
"""


def _page(plan, dates, paper):
    """Return the page: day by day the bakes in their turns, what of each is weighed, what was measured."""
    (what, unit, _), formula, step = described(plan.field), plan.formula, plan.scale_step
    title = f"Plan of trials: {formula.name}{' (invented)' if formula.invented else ''}"
    usual = {line: before for bake in plan.bakes for line, (before, _) in bake.weighed_differently.items()}
    lines = (f"{name}{'' if part == 'dough' else f' ({part})'}, g" for part, name in usual)
    heads = [("", "done"), ("", "turn"), ("", "code"), ("", "bake"), *(("g", line) for line in lines),
             ("write", f"{what}, {unit}")]  # fmt: skip
    heads = "".join(f'<th scope="col" class="{kind}">{page.escape(words)}</th>' for kind, words in heads)
    body = (
        f"<h1>{page.escape(title)}</h1><p>{page.escape(_question(plan))}</p><p>Each batch on {figure(plan.flour, 0)} g "
        f"of flour, all else as formula {formula.fingerprint}; bold: not as the control. Keep to the order, and write "
        "the code, not the bake, on the tray.</p>"
    )
    for day, some in itertools.groupby(plan.bakes, lambda bake: bake.day):
        date = "date ____________" if dates is None else dates[day - 1].isoformat()
        rows = ""
        for bake in some:
            cells = ""
            for line, before in usual.items():
                grams = figure(nearest(bake.weighed_differently.get(line, (0, before))[1], step), 0 if step >= 1 else 1)
                cells += f'<td class="g">{f"<b>{grams}</b>" if line in bake.weighed_differently else grams}</td>'
            name = page.escape(kept(bake.what))
            rows += (
                f'<tr><td><span class="tick"></span></td><td>{bake.turn}</td><td class="code">{bake.code}</td>'
                f'<td{" class=control" * bake.control}>{name}</td>{cells}<td class="write"></td></tr>'
            )
        body += (
            f"<section><h2>Day {day} <i>{date} &nbsp; baker ____________ &nbsp; flour lot ____________</i></h2>"
            f"<table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></section>"
        )
    says = "".join(f"<li>{page.escape(kept(words))}</li>" for words in plan.sentences)
    return page.sheet(title, f'{body}<section class="says"><ul>{says}</ul></section>', WALL, paper)
