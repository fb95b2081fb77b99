"""What one bake is, and which bakes repeat each other: set alike, and in the bowls what was planned."""

import math
from collections import defaultdict
from dataclasses import dataclass

from ..errors import KitError
from . import statistics
from .fields import Note, find, trial_fields
from .records import mean_of, only_trials

ADDED = ("water_added", "flour_added")  # at the mixer; left blank when nothing was
_SAME = 1e-6
WEIGHED = 0.03  # share of a line that weighing does not explain: six times the half per cent of tolerances.csv


@dataclass(frozen=True)
class Bake:
    """One bake: the trials that hold its readings, most often a single one."""

    trials: tuple

    @property
    def date(self):
        """The day it was baked."""
        return self.trials[0].date

    def readings(self, name):
        """Return all readings of a field from this bake."""
        return tuple(reading for trial in self.trials for reading in trial.readings(name))

    def mean(self, name):
        """Return the bake's mean of a field; None when nothing was measured. What is added at the mixer is 0 when it
        is left blank in a bake that was noted otherwise."""
        readings = self.readings(name)
        if not readings and name in ADDED and any(t.controlled or t.weighed_formula for t in self.trials):
            return 0.0
        return mean_of(readings)

    def resolution(self, name):
        """Return what the instrument resolves of a response of this bake [its unit]."""
        step = {each: find(each).resolution for each in ("height", "diameter", "baked_mass")}
        if name == "bake_loss":
            return 100 * step["baked_mass"] / self.trials[0].raw_piece if self.trials[0].raw_piece else 0.0
        if name == "height_over_diameter":
            height, diameter = self.mean("height"), self.mean("diameter")
            return height / diameter * math.hypot(step["height"] / height, step["diameter"] / diameter)
        return Note.of(name).field.resolution


@dataclass(frozen=True)
class Scatter:
    """How far bakes of one plan differ: standard deviation, degrees of freedom, plans that were repeated."""

    value: float
    df: int
    plans: int
    read: bool = False  # whether it is what the instrument resolves, the bakes differing by less

    @property
    def bakes(self):
        """How many bakes were repeats of each other."""
        return self.df + self.plans

    @property
    def few(self):
        """Whether it rests on one pair of bakes: too few to tell how far bakes differ."""
        return self.df < 2

    @property
    def words(self):
        """What it rests on, when that is little: few bakes, or an instrument that reads no finer."""
        few = f", on {self.bakes} bakes only" if self.df <= 2 else ""
        return few + (", no finer than the instrument reads" if self.read else "")


def bakes_of(trials):
    """Return the Bakes in trials: those of one day and one mix, or of one day and one plan when no mix is named, are
    one bake, which is how twelve buns of a tray get entered as twelve bakes; unless something of the bake was set
    otherwise (oven, times, what went into the bowls). Readings of pieces, tray and deck do not make another bake."""
    found = defaultdict(list)
    for place, trial in enumerate(only_trials(trials)):
        was = tuple(sorted((name, str(value)) for name, value in trial.controlled.items()))
        unit = trial.date, trial.mix.casefold() or plan_key(trial) or was or place
        found[unit].append(Bake((trial,)))
    alike = [group for each in found.values() for group in set_alike(each, by_piece=False)]
    return tuple(Bake(tuple(bake.trials[0] for bake in group)) for group in alike)


def by_plan(trials):
    """Return [(trials of one plan)] in the order their first comes; a trial without a plan stands by itself.

    >>> from kit.trials import Trial
    >>> first, again = (Trial.of(name, "2025-03-04", planned_oven_set=180) for name in ("first", "again"))
    >>> [len(alike) for alike in by_plan([first, Trial.of("other", "2025-03-05"), again])]
    [2, 1]
    """
    found = {}
    for trial in trials:
        found.setdefault(plan_key(trial) or trial.key, []).append(trial)
    return [tuple(alike) for alike in found.values()]


def repeat_scatter(trials, name):
    """Return the kitchen's own Scatter of a response [its unit]: bakes of the same plan against each other.

    The scatter within groups of a one-way analysis of variance, a group being a plan with all that was set and went
    into the bowls alike; not below what the instrument resolves, whose rounding is a uniform error of step / sqrt(12).
    None when nothing was repeated.
    """
    return scatter_of(repeats_of(trials), name)


def repeats_of(trials):
    """Return the bakes of each plan that was baked more than once, in groups that were set alike."""
    plans = defaultdict(list)
    for bake in bakes_of(trials):
        plans[plan_key(bake.trials[0])].append(bake)
    return [group for plan, bakes in plans.items() if plan for group in set_alike(bakes) if len(group) > 1]


def set_alike(bakes, by_piece=True):
    """Return lists of bakes in which none was set apart from another; by_piece: what is set piece by piece as well."""
    if len(bakes) == 1:
        return [bakes]
    groups = []
    for bake in bakes:
        now = settings_of(bake, by_piece)
        for group, ends in groups:
            if not any(set_apart(end, now) for end in ends):
                group.append(bake)
                for end, of in zip(ends, (min, max), strict=True):
                    end.update({what: of(end.get(what, value), value) for what, value in now.items()})
                break
        else:
            groups.append(([bake], (dict(now), dict(now))))
    return [group for group, _ in groups]


def settings_of(bake, by_piece=True):
    """Return {what: value} of all that was set, as it was or else as planned, and of lines that were off the plan."""
    trial = bake.trials[0]
    found = {"formula": trial.plan.fingerprint} if trial.plan else {}
    for target in trial_fields().values():
        name = target.name
        if target.no_repeat_from and (by_piece or target.readings == 1):
            value = as_it_was(bake, target)
            value = mean_of(trial.value(f"planned {name}")) if value is None else value
            if value is not None:
                found[name] = value
    return found | _off_plan(trial)


def as_it_was(bake, target):
    """Return what a controlled Field or lot was in a bake: the mean of its readings, or its words; None for a gap."""
    if target.unit != "text":
        return bake.mean(target.name)
    return next((text for trial in bake.trials if (text := trial.value(target.name))), None)


def _off_plan(trial):
    """Return {(part, ingredient): %} of the lines that went into the bowls clearly off the plan, 0 for left out."""
    try:
        parts = trial.baked_formula.parts
    except KitError:  # no formula, or no flour that it was added to
        return {("added", name): grams for name in ADDED if (grams := trial.value(name))}
    baked = {(part.name, key): value for part in parts for key, value in part.items}
    planned = trial.plan.by_line
    lines = {line: (planned.get(line, 0.0), baked.get(line, 0.0)) for line in (*planned, *baked)}
    return {line: now for line, (was, now) in lines.items() if stands_apart(line, was, now)}


def set_apart(one, other):
    """Return what of two settings is clearly apart; a figure that is not known of one is not."""
    every = dict.fromkeys((*one, *other))
    return [
        what
        for what in every
        if (isinstance(what, tuple) or (what in one and what in other))
        and stands_apart(what, one.get(what), other.get(what))
    ]


def stands_apart(what, one, other):
    """Return whether two values of a setting, or of a line of a formula, are no repeats of each other."""
    if one is None or other is None:  # a line that only one has off its plan
        return True
    if isinstance(one, str) or isinstance(other, str):
        return str(one).casefold() != str(other).casefold()
    larger = max(abs(one), abs(other))
    if isinstance(what, tuple):
        limit = WEIGHED * larger
    else:
        limit = find(what).apart(larger) or 2 * find(what).resolution + 2 * _SAME
    return one != other and abs(one - other) >= limit - _SAME


def scatter_of(plans, name):
    """Return the Scatter of a response within groups of repeats, pooled; None when no group has two bakes of it."""
    groups = [[(b, m) for b in bakes if (m := b.mean(name)) is not None] for bakes in plans]
    groups = [group for group in groups if len(group) > 1]
    if not groups:
        return None
    scatter, df = statistics.pooled([mean for _, mean in group] for group in groups)
    least = least_scatter(name, (bake for bake, _ in groups[0]))
    return Scatter(max(scatter, least), df, len(groups), scatter < least)


def least_scatter(name, bakes):
    """Return the standard deviation that the instrument's step alone makes, uniform over the step [unit]."""
    return next((bake.resolution(name) for bake in bakes if bake.mean(name) is not None), 0.0) / math.sqrt(12)


def plan_key(trial):
    """Return what a trial was planned as: the formula's fingerprint and every planned figure; () for none."""
    key = trial.plan.fingerprint if trial.plan else "", tuple(sorted((k, str(v)) for k, v in trial.planned.items()))
    return key if any(key) else ()
