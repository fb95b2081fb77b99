"""Bakes side by side: what was planned differently, what came out different, and whether that is more than repeats do.

The unit is the bake. Readings of several pieces are averaged within their bake before anything is compared.
"""

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from .. import page
from ..errors import whole
from ..formula.parts import DOUGH
from ..page import Result
from ..words import capital, figure, listing, plural, signed, without_zeros
from . import printed, statistics, telling
from .bakes import (
    Bake,
    as_it_was,
    bakes_of,
    least_scatter,
    plan_key,
    repeats_of,
    scatter_of,
    set_apart,
    settings_of,
    stands_apart,
)
from .fields import OWN, Note, every_field, find, trial_fields
from .records import Trial, mean_of, only_trials
from .telling import Against, judge, repeats_limit

MOST = 8
ON_FLOUR = ("inclusion", "dusting")  # written on total flour though not in the dough
PAIRED = 0.8  # share of each column's bakes that must lie on shared days, so that pairing hides next to none
_SAME = 1e-6


@dataclass(frozen=True)
class Planned:
    """One planned figure across the columns; None where it was not noted."""

    what: str
    unit: str
    values: tuple
    changed: tuple  # whether each column differs from the first; a figure of the bake, by more than repeats do
    digits: int = 1
    of_bake: bool = True  # and not of its formula

    def cells(self):
        """Return each column's value as it is written."""
        return [
            "" if value is None else value if isinstance(value, str) else without_zeros(figure(value, self.digits))
            for value in self.values
        ]


@dataclass(frozen=True)
class Response:
    """One response across the columns: the means of each column's bakes, how many readings, differences."""

    name: str
    what: str
    unit: str
    digits: int
    bakes: tuple  # for each column a tuple of bake means
    readings: tuple  # for each column how many readings
    against: tuple = field(repr=False)  # for each column an Against the first; that one's own says nothing

    @property
    def means(self):
        """Mean of each column's bakes; None where nothing was measured."""
        return tuple(mean_of(each) for each in self.bakes)

    @property
    def label(self):
        """What it is, what repeats differ by, and of how many readings each column's figure is."""
        limits = sorted(each.limit for each in self.against if each.limit is not None)
        ends = dict.fromkeys(figure(limit, self.digits) for limit in (*limits[:1], *limits[-1:]))
        counts = sorted(count for count in self.readings if count)
        counts = " to ".join(map(str, dict.fromkeys((counts[0], counts[-1]))))
        return with_unit(self), ", ".join([f"±{' to '.join(ends)}"] * bool(ends) + [f"{counts} read"])

    def cells(self):
        """Return each column's mean, and of each after the first how far from it; a triangle: more than scatter."""
        cells = []
        for mean, each in zip(self.means, self.against, strict=True):
            far = f" ({signed(each.difference.value, self.digits)})" if each.difference else ""
            mark = " " + ("\u25b2" if each.difference.value > 0 else "\u25bc") if each.beyond else ""
            cells.append("" if mean is None else f"{figure(mean, self.digits)}{far}{mark}")
        return cells


@dataclass(frozen=True)
class SideBySide(Result):
    """One to eight columns of bakes laid beside each other; the first is what the others are compared with."""

    names: tuple
    trials: tuple = field(repr=False)  # of each column
    planned: tuple = field(repr=False)  # Planned that differ
    alike: tuple = field(repr=False)  # whether each column was planned as the first, as far as it is known
    unplanned: tuple = field(repr=False)  # Planned: controlled figures that differed though not planned
    responses: tuple = field(repr=False)
    notes: tuple = field(repr=False)

    named = False

    @property
    def words(self):
        """What it says, in two or three sentences."""
        return telling.verdict(self) if len(self.names) > 1 else self.trials[0][0].decision

    @property
    def columns(self):
        """Section, what, unit, each column's value; of what came out also its difference from the first and words."""
        against = (f"{name}: {what}" for name in self.names[1:] for what in ("difference", "in words"))
        return "section", "what", "unit", *self.names, *against

    def frame_rows(self):
        """Return the rows of the frame: planned differently, differed though not planned, came out."""
        for section, some in (("planned", self.planned), ("not planned", self.unplanned)):
            for row in some:
                yield section, row.what, row.unit, *row.values, *(None,) * (2 * len(self.names) - 2)
        for row in self.responses:
            against = ((each.difference and each.difference.value, each.words) for each in row.against[1:])
            yield "came out", row.what, row.unit, *row.means, *itertools.chain(*against)

    # what of a column is against the first

    def changes(self, n):
        """Return {name: said} of what was planned otherwise in a column than in the first, a swap being one change."""
        return telling.changes_of([row for row in self.planned if row.changed[n]], n)

    def subject(self, n):
        """Return what a column is, beside the first: 22 % butter, or that it was planned alike."""
        said, how = self.changes(n).values(), "planned as" if self.set_apart(n) else "a repeat of"
        alike = f"{self.names[n]}, {how} {self.names[0]}" if self.alike[n] else self.names[n]
        return f"{self.names[n]}, {len(said)} changes" if len(said) > telling.LISTED else listing(said) or alike

    def judged(self, n):
        """Return the Responses of a column of which it is known how far bakes differ by themselves."""
        return [row for row in self.responses if row.against[n].share is not None]

    def told(self, n):
        """Return the Responses of a column that differ from the first by more than scatter."""
        return [row for row in self.responses if row.against[n].beyond]

    def unknown(self, n):
        """Return why nothing of a column can be judged."""
        return next((row.against[n].unknown for row in self.responses if row.against[n].unknown), "")

    def set_apart(self, n):
        """Return what of a column was set otherwise though not planned, so that it is no repeat, in words."""
        settings = (settings_of(Bake(self.trials[each])) for each in (0, n))
        return [each for each in telling.spoken(set_apart(*settings)) if each not in _names_of(self.planned)]

    @property
    def differing(self):
        """The Responses in which a column differs from the first, of up to four perhaps, in the order bakers decide."""
        least = 0.5 if len(self.names) <= 4 else 1.0
        return telling.by_weight(r for r in self.responses if any((each.share or 0) > least for each in r.against))

    def sections(self):
        """Return (title, [(label, cells)]) of what stands in the columns, from what was planned to the rest."""
        written, many = [], len(self.names)
        for name in ("question", "deviations", "notes", "decision", "next_change"):
            texts = ((str(text) for trial in some if (text := getattr(trial, name))) for some in self.trials)
            written.append(((name.replace("_", " "),), [listing(dict.fromkeys(each)) for each in texts]))
        for note in own_notes(itertools.chain(*self.trials)):
            texts = ((text for trial in some if isinstance(text := trial.value(note), str)) for some in self.trials)
            written.append(((note.field.words,), [listing(dict.fromkeys(each)) for each in texts]))
        tell = ["", *(capital(telling.shortly(self, n)) for n in range(1, many))]
        rest = [row for row in telling.by_weight(self.responses) if row not in self.differing]
        differs = "what differs; \u25b2\u25bc by more than ±, what your repeats do"
        return [
            ("", [((f"against {self.names[0]}",), tell)] if many > 2 and self.responses else []),
            ("planned otherwise", [((with_unit(row),), row.cells()) for row in self.planned]),
            ("not as planned", [((with_unit(row),), row.cells()) for row in self.unplanned]),
            ("written down", [(label, cells) for label, cells in written if any(cells)]),
            (differs, [(row.label, row.cells()) for row in self.differing]),
            ("the rest" if many > 1 else "figures", [(row.label, row.cells()) for row in rest]),
        ]

    def _repr_html_(self):
        return printed.columns(self) + page.paragraphs(self.notes)

    def page(self, book: Any = None, paper: str = "A4") -> str:
        """Return one page to print, of more than four columns two; of one bake its formula as well.

        book: the TrialBook that has its photos
        paper: A4 or Letter

        Raises AmountError.
        """
        return printed.bakes_page(self, book, paper)


def _others(repeats, first, other):
    """Return the repeats without the bakes of two columns that repeat each other: they can't judge themselves."""
    kept = []
    ours, theirs = ({trial.key for bake in column for trial in bake.trials} for column in (first, other))
    for bakes in repeats:
        keys = [{trial.key for trial in bake.trials} for bake in bakes]
        if any(k & ours for k in keys) and any(k & theirs for k in keys):
            bakes = [bake for bake, k in zip(bakes, keys, strict=True) if not k & (ours | theirs)]
        if len(bakes) > 1:
            kept.append(bakes)
    return kept


def side_by_side(trials: Iterable, kitchen: Iterable[Trial] | None = None) -> SideBySide:
    """Return the SideBySide of two to eight columns of bakes; of one, that bake alone.

    trials: for each column a Trial, or several trials of one variant; the first column is the one compared with
    kitchen: trials, or a book, whose repeats tell how far bakes differ by themselves; else those in the columns

    Bakes are paired by day where nearly all share their days. Below four bakes there are dots and a range and no
    p-value; from four the 95 % interval of Student's t. Raises AmountError, TrialError.

    >>> plain, rich = (Trial.of(name, "2025-03-04", height=mm) for name, mm in (("plain", 44), ("rich", 42)))
    >>> side_by_side([plain, rich]).to_frame()[["what", "plain", "rich"]].values.tolist()
    [['height', 44.0, 42.0]]
    """
    given = [tuple(each) if isinstance(each, (tuple, list)) else (each,) for each in trials]
    do = "choose those to compare; put repeats of one variant into one column"
    whole("side by side", len(given), 1, MOST, of="columns", do=do)
    for column in given:
        whole("column", len(only_trials(column)), of="trials", do="take them from the book")
    columns = tuple(bakes_of(column) for column in given)
    rows = _planned(given)
    planned = tuple(row for row in rows if any(row.changed))
    names = _names(given, planned)
    repeats = repeats_of(kitchen if kitchen is not None else [trial for column in given for trial in column])
    others = [repeats, *(_others(repeats, columns[0], column) for column in columns[1:])]
    unplanned = _unplanned(columns, _names_of(planned), others)
    responses = tuple(_responses(columns, others))
    said = tuple(telling.mind(given, columns, names, rows, responses))
    known = not any(row.of_bake and None in row.values for row in rows)
    recipes = [column[0].planned_formula for column in given]
    alike = tuple(
        known and None not in (recipes[0], recipe) and not any(row.changed[n] for row in rows)
        for n, recipe in enumerate(recipes)
    )
    return SideBySide(names, tuple(given), planned, alike, unplanned, responses, said)


OF_PIECE = {f"{part} of a piece": f"{part} mass".replace("dough", "piece") for part in ("dough", "topping", "wash")}


def _names_of(planned):
    """Return the names of what was planned otherwise, of a formula's piece also the field that it is noted in."""
    return {"formula", *(name for row in planned for name in (row.what, OF_PIECE.get(row.what)))}


def described(name):
    """Return a response's words, unit and digits. Raises UnknownName.

    >>> described("crumb dent day 1")
    ('crumb dent, day 1', 'mm', 1)
    """
    note = Note.of(name)
    day = "" if note.day is None else f", day {note.day}"
    return note.field.words + day, note.field.unit, max(note.field.digits, 1)


def _names(given, planned):
    """Return a name for each column: of one trial its code; of several what alone sets them apart, else their codes."""
    row = planned[0] if len(planned) == 1 and len(set(planned[0].values)) == len(given) else None
    names = []
    for n, column in enumerate(given):
        codes = [trial.code or trial.name for trial in column]
        alike = len({plan_key(trial) for trial in column}) == 1 < len(codes)
        if alike and row and row.unit and row.values[n] is not None:
            names.append(f"{row.what} {row.values[n]:.4g} {row.unit.partition(' of ')[0]}")
        else:
            names.append(listing(codes if len(codes) <= 4 else [*codes[:3], f"{len(codes) - 3} more"]))
    return tuple(name if names.count(name) == 1 else f"{name} ({n + 1})" for n, name in enumerate(names))


def _planned(given):
    """Return a Planned for every figure that any column planned: lines, pieces, controlled figures."""
    recipes = [column[0].plan for column in given]
    every = [{(what, unit): v for what, unit, v in _lines(recipe)} if recipe else None for recipe in recipes]
    rows = []
    for what, unit in dict.fromkeys(key for own in every if own for key in own):
        # an ingredient that one formula lacks is 0 there, not unknown
        values = tuple(None if own is None else own.get((what, unit), 0.0) for own in every)
        changed = tuple(_differs(values[0], value) for value in values)
        rows.append(Planned(what, unit, values, changed, 1 if unit == "g" else 2, of_bake=False))
    for target in map(find, dict.fromkeys(name for column in given for name in column[0].planned)):
        plans = [mean_of(column[0].value(f"planned {target.name}")) for column in given]
        were = [as_it_was(Bake(column), target) for column in given]  # compared with where nothing was planned
        found = tuple(was if plan is None else plan for plan, was in zip(plans, were, strict=True))
        changed = tuple(
            None not in (found[0], value)
            and (stands_apart(target.name, found[0], value) if None in (plans[0], plan) else _differs(found[0], value))
            for plan, value in zip(plans, found, strict=True)
        )
        rows.append(Planned(target.words, target.spoken_unit, found, changed, target.digits))
    return rows


def _lines(recipe):
    """Yield (what, unit, value) of a formula: each preferment on its own flour, other parts, the dough, a piece."""
    whole = {}
    for part, lines in recipe.lines.items():
        kind, base, on = recipe.kinds[part], "% of its base", 100.0
        if kind in DOUGH:
            whole |= {key: whole.get(key, 0.0) + value for key, value in lines.items()}
            on = sum(value for key, value in lines.items() if recipe.named(key)["kind"] == "flour")
            if kind == "dough" or not on:
                continue
            yield f"flour in the {part}", "% of flour", on
            base = f"% of the {part}'s flour"
        elif kind in ON_FLOUR:
            base = "% of flour"
        for key, value in lines.items():
            yield f"{recipe.named(key)['name']} in the {part}", base, 100 * value / on
    for key, value in whole.items():
        yield recipe.named(key)["name"], "% of flour", value
    for kind, grams in recipe.pieces.items():
        yield f"{kind} of a piece", "g", grams


def _unplanned(columns, planned, others):
    """Return Planned rows of what was set or weighed otherwise, or differed by more than between repeats."""
    noted = (f for f in trial_fields().values() if f.group in ("controlled", "lot") and f.words not in planned)
    rows = (*_weighed_otherwise(columns), *(_as_noted(target, columns, others) for target in noted))
    return tuple(row for row in rows if any(row.changed))


def _as_noted(target, columns, others):
    """Return the Planned of a controlled Field as it was; what is alike but for the reading is not changed."""
    noted = [[was for bake in column if (was := as_it_was(bake, target)) is not None] for column in columns]
    if target.unit == "text":
        values = [listing(sorted(set(some))) or None for some in noted]
        changed = [_differs(values[0], value) for value in values]
    else:
        values = [mean_of(tuple(some)) for some in noted]
        scatters = [scatter_of(repeats, target.name) for repeats in others]
        changed = [
            None not in (values[0], value)
            and _set_apart(target, values[0], value, repeats_limit(scatter, len(noted[0]), len(some)) or 0.0)
            for some, value, scatter in zip(noted, values, scatters, strict=True)
        ]
    return Planned(target.words, target.spoken_unit, tuple(values), tuple(changed), max(target.digits, 1))


def _set_apart(target, first, value, limit):
    """Return whether two means were set apart, or differ beyond what the instrument reads and repeats do."""
    beyond = abs(value - first) > max(2 * target.resolution, limit) + _SAME
    return beyond or (bool(target.no_repeat_from) and stands_apart(target.name, first, value))


def _weighed_otherwise(columns):
    """Yield a Planned of each line that went into the bowls in another proportion than planned."""
    slipped = [next((b.trials[0] for b in c if b.trials[0].weighed_otherwise), c[0].trials[0]) for c in columns]
    off = [{(part, key): (was, now) for part, key, was, now in trial.weighed_otherwise} for trial in slipped]
    recipes = [trial.recipe for trial in slipped]
    for part, key in dict.fromkeys(line for some in off for line in some):
        changed = tuple(some.get((part, key)) != off[0].get((part, key)) for some in off)
        values = tuple(recipe and recipe.lines.get(part, {}).get(key, 0.0) for recipe in recipes)
        recipe = next(recipe for recipe in recipes if recipe and key in recipe.lines.get(part, {}))
        unit = "% of flour" if recipe.kinds[part] in (*DOUGH, *ON_FLOUR) else "% of its base"
        yield Planned(f"{recipe.named(key)['name']} weighed for the {part}", unit, values, changed, 2)


def _response_names(columns):
    trials = [trial for column in columns for bake in column for trial in bake.trials]
    names = [f.name for f in every_field().values() if f.group in ("measured", "reckoned")]
    names += [note.name for note in own_notes(trials) if note.field.unit != "text"]
    notes = sorted({note for trial in trials for note in trial.noted if note.day is not None})
    names += [f"{note.name} day {note.day}" for note in notes]
    names += [f.name for f in trial_fields().values() if f.group == "sensory"]
    return [name for name in names if any(bake.readings(name) for column in columns for bake in column)]


def own_notes(trials):
    """Return the Notes of fields of the kitchen's own that stand in trials."""
    return sorted({note for trial in trials for note in trial.noted if note.name.startswith(OWN) and not note.how})


def _responses(columns, others):
    for name in _response_names(columns):
        what, unit, digits = described(name)
        means = tuple(tuple(m for bake in column if (m := bake.mean(name)) is not None) for column in columns)
        readings = tuple(sum(len(bake.readings(name)) for bake in column) for column in columns)
        scatters = [scatter_of(repeats, name) for repeats in others]
        none, against = "no plan was repeated" if scatters[0] is None else "nothing else was repeated", [Against()]
        for column, scatter in zip(columns[1:], scatters[1:], strict=True):
            against.append(judge(*_difference(columns[0], column, name), scatter or none, unit, digits))
        yield Response(name, what, unit, digits, means, readings, tuple(against))


def _difference(first, other, name):
    """Return (Difference, what it rests on, bakes that count) of two columns, by day where nearly all are shared."""
    sides = []
    for column in (first, other):
        days = {}
        for bake in column:
            if (value := bake.mean(name)) is not None:
                days.setdefault(bake.date, []).append(value)
        sides.append(days)
    shared = sorted(sides[0].keys() & sides[1].keys())
    sizes = [sum(map(len, days.values())) for days in sides]
    if not all(sizes):
        return None, "", sizes
    held = [sum(len(days[day]) for day in shared) for days in sides]
    least = least_scatter(name, (*first, *other))
    # several mixes of a single shared day are bakes against bakes: one pair would hide them
    if (len(shared) > 1 or sizes == [1, 1]) and all(h >= PAIRED * size for h, size in zip(held, sizes, strict=True)):
        left = sum(sizes) - sum(held)
        how = f"{plural(len(shared), 'day')} paired" + (f", {plural(left, 'bake')} left out" if left else "")
        means = ([np.mean(days[day]) for day in shared] for days in sides)
        return statistics.paired(*means, least), how, (len(shared), len(shared))
    how = "only some days shared, the scatter of days in it" if shared else "days not shared, their scatter in it"
    if len(sides[0].keys() | sides[1].keys()) == 1:
        how = "all of one day, what days do is not in it"
    values = ([value for some in days.values() for value in some] for days in sides)
    return statistics.unpaired(*values, least), f"{sizes[0]} and {plural(sizes[1], 'bake')}, {how}", sizes


def _differs(first, value):
    if first is None or value is None:
        return False
    if isinstance(first, str) or isinstance(value, str):
        return first != value
    return not math.isclose(first, value, rel_tol=_SAME, abs_tol=_SAME)


def with_unit(row):
    """Return what a Planned or Response is, with its unit."""
    unit = row.unit if " to " in row.unit else row.unit.partition(" of ")[0]
    return f"{row.what}, {unit}" if unit else row.what
