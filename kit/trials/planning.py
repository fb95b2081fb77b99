"""Before the bake: trials planned so that the evidence can decide, and what a plan can and cannot show."""

import datetime
import hashlib
import itertools
import math
import os
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from .. import page
from ..errors import AmountError, must, whole
from ..files import stem
from ..formula import Formula
from ..formula.parts import only_one
from ..formula.varying import LEAST, MASSES
from ..page import Result
from ..tables import told
from ..units import read, read_above
from ..words import capital, figure, kept, listing, one_of, plain, plural
from .bakes import Scatter, repeat_scatter
from .comparing import described, with_unit
from .fields import Note
from .printed import foot
from .reading import TrialError, date_of
from .records import Trial
from .statistics import FEWEST, paired, smallest_effect
from .telling import Against, judge

MOST = 40  # bakes: more are never baked as planned
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

    @property
    def moves(self):
        """What is changed, from where to where, in words."""
        return f"{self.name} {self.low:.4g} to {self.high:.4g} {self.unit.split()[0]}"


@dataclass(frozen=True, eq=False)
class PlannedBake:
    """One bake of a plan: its day and turn from 1, the code written on the tray, what it is, its formula."""

    day: int
    turn: int
    code: int
    what: str
    levels: tuple  # of each factor [its unit]
    control: bool
    formula: Formula = field(repr=False)


@dataclass(frozen=True, eq=False)
class Plan(Result):
    """Trials planned: bakes in the order they are baked, what they can show, a page for the wall."""

    formula: Formula = field(repr=False)  # the control
    kind: str  # pairs or steps
    factors: tuple
    days: int
    bakes: tuple = field(repr=False)
    field: str
    scatter: object  # Scatter of the kitchen's repeats, None without
    flour: float  # of each batch [g]
    least_flour: float | None  # that the scale can weigh honestly [g]
    scale_step: float  # [g]
    seed: int

    @property
    def smallest(self):
        """The smallest difference seen with 80 % power [SD of repeats]; None below four days without repeats.

        From four days by the days' own scatter, below by that of the kitchen's repeats. A day's difference scatters by
        the root of 2 of single bakes.
        """
        df = self.days - 1 if self.days >= FEWEST else self._repeats and self._repeats.df
        return df and smallest_effect(df, math.sqrt(self.days / 2))

    @property
    def smallest_in_unit(self):
        """The smallest difference it would see [unit of the field]; None without enough repeats of the kitchen's."""
        return self.smallest and self._repeats and self.smallest * self._repeats.value

    @property
    def _repeats(self):
        """The Scatter of repeats that are enough to judge by; None without."""
        return None if self.scatter is None or self.scatter.few else self.scatter

    @property
    def seen(self):
        """The smallest difference it would see, in words."""
        if self.smallest is None:
            return "unknown"
        _, unit, digits = described(self.field)
        if self._repeats:
            return f"{figure(self.smallest_in_unit, digits)} {unit}"
        return f"{figure(self.smallest)} SD of your repeats"

    @property
    def control(self):
        """The levels of the control."""
        return tuple(factor.now for factor in self.factors)

    @property
    def contrasts(self):
        """What it lays against the control, as {name: levels}."""
        variants = {bake.levels: bake.what for bake in self.bakes if not bake.control}
        changed = listing(f.name for f in self.factors)
        return {changed if self.kind == "pairs" else what: levels for levels, what in sorted(variants.items())}

    @property
    def question(self):
        """What the plan asks."""
        return f"What does {listing(f.moves for f in self.factors)} do to {described(self.field)[0]}?"

    @property
    def notes(self):
        """What the plan can and cannot show, in words."""
        (what, unit, _), days = described(self.field), plural(self.days, "day")
        few, judged = self.days < FEWEST, self.smallest_in_unit is not None
        repeats = "repeats" if self.scatter is None else "repeats (one pair of bakes is too few)"
        short = ": too little for an honest test" * (self.least_flour is not None and self.flour < self.least_flour)
        figures = {
            "kind": capital(self.kind),
            "bakes": plural(len(self.bakes), "bake"),
            "days": days,
            "controls": str(sum(bake.control for bake in self.bakes)),
            "seed": str(self.seed),
            "what": what,
            "unit": unit,
            "unknown on": self.smallest is None and days,
            "seen": self.smallest is not None and self.seen,
            "judged by": judged and f"{'your repeats' if few else days}{self.scatter.words}",
            "repeats": not judged and repeats,
            "together": len(self.factors) > 1 and capital(listing(f.name for f in self.factors)),
            "fewest": few and str(FEWEST),
            "step": f"{self.scale_step:g} g",
            "least": self.least_flour is not None and f"{math.ceil(self.least_flour):,} g",
            "flour": f"{figure(self.flour, 0)} g{short}",
        }
        return tuple(told("paper_words", figures, paper="plan", what="note"))

    named = False

    @property
    def columns(self):
        """Day, turn, code, bake, whether it is the control, and the factors' levels."""
        return "day", "turn", "code", "bake", "control", *(f"{f.name}, {f.unit}" for f in self.factors)

    def frame_rows(self):
        """Return the rows of the frame, one a bake."""
        return [(b.day, b.turn, b.code, b.what, b.control, *b.levels) for b in self.bakes]

    def tables(self):
        """Return the bakes in their order, each day's first one strong."""
        rows = [[f"day {b.day}, {b.turn}", str(b.code), b.what] for b in self.bakes]
        return [(["bake", "code", "what"], rows, "", [n for n, b in enumerate(self.bakes) if b.turn == 1])]

    def page(self, paper: str = "A4") -> str:
        """Return the plan as a whole HTML page for the wall: each day's bakes in turn, room for what is measured.

        paper: A4 or Letter

        Raises AmountError.
        """
        (what, unit, _), formula, line = described(self.field), self.formula, "____________"
        how = (
            f"Each batch on {figure(self.flour, 0)} g of flour, all but what its name says as formula "
            f"{formula.fingerprint}. Keep to the order, and write the code, not the bake, on the tray."
        )
        title = f"Plan of trials: {formula.name}{' (invented)' * formula.invented}"
        body = f"<h1>{page.escape(title)}</h1>{page.paragraphs([self.question, how])}"
        for day, some in itertools.groupby(self.bakes, lambda bake: bake.day):
            rows = [["\u2610", str(bake.turn), str(bake.code), kept(bake.what), ""] for bake in some]
            heads = ["done", "turn", "code", "bake", f"{what}, {unit}"]
            body += page.table(heads, rows, f"Day {day}, date {line}    baker {line}    flour lot {line}")
        says = f"<ul>{page.items(map(kept, self.notes))}</ul>{foot(bake.formula for bake in self.bakes)}"
        return page.sheet(title, f'{body}<section class="says">{says}</section>', page.style(__file__), paper)

    def trials(
        self,
        first: str | datetime.date,
        every: int = 7,
        predicted: Mapping | None = None,
        hypothesis: str = "",
        **entries: Any,
    ) -> tuple[Trial, ...]:
        """Return the bakes as Trials to be saved in a book and filled in.

        first: date of the first day
        every: until the next day [days]
        predicted: {what: {field: value or (value, low, high)}}, kept where the book lets nobody change it
        after the bake
        hypothesis: in words
        entries: of every trial, such as baker, parent, invented, question

        Each is called by what it is and the day of the week; without a parent it has its day's control as one.

        Raises TrialError, UnknownName.
        """
        begin, every = date_of(first), whole("every", every, of="days", do="7 for once a week")
        known, notes, made = dict.fromkeys(bake.what for bake in self.bakes), entries.pop("notes", ""), {}
        predicted = {one_of("predicted", what, known): values for what, values in (predicted or {}).items()}
        entries = {"question": self.question, "invented": self.formula.invented} | entries
        for bake in self.bakes:
            of_plan = f"day {bake.day} of {self.days}, turn {bake.turn}, code {bake.code}: {bake.what}"
            said = (f"Plan: {self.kind}, {of_plan}.", hypothesis and f"Hypothesis before the bake: {hypothesis}")
            entries["notes"] = "\n".join(filter(None, (*said, notes)))
            date, mix = date_of(begin + datetime.timedelta(days=every * (bake.day - 1))), f"mix {bake.turn}"
            name = f"{_short(bake.what)}, {date:%A}"
            made[bake] = Trial.of(
                name, date, formula=bake.formula, planned_flour_weighed=self.flour, mix=mix, **entries
            )
            for what, value in predicted.get(bake.what, {}).items():
                made[bake] = made[bake].with_entry(f"predicted {what}", value)
        controls = {bake.day: trial for bake, trial in made.items() if bake.control}
        return tuple(
            trial if bake.control or "parent" in entries else trial.with_entry("parent", controls[bake.day])
            for bake, trial in made.items()
        )

    def keep(self, folder: str | os.PathLike | None = None) -> tuple[Path, ...]:
        """Write the formula of each bake that is no control to a new file and return their paths.

        folder: else the one of the control's file. What it has already of the same figures is left as it is.
        Raises FileError.
        """
        folder, paths = Path(folder or Path(self.formula.path or ".").parent), []
        bakes = {each.formula.fingerprint: each for each in self.bakes if not each.control}
        for bake in sorted(bakes.values(), key=lambda each: each.levels):
            name = f"{self.formula.name} {_short(bake.what)}"
            there = folder / f"{stem(name)}.toml"
            same = there.exists() and Formula.read(there).fingerprint == bake.formula.fingerprint
            paths.append(there if same else bake.formula.keep(name, folder).path)
        return tuple(paths)

    def effects(self, values: Any) -> "Effects":
        """Return the Effects of the bakes: what each change did, day by day, to what the plan is judged by.

        values: {code: value}, or one figure a bake in the plan's order [unit of the field], NaN for a lost bake

        Each whole day gives a difference; from four days Student's t gives the 95 % interval, below there is their
        range. Bakes in a book are laid side by side, which also tells what differed though not planned. Raises
        AmountError, TrialError, UnknownName.

        >>> bun = Formula.from_weights("bun", {"flour": 1000, "milk": 560, "butter": 180, "salt": 16})
        >>> plan = plan_trials(bun, {"butter": 25}, days=3)
        >>> print(plan.effects([47 - 2 * (not b.control) - 0.5 * b.turn for b in plan.bakes])["butter"].words)
        −2.2 mm; from −2.5 to −1.5, 3 days paired; no repeats are given, so how far bakes differ by themselves is not \
known
        """
        what, unit, digits = described(self.field)
        by_day: dict = defaultdict(dict)
        for bake, value in zip(self.bakes, self._values(values), strict=True):
            if not math.isnan(value):
                by_day[bake.day][bake.levels] = value
        target, found = Note.of(self.field).field, {}
        # uniform over what the instrument resolves
        step = 0.0 if target.group == "reckoned" else target.resolution / math.sqrt(12)
        for change, levels in self.contrasts.items():
            whole = [
                (day[self.control], day[levels]) for day in by_day.values() if {self.control, levels} <= day.keys()
            ]
            if not whole:
                found[change] = Against(words="not measured on a whole day")
                continue
            many, left = len(whole), self.days - len(whole)
            how = f"{plural(many, 'day')} paired" + (f", {plural(left, 'day')} not whole left out" if left else "")
            controls, others = zip(*whole, strict=True)
            difference = paired(controls, others, step)
            found[change] = judge(difference, how, (many, many), self.scatter or "no repeats are given", unit, digits)
        return Effects(what, unit, found, self.factors)

    def _values(self, given):
        """Return one value a bake [unit of the field], NaN where none is. Raises TrialError, AmountError."""
        codes = [bake.code for bake in self.bakes]
        try:
            found = dict(given.items() if hasattr(given, "items") else zip(codes, given, strict=True))
            made = np.array([found.get(code) for code in codes], float)
        except (TypeError, ValueError):
            found, made = {}, np.array([math.nan])
        if odd := [code for code in found if code not in codes]:
            raise TrialError(must("code", "of a bake of this plan", repr(odd[0])[:40], "look on the plan's page"))
        if np.isinf(made).any() or np.isnan(made).all():
            be = f"{{code: value}}, or {len(codes)} figures in the plan's order: finite numbers, of one bake or more"
            do = "bake first, and leave a lost bake empty; trials are laid side by side"
            raise AmountError(must("values", be, repr(given)[:40], do))
        return made


@dataclass(frozen=True, eq=False)
class Effects(Result):
    """What a plan's bakes say of a response, each change against the control.

    Each day gives one difference; from four days on there is an interval, below their range.
    """

    what: str
    unit: str
    effects: dict  # {change: Against the control}
    factors: tuple = field(repr=False)

    columns = ("change", "difference", "low", "high", "days", "p")
    notes = ("Of figures alone it isn't known what else differed: trials laid side by side tell it.",)
    lead = ""  # the table has the words of each change

    def __getitem__(self, what):
        """Return how bakes of a change, such as "butter", differ from the control. Raises UnknownName."""
        return self.effects[one_of("effect", what, self.effects)]

    def frame_rows(self):
        """Return the rows of the frame, one a change."""
        for what, each in self.effects.items():
            d = each.difference
            yield what, *((None,) * 5 if d is None else (d.value, d.low, d.high, d.n, d.p))

    @property
    def words(self):
        """What each change did beside scatter."""
        moves = {factor.name: factor.moves for factor in self.factors}
        said = (f"{capital(self.what)}, {moves.get(what, what)}: {each.words}." for what, each in self.effects.items())
        return " ".join((*said, *self.notes))

    def tables(self):
        """Return what each change did, in words."""
        return [([capital(with_unit(self)), ""], [[what, each.words] for what, each in self.effects.items()])]


def plan_trials(
    formula: Formula,
    changes: Mapping,
    days: int = FEWEST,
    field: str = "height",
    trials: "Iterable[Trial] | Scatter | None" = None,
    flour: float | str | None = None,
    scale_step: float | str = 1.0,
    seed: int = 1,
) -> Plan:
    """Return the Plan of bakes that decides about changes to a formula, the control in every day's session.

    formula: the control
    changes: {thing: new value}, A against B on each day (pairs); {thing: (value, value, ...)}, steps of one thing.
    Things as `Formula.vary` takes them [% of flour, or of the part's base], {"topping": {"sugar": 95}}; {"piece": 70},
    {"topping": 24} [g] too
    days: sessions [count]
    field: the answer to judge by, a measured field
    trials: whose repeats tell the scatter, a book too, or that Scatter
    flour: of a batch [g or any mass], else as much as the scale needs
    scale_step: what the scale reads [g or any mass]
    seed: of the lot; the same one gives the same plan

    Raises FormulaError, AmountError, UnknownName.

    >>> bun = Formula.from_weights("bun", {"flour": 1000, "milk": 560, "butter": 180, "salt": 16})
    >>> plan = plan_trials(bun, {"butter": 25})
    >>> [bake.what for bake in plan.bakes][:4], round(plan.smallest, 1)
    (['butter 25 %', 'control', 'control', 'butter 25 %'], 3.0)
    """
    only_one(formula, "to plan trials of", "plan for one of them")
    days, seed = whole("days", days), whole("seed", seed, 0)
    described(str(field))
    kind, factors, places = _variants(formula, changes)
    whole("plan", days * len(places), 1, MOST, of="bakes", do="take fewer days or steps")
    step = read_above(scale_step, "mass", "scale step", "look at the scale's last digit")
    salt = float(formula.of_kind("salt"))
    least = step / (2 * KNOWN * salt / 100) if salt else None  # weighed to half a step
    if flour is None:
        flour = max(formula.scale().flour if formula.pieces.count else 0.0, math.ceil((least or 1000) / 100) * 100)
    flour = float(formula.scale(flour=read(flour, "mass", "flour")).flour)
    codes = iter(_lot(range(100, 1000), f"{seed} codes"))
    bakes = tuple(
        PlannedBake(day, turn, next(codes), *place)
        for day in range(1, days + 1)
        for turn, place in enumerate(_drawn(places, day, days, seed), 1)
    )
    scatter = trials if trials is None or isinstance(trials, Scatter) else repeat_scatter(trials, field)
    return Plan(formula, kind, factors, days, bakes, field, scatter, flour, least, step, seed)


# what is changed


def _flat(changes):
    """Return {path: value} of changes as `vary` takes them."""
    found = {}
    for name, value in changes.items() if isinstance(changes, Mapping) else ():
        inner = value.items() if isinstance(value, Mapping) else ((None, value),)
        found |= {((name,) if each is None else (name, each)): v for each, v in inner}
    if not found or any(plain(path[0]) == "pieces" for path in found):
        do = "write it like {'butter': 25} or {'topping': 24}"
        raise AmountError(must("changes", "{thing: value}, one or more", repr(changes)[:60], do))
    return found


def _variants(formula, changes):
    """Return the kind of a plan, its Factors, and what is baked a day: (what, levels, whether the control, formula)."""
    from ..reformulate.moving import variable  # and SciPy with it

    flat, kind = _flat(changes), "steps"
    if not any(np.ndim(value) for value in flat.values()):
        kind, made = "pairs", [formula.vary(changes)]
    elif len(flat) == 1:
        ((path, values),) = flat.items()
        made = [formula.vary({path[0]: value if len(path) == 1 else {path[1]: value}}) for value in values]
    else:
        be = "one thing at its steps, or things at one new value each"
        got = listing(f"{_words(path)} at {plural(np.size(value), 'step')}" for path, value in flat.items())
        raise AmountError(must("changes", be, got, "change fewer, and the rest in the next trial"))
    levels = {tuple(round(variable(each, " ".join(path)).now, 9) for path in flat): each for each in (formula, *made)}
    now = next(iter(levels))
    variants = {place: each for place, each in sorted(levels.items()) if not np.allclose(place, now, atol=0.005)}
    if not variants:
        raise AmountError(must("changes", "other than the formula as it is", repr(changes)[:60], "change something"))
    factors = []
    for path, level, *others in zip(flat, now, *variants, strict=True):
        low, high = (level, *others) if kind == "pairs" else (min(level, *others), max(level, *others))
        unit = {"g": "g", "% of flour": "% of flour"}.get(variable(formula, " ".join(path)).unit, "% of its base")
        factors.append(Factor(_words(path), path, unit, level, low, high))
    places = [(_what(factors, levels), levels, False, each) for levels, each in variants.items()]
    return kind, tuple(factors), [*places, ("control", now, True, formula)]


def _words(path):
    where = f" in the {path[0]}" if len(path) == 2 else " of a piece" if path[0] in MASSES else ""
    return f"{plain(path[-1])}{where}"


# the bakes and their order


def _drawn(places, day, days, seed):
    """Return a day's places in the order drawn by lot; of two, one begins as often as the other."""
    if len(places) == 2:
        turned = _lot(range(days), f"{seed} pairs").index(day - 1) < (days + seed % 2) // 2
        return places[::-1] if turned else places
    return [places[n] for n in _lot(range(len(places)), f"{seed} day {day}")]


def _lot(what, words):
    """Return things in an order drawn by lot, the same for the same words on any machine and in any year."""
    return sorted(what, key=lambda each: hashlib.sha256(f"{words} {each}".encode()).digest())


def _what(factors, place):
    """Return a bake in words."""
    moved = [(f, level) for f, level in zip(factors, place, strict=True) if abs(level - f.now) > LEAST]
    return ", ".join(f"{f.name} {level:.4g} {f.unit.split()[0]}" for f, level in moved)


def _short(what):
    return what.replace(" %", "")
