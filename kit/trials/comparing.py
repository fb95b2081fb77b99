"""Bakes side by side: what was planned differently, what came out different, and whether that is more than repeats do.

The unit is the bake. Readings of several pieces are averaged within their bake before anything is compared.
"""

import math
import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from .. import page
from ..errors import must
from ..formula.parts import DOUGH
from ..page import Result
from ..words import figure, listing, plural, signed
from . import statistics
from .bakes import (
    DERIVED,
    Bake,
    as_it_was,
    bakes_of,
    least_scatter,
    plan_key,
    repeats_of,
    scatter_of,
    stands_apart,
)
from .fields import Note, trial_fields
from .reading import TrialError
from .recipes import Recipe
from .records import Trial, mean_of
from .telling import in_words, repeats_limit, sentences

MOST = 6
ON_FLOUR = ("inclusion", "dusting")  # written on total flour though not in the dough
SHEET = 4500  # characters of tables and sentences that one page holds in its usual size
PAIRED = 0.8  # share of each column's bakes that must lie on shared days, so that pairing hides next to none
_SAME = 1e-6
PAGE = (  # six columns, what came out and a picture of each on one sheet
    "@page{margin:9mm} body{max-width:none;font-size:8.5pt;line-height:1.25} h1{font-size:12pt;margin:0} "
    "table{font-size:10px!important;margin:2px 0!important;page-break-inside:avoid} p,ul{margin:2px 0} "
    "td,th{padding:0 5px!important} figure{display:inline-block;margin:2px 4px 2px 0;width:15.5%} "
    "img{max-width:100%;max-height:28mm} figcaption{font-size:7.5pt}"
)


@dataclass(frozen=True)
class Planned:
    """One planned figure across the columns; None where it was not noted."""

    what: str
    unit: str
    values: tuple
    digits: int = 1
    apart: tuple | None = None  # for figures of the bake: whether they differ beyond what repeats do

    @property
    def changed(self):
        """Whether each column differs from the first."""
        if self.apart is not None:
            return self.apart
        return tuple(_differs(self.values[0], value) for value in self.values)


@dataclass(frozen=True)
class Response:
    """One response across the columns: the means of each column's bakes, how many readings, differences."""

    name: str
    what: str
    unit: str
    digits: int
    bakes: tuple  # for each column a tuple of bake means
    readings: tuple  # for each column how many readings
    differences: tuple = field(repr=False)  # for each column after the first: Difference or None
    limits: tuple = field(repr=False)  # for each column after the first: repeat limit or None
    words: tuple = field(repr=False)

    @property
    def means(self):
        """Mean of each column's bakes; None where nothing was measured."""
        return tuple(sum(each) / len(each) if each else None for each in self.bakes)

    @property
    def beyond(self):
        """Whether each column after the first differs from it by more than repeats do; None where it isn't known."""
        return tuple(
            None if difference is None or limit is None else abs(difference.value) > limit
            for difference, limit in zip(self.differences, self.limits, strict=True)
        )


@dataclass(frozen=True)
class SideBySide(Result):
    """Two to six columns of bakes laid beside each other; the first is what the others are compared with."""

    names: tuple
    trials: tuple = field(repr=False)  # of each column
    planned: tuple = field(repr=False)  # Planned that differ
    same: int  # planned figures that do not
    unplanned: tuple = field(repr=False)  # Planned: controlled figures that differed though not planned
    responses: tuple = field(repr=False)
    notes: tuple = field(repr=False)

    named = False

    @property
    def columns(self):
        """Section, what, unit, each column's value; of what came out also bakes, readings, difference and words."""
        counts = (f"{name}: {what}" for name in self.names for what in ("bakes", "readings"))
        against = (f"{name}: {what}" for name in self.names[1:] for what in ("difference", "in words"))
        return "section", "what", "unit", *self.names, *counts, *against

    def frame_rows(self):
        """Return the rows of the frame: planned differently, differed though not planned, came out."""
        rest = (None,) * (4 * len(self.names) - 2)
        for section, some in (("planned", self.planned), ("not planned", self.unplanned)):
            yield from ((section, row.what, row.unit, *row.values, *rest) for row in some)
        for row in self.responses:
            counts = (n for pair in zip(map(len, row.bakes), row.readings, strict=True) for n in pair)
            values = (None if d is None else d.value for d in row.differences)
            against = (each for pair in zip(values, row.words, strict=True) for each in pair)
            yield "came out", row.what, row.unit, *row.means, *counts, *against

    def planned_tables(self):
        """Return what `page.table` takes of what was planned differently, and of what differed though not planned."""
        some = (("planned differently", self.planned), ("differed though not planned", self.unplanned))
        return [
            ([head, *self.names], [[_with_unit(row), *(_shown(v, row.digits) for v in row.values)] for row in rows])
            for head, rows in some
            if rows
        ]

    def came_out(self):
        """Return what `page.table` takes of what came out: means, how far from the first, bakes/readings."""
        two, rows = len(self.names) == 2, []
        for row in self.responses:
            cells = []
            for n, mean in enumerate(row.means):
                difference = row.differences[n - 1] if n and not two else None
                far = f" ({signed(difference.value, row.digits)}{' !' * bool(row.beyond[n - 1])})" if difference else ""
                counted = f"{len(row.bakes[n])}/{row.readings[n]}"
                cells.append("" if mean is None else f"{figure(mean, row.digits)}{far}; {counted}")
            limits = sorted(limit for limit in row.limits if limit is not None)
            ends = dict.fromkeys(figure(limit, row.digits) for limit in (*limits[:1], *limits[-1:]))
            rows.append(
                [_with_unit(row), *cells, row.words[0] if two else " to ".join(ends) and f"±{' to '.join(ends)}"]
            )
        last = f"{self.names[1]} against {self.names[0]}" if two else "repeats differ by"
        caption = "Means; bakes/readings"
        if not two:
            caption = f"Means (difference from {self.names[0]}, ! more than your repeats differ); bakes/readings"
        return ["came out", *self.names, last], rows, caption

    @property
    def beyond(self):
        """What is farther from the first than repeats differ, in words."""
        return tuple(
            f"{row.what}, {name} against {self.names[0]}: {words}"
            for row in self.responses
            for name, beyond, words in zip(self.names[1:], row.beyond, row.words, strict=True)
            if beyond
        )

    def _repr_html_(self):
        planned = "".join(f"<div>{page.table(*each)}</div>" for each in self.planned_tables())
        html = f'<div style="display:flex;flex-wrap:wrap;gap:0 24px">{planned}</div>'
        html += page.paragraphs([plural(self.same, "planned figure") + " the same." if self.same else ""])
        if not self.responses:
            return html + page.paragraphs(["Nothing was measured yet: enter heights, masses or scores.", *self.notes])
        beyond = page.items(self.beyond) if len(self.names) > 2 else ""
        return html + page.table(*self.came_out()) + (beyond and f"<ul>{beyond}</ul>") + page.paragraphs(self.notes)

    def page(self, book=None):
        """Return one printable HTML page, with the pictures of a book when it is given."""
        pictures = ""
        for name, photo, date in self._photos(book) if book is not None else ():
            alt = page.escape(f"{name}, {photo.view}, {date}")
            source = page.address(photo.picture, "image/jpeg")
            pictures += f'<figure><img alt="{alt}" src="{source}"><figcaption>{alt}</figcaption></figure>'
        marked = " (invented)" if any(trial.invented for column in self.trials for trial in column) else ""
        title = f"{listing(self.names)} side by side{marked}"
        body = f"<h1>{page.escape(title)}</h1>{page.table(*self._heads())}{self._repr_html_()}"
        # a sheet holds so many characters beside a row of photos; more are set smaller
        small = min(1.0, math.sqrt(SHEET / len(re.sub("<[^>]*>", "", body))))
        return page.sheet(title, f'<div style="zoom:{small:.2f}">{body}{pictures}</div>', PAGE)

    def _photos(self, book):
        """Return (column, Photo, date) of one photo a trial, of the view that most of them have."""
        found = [
            (name, photos, trial.date)
            for name, column in zip(self.names, self.trials, strict=True)
            for trial in column
            if (photos := book.photos(trial))
        ]
        views = Counter(view for _, photos, _ in found for view in {photo.view for photo in photos})
        return [(name, max(photos, key=lambda photo: views[photo.view]), date) for name, photos, date in found]

    def _heads(self):
        """Return what `page.table` takes of what each column is: name, date, verdict, next change."""
        most, rows = 240 // len(self.names), []  # characters that stay a few short lines in a column of six
        for name in ("name", "date", "verdict", "next_change"):
            every = [dict.fromkeys(str(getattr(trial, name)) for trial in column) for column in self.trials]
            cells = [listing(filter(None, some)) for some in every]
            cells = [cell if len(cell) <= most else f"{cell[: most - 1].rstrip()}\u2026" for cell in cells]
            if any(cells):
                rows.append([name.replace("_", " "), *cells])
        return ["", *self.names], rows


def _others(repeats, first, other):
    """Return the repeats without the bakes of two columns that repeat each other: they can't judge themselves."""
    kept, without = [], False
    ours, theirs = ({trial.key for bake in column for trial in bake.trials} for column in (first, other))
    for bakes in repeats:
        keys = [{trial.key for trial in bake.trials} for bake in bakes]
        if any(k & ours for k in keys) and any(k & theirs for k in keys):
            bakes, without = [bake for bake, k in zip(bakes, keys, strict=True) if not k & (ours | theirs)], True
        if len(bakes) > 1:
            kept.append(bakes)
    return kept if without else repeats


def _scatters(others, name):
    """Return the Scatter for each column; the same repeats are reckoned once."""
    found = {id(repeats): scatter_of(repeats, name) for repeats in {id(each): each for each in others}.values()}
    return [found[id(repeats)] for repeats in others]


def side_by_side(trials: Iterable, kitchen: Iterable[Trial] | None = None) -> SideBySide:
    """Return the SideBySide of two to six columns of bakes.

    trials: for each column a Trial, or several trials of one variant; the first column is the one compared with
    kitchen: trials, or a book, whose repeats tell how far bakes differ by themselves; else those in the columns

    Bakes are paired by day where nearly all share their days. Below four bakes there are dots and a range and no
    p-value; from four the 95 % interval of Student's t. Raises TrialError.

    >>> plain, rich = (Trial.of(name, "2025-03-04", height=mm) for name, mm in (("plain", 44), ("rich", 42)))
    >>> side_by_side([plain, rich]).to_frame()[["what", "plain", "rich"]].values.tolist()
    [['height', 44.0, 42.0]]
    """
    given = [(each,) if not isinstance(each, (tuple, list)) else tuple(each) for each in trials]
    if not 2 <= len(given) <= MOST:
        do = "choose those to compare; put repeats of one variant into one column"
        raise TrialError(must("side by side", f"2 to {MOST} columns", len(given), do))
    if not all(column and all(isinstance(t, Trial) for t in column) for column in given):
        raise TrialError(must("column", "a Trial or several", "something else", "take them from the book"))
    columns = tuple(bakes_of(column) for column in given)
    rows = _planned(given)
    planned = tuple(row for row in rows if any(row.changed))
    names = _names(given, planned)
    repeats = repeats_of(kitchen if kitchen is not None else [trial for column in given for trial in column])
    others = [repeats, *(_others(repeats, columns[0], column) for column in columns[1:])]
    unplanned = _unplanned(columns, {row.what for row in planned}, others)
    responses = tuple(_responses(columns, others))
    said = tuple(sentences(given, columns, names, rows, unplanned, responses))
    same = sum(None not in row.values and row not in planned for row in rows)
    return SideBySide(names, tuple(given), planned, same, unplanned, responses, said)


def response_key(name):
    """Return the name under which bakes know a response."""
    folded = str(name).strip().replace(" ", "_").casefold()
    return folded if folded in DERIVED else name


def described(name):
    """Return a response's words, unit and digits. Raises UnknownName.

    >>> described("crumb dent day 1")
    ('crumb dent, day 1', 'mm', 1)
    """
    if response_key(name) in DERIVED:
        return DERIVED[response_key(name)]
    note = Note.of(name)
    return str(note).replace(" day ", ", day "), note.field.unit, max(note.field.digits, 1)


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


def told_apart(formulas):
    """Return {name: Formula}; those of one name are told apart by what differs, else by their file or number.

    >>> from kit import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "milk": 56, "butter": 18})
    >>> list(told_apart([bun, bun.vary(butter=25), Formula.from_weights("loaf", {"flour": 100, "milk": 60})]))
    ['bun, unsalted butter 18 %', 'bun, unsalted butter 25 %', 'loaf']
    """
    found = {}
    for name in dict.fromkeys(formula.name for formula in formulas):
        some = [formula for formula in formulas if formula.name == name]
        figures = [_figures(Recipe.of(formula)) for formula in some]
        every = dict.fromkeys(what for own in figures for what in own)
        differ = [what for what in every if len({round(own.get(what, 0.0), 6) for own in figures}) > 1]
        for number, (formula, own) in enumerate(zip(some, figures, strict=True), 1):
            words = [f"{what} {own.get((what, unit), 0.0):.4g} {unit.partition(' ')[0]}" for what, unit in differ[:3]]
            words += [f"{len(differ) - 3} more differ"] * (len(differ) > 3)
            told = ", ".join([name, *words] if len(some) > 1 else [name])
            if told in found:
                told += f", {formula.path.name if formula.path else number}"
            found[told if told not in found else f"{told}, {number}"] = formula
    return found


def _figures(recipe):
    """Return {(what, unit): value} of a formula's lines and of what a piece has of each part."""
    lines = {(what, unit): value for what, unit, value in _lines(recipe)}
    return lines | {(f"{kind} of a piece", "g"): grams for kind, grams in recipe.pieces.items()}


def _planned(given):
    """Return a Planned for every figure that any column planned: lines, pieces, controlled figures."""
    recipes = [column[0].plan for column in given]
    every = [_figures(recipe) if recipe else None for recipe in recipes]
    rows = []
    for what, unit in dict.fromkeys(key for own in every if own for key in own):
        # an ingredient that one formula lacks is 0 there, not unknown
        values = tuple(None if own is None else own.get((what, unit), 0.0) for own in every)
        rows.append(Planned(what, unit, values, 1 if unit == "g" else 2))
    fields = trial_fields()
    for target in [fields[name] for name in dict.fromkeys(name for column in given for name in column[0].planned)]:
        plans = [mean_of(column[0].value(f"planned {target.name}")) for column in given]
        were = [as_it_was(Bake(column), target) for column in given]  # compared with where nothing was planned
        found = tuple(was if plan is None else plan for plan, was in zip(plans, were, strict=True))
        apart = tuple(
            None not in (found[0], value)
            and (stands_apart(target.name, found[0], value) if None in (plans[0], plan) else _differs(found[0], value))
            for plan, value in zip(plans, found, strict=True)
        )
        rows.append(Planned(target.words, target.spoken_unit, found, target.digits, apart))
    return rows


def _lines(recipe):
    """Yield (what, unit, value) of a formula: the dough as a whole, each preferment on its own flour, other parts."""
    whole = {}
    for part, lines in recipe.lines.items():
        kind = recipe.kinds[part]
        if kind not in DOUGH:
            for key, value in lines.items():
                base = "% of flour" if kind in ON_FLOUR else "% of its base"
                yield f"{recipe.named(key)['name']} in the {part}", base, value
            continue
        for key, value in lines.items():
            whole[key] = whole.get(key, 0.0) + value
        flour = sum(value for key, value in lines.items() if recipe.named(key)["kind"] == "flour")
        if kind != "dough" and flour:
            yield f"flour in the {part}", "% of flour", flour
            for key, value in lines.items():
                yield f"{recipe.named(key)['name']} in the {part}", f"% of the {part}'s flour", 100 * value / flour
    for key, value in whole.items():
        yield recipe.named(key)["name"], "% of flour", value


def differed_unplanned(columns):
    """Return Planned rows of what differed between two columns of Bakes though not planned, by their own repeats."""
    trials = [[trial for bake in column for trial in bake.trials] for column in columns]
    repeats = repeats_of([trial for column in trials for trial in column])
    planned = {row.what for row in _planned(trials) if any(row.changed)}
    return tuple(row for row in _unplanned(columns, planned, [repeats] * 2) if row.changed[1])


def _unplanned(columns, planned, others):
    """Return Planned rows of controlled figures that were set otherwise, or differed by more than between repeats."""
    rows = _weighed_otherwise(columns)
    for target in trial_fields().values():
        if target.group not in ("controlled", "lot") or target.words in planned:
            continue
        if target.unit == "text":
            noted = [sorted({was for bake in column if (was := as_it_was(bake, target))}) for column in columns]
            values = [listing(some) or None for some in noted]
            apart = [_differs(values[0], value) for value in values]
        else:
            means = [[m for bake in column if (m := bake.mean(target.name)) is not None] for column in columns]
            values = [sum(some) / len(some) if some else None for some in means]
            apart = [
                None not in (values[0], value)
                and _set_apart(target, values[0], value, repeats_limit(scatter, len(means[0]), len(some)) or 0.0)
                for some, value, scatter in zip(means, values, _scatters(others, target.name), strict=True)
            ]
        if any(apart):
            rows.append(Planned(target.words, target.spoken_unit, tuple(values), max(target.digits, 1), tuple(apart)))
    return tuple(rows)


def _set_apart(target, first, value, limit):
    """Return whether two means were set apart, or differ beyond what the instrument reads and repeats do."""
    beyond = abs(value - first) > max(2 * target.resolution, limit) + _SAME
    return beyond or (bool(target.no_repeat_from) and stands_apart(target.name, first, value))


def _weighed_otherwise(columns):
    """Return Planned rows of what went into the bowls in another proportion than planned."""
    slipped = [next((b.trials[0] for b in c if b.trials[0].weighed_otherwise), c[0].trials[0]) for c in columns]
    off = [{(part, key): (was, now) for part, key, was, now in trial.weighed_otherwise} for trial in slipped]
    rows = []
    for part, key in dict.fromkeys(line for some in off for line in some):
        apart = tuple(some.get((part, key)) != off[0].get((part, key)) for some in off)
        if any(apart):
            recipes = [trial.recipe for trial in slipped]
            values = tuple(recipe and recipe.lines.get(part, {}).get(key, 0.0) for recipe in recipes)
            recipe = next(recipe for recipe in recipes if recipe and key in recipe.lines.get(part, {}))
            unit = "% of flour" if recipe.kinds[part] in (*DOUGH, *ON_FLOUR) else "% of its base"
            rows.append(Planned(f"{recipe.named(key)['name']} weighed for the {part}", unit, values, 2, apart))
    return rows


def _response_names(columns):
    trials = [trial for column in columns for bake in column for trial in bake.trials]
    names = [f.name for f in trial_fields().values() if f.group == "measured"]
    names += list(DERIVED)
    notes = sorted({note for trial in trials for note in trial.noted if note.day is not None})
    names += [f"{note.name} day {note.day}" for note in notes]
    names += [f.name for f in trial_fields().values() if f.group == "sensory"]
    return [name for name in names if any(bake.readings(name) for column in columns for bake in column)]


def _responses(columns, others):
    for name in _response_names(columns):
        what, unit, digits = described(name)
        bakes = tuple(tuple(m for bake in column if (m := bake.mean(name)) is not None) for column in columns)
        readings = tuple(sum(len(bake.readings(name)) for bake in column) for column in columns)
        differences, limits, words = [], [], []
        scatters = _scatters(others, name)
        unknown = "no plan was repeated" if scatters[0] is None else "nothing else was repeated"
        for n in range(1, len(columns)):
            difference, how = _difference(columns[0], columns[n], name) if bakes[0] and bakes[n] else (None, "")
            scatter, limit = scatters[n], None
            if difference is not None:
                counted = (difference.n,) * 2 if "paired" in how else (len(bakes[0]), len(bakes[n]))
                limit = repeats_limit(scatter, *counted)
            differences.append(difference)
            limits.append(limit)
            words.append(in_words(difference, how, limit, scatter or unknown, unit, digits))
        yield Response(name, what, unit, digits, bakes, readings, tuple(differences), tuple(limits), tuple(words))


def _difference(first, other, name):
    """Return (Difference, what it rests on) of two columns: paired by day when nearly all bakes share their days."""
    sides = []
    for column in (first, other):
        days = {}
        for bake in column:
            if (value := bake.mean(name)) is not None:
                days.setdefault(bake.date, []).append(value)
        sides.append(days)
    shared = sorted(sides[0].keys() & sides[1].keys())
    sizes = [sum(map(len, days.values())) for days in sides]
    held = [sum(len(days[day]) for day in shared) for days in sides]
    least = least_scatter(name, (*first, *other))
    # several mixes of a single shared day are bakes against bakes: one pair would hide them
    if (len(shared) > 1 or sizes == [1, 1]) and all(
        h >= PAIRED * size > 0 for h, size in zip(held, sizes, strict=True)
    ):
        left = sum(sizes) - sum(held)
        how = f"{plural(len(shared), 'day')} paired" + (f", {plural(left, 'bake')} left out" if left else "")
        return statistics.paired(*([np.mean(days[day]) for day in shared] for days in sides), least), how
    how = "only some days shared, the scatter of days in it" if shared else "days not shared, their scatter in it"
    if len(sides[0].keys() | sides[1].keys()) == 1:
        how = "all of one day, what days do is not in it"
    values = ([value for some in days.values() for value in some] for days in sides)
    return statistics.unpaired(*values, least), f"{sizes[0]} and {plural(sizes[1], 'bake')}, {how}"


def _differs(first, value):
    if first is None or value is None:
        return False
    if isinstance(first, str) or isinstance(value, str):
        return first != value
    return not math.isclose(first, value, rel_tol=_SAME, abs_tol=_SAME)


def _shown(value, digits):
    return "" if value is None else value if isinstance(value, str) else figure(value, digits)


def _with_unit(row):
    return f"{row.what}, {row.unit}" if row.unit else row.what
