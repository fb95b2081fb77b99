"""A bake begun as another was: what it aims at, what is taken over, what later days ask of it, and the tree of such."""

import datetime
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from ..formula.parts import DOUGH
from ..page import Result
from ..process.day import stages_in
from ..words import listing, plain
from .fields import Note, find, trial_fields
from .records import Trial, mean_of, only_trials

DAYS = (1, 2)  # after the bake, on which it is read again
LATEST = 5  # days after a bake on which what was read is still entered
SLOW = ("first", "slow", "low", "1")
# where a step's minutes and temperature [degC] are noted
STAGES = {
    "slow": ("mix_time_slow", "dough_temperature"),
    "fast": ("mix_time_fast", "dough_temperature"),
    "sponge": ("preferment_time", "preferment_temperature"),
    "bulk": ("bulk_time", "bulk_temperature"),
    "proof": ("proof_time", "proof_temperature"),
}
AGES = ("yeast_age",)  # of a lot, and another on another day


def aims(trial: Trial) -> dict[str, float | str]:
    """Return what a bake aims at, by field: its formula's pieces, steps and oven, and what was planned of it itself.

    trial: a bake with its plan. Returns {field: value [the field's unit]}.

    >>> aims(Trial.of("hotter", "2025-03-04", planned_oven_set=190))
    {'oven_set': 190.0}
    """
    own = _aims_of(trial.plan) if trial.plan else {}
    return own | {name: mean_of(value) for name, value in trial.planned.items()}


def _aims_of(recipe):
    formula, pieces = recipe.formula, recipe.pieces
    found = {f"{name}_mass": pieces[kind] for name, kind in _PIECES.items() if pieces[kind]}
    for step in formula.steps:
        part = next((p for p in formula.parts if plain(p.name) == plain(step.part)), None)
        if part and part.kind == "preferment":
            stage = "sponge"
        elif step.speed and (part is None or part.kind in DOUGH):
            stage = "slow" if plain(step.speed).split()[0] in SLOW else "fast"
        else:
            stage = next((name for name in stages_in(step.do) if name in STAGES), None)
        time, warmth = STAGES.get(stage, (None, None))
        if time and step.minutes is not None:
            found[time] = found.get(time, 0.0) + step.minutes
        if warmth and step.temperature is not None:
            found[warmth] = step.temperature
        if stage == "proof":
            found["proof_humidity"] = step.humidity
    bake = formula.bake
    found |= {"oven_set": bake.oven, "bake_time": bake.minutes, "core_temperature": bake.core}
    return {name: value for name, value in found.items() if value is not None}


_PIECES = {"piece": "dough", "topping": "topping", "wash": "wash"}


def bake_again(trial: Trial, date: datetime.date | str) -> Trial:
    """Return a new bake of another day, planned as this one was: formula, plan, lots and what was set in words.

    trial: the one to bake again, which becomes the parent. date: of the new bake. Raises TrialError.

    >>> bake_again(Trial.of("bun", "2025-03-04", flour_lot="A", height=42), "2025-03-05").noted
    {Note(name='flour_lot', how='', day=None, taster=''): 'A'}
    """
    made = Trial.of(trial.name, date, tags=trial.tags, planned_formula=trial.plan and trial.plan.formula)
    made = made.with_entry("parent", trial)
    for note, value in trial.noted.items():
        field = note.field
        set_in_words = field.group == "controlled" and field.unit == "text" and not note.how
        if note.how == "planned" or set_in_words or (field.group == "lot" and field.name not in AGES):
            made = made.with_value(note, value)
    return made


def as_planned(trial: Trial) -> Trial:
    """Return a bake with all that its plan sets noted as planned, where nothing else is noted.

    trial: a bake with its plan. What is read off at the end of a stage is left to the thermometer.

    >>> as_planned(Trial.of("hotter", "2025-03-04", planned_oven_set=190)).controlled
    {'oven_set': 190.0}
    """
    for name, value in aims(trial).items():
        if trial.value(name) is None and not find(name).when.startswith("end of"):
            trial = trial.with_entry(name, value)
    return trial


@dataclass(frozen=True)
class Due:
    """What the days after its bake still ask of a trial: entries such as "crumb dent day 1"."""

    trial: Trial
    entries: tuple[str, ...]

    @property
    def words(self) -> str:
        """What is asked, of which bake."""
        return f"{self.trial.code} {self.trial.name}: {listing(self.entries)}"


def due(trials: Iterable[Trial], fields: Iterable[str], today: datetime.date) -> list[Due]:
    """Return what is Due of trials on a day, the earliest bake first.

    trials: some, of any days. fields: entries that the kitchen notes; of a trial also what was read of it on a day
    before.

    >>> bake = Trial.of("bun", "2025-03-04", **{"crumb dent day 0": 9})
    >>> [each.words for each in due([bake], ["crispness day 1"], datetime.date(2025, 3, 5))]
    [' bun: crumb dent day 1 and crispness day 1']
    """
    found, wanted = [], {Note.of(entry) for entry in fields}
    series = [field.name for field in trial_fields().values() if field.group == "series"]
    for trial in sorted(trials, key=lambda trial: trial.date):
        age = (today - trial.date).days
        notes = [Note(name, day=day) for day in DAYS if day <= age <= LATEST for name in series]
        read = {(note.name, day) for note in trial.noted if note.day is not None for day in DAYS if note.day < day}
        asked = [n for n in notes if n not in trial.noted and (n in wanted or (n.name, n.day) in read)]
        if asked:
            found.append(Due(trial, tuple(map(str, asked))))
    return found


# which came from which


@dataclass(frozen=True)
class Lineage(Result):
    """A tree of variants in the order of its outline."""

    branches: tuple  # (Trial, its generation, 0 at a root)

    columns = ("trial", "generation", "decided")
    named = False

    @property
    def words(self):
        """What to say of an empty tree."""
        return "" if self.branches else "No trial yet: enter one."

    def frame_rows(self):
        """Return the rows of the frame, one a trial."""
        return [(f"{t.code} {t.name}".strip(), generation, t.decision) for t, generation in self.branches]

    def tables(self):
        """Return the variants, set in by their generation."""
        rows = [["\u2003" * generation + name, decision] for name, generation, decision in self.frame_rows()]
        return [(["variants", "decided"], rows)] if rows else ()


def lineage(trials):
    """Return the Lineage of trials, by their parents.

    A parent that is not among them makes a root; so does a circle, at its first member. Raises TrialError.

    >>> from kit.trials import Trial
    >>> plain = Trial.of("plain", "2025-03-04")
    >>> rich, sweet = (Trial.of(name, "2025-03-05", parent=plain) for name in ("rich", "sweet"))
    >>> [(trial.name, generation) for trial, generation in lineage([rich, plain, sweet]).branches]
    [('plain', 0), ('rich', 1), ('sweet', 1)]
    """
    known, children, found = {trial.key: trial for trial in only_trials(trials)}, defaultdict(list), {}
    for trial in known.values():
        children[trial.parent if trial.parent in known else ""].append(trial)
    for root in (*children[""], *known.values()):  # after the roots what is in a circle
        left = [(root, 0)]
        while left:  # no recursion: a chain of variants may be long
            trial, generation = left.pop()
            if trial.key not in found:
                found[trial.key] = trial, generation
                left += [(child, generation + 1) for child in reversed(children[trial.key])]
    return Lineage(tuple(found.values()))
