"""Bakes side by side: what was planned differently, what came out different, and whether that is more than repeats do.

The unit is the bake. Readings of several pieces are averaged within their bake before anything is compared.
"""

import math
import re
from collections import Counter, defaultdict
from dataclasses import dataclass, field

from .. import page
from ..errors import must
from ..formula.parts import DOUGH
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
from .fields import Note, TrialError, find, trial_fields
from .recipes import Recipe
from .records import Trial, mean_of
from .telling import in_words, repeats_limit, sentences

MOST = 6
ON_FLOUR = ("inclusion", "dusting")  # written on total flour though not in the dough
SHEET = 4500  # characters of tables and sentences that one page holds in its usual size
IN_WORDS = 6  # differences said in words on a page of three and more; the others are marked
PAIRED = 0.8  # share of each column's bakes that must lie on shared days, so that pairing hides next to none
_SAME = 1e-6


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
class SideBySide:
    """Two to six columns of bakes laid beside each other; the first is what the others are compared with."""

    names: tuple
    columns: tuple = field(repr=False)  # tuples of Bake
    planned: tuple = field(repr=False)  # Planned that differ
    views: tuple = field(repr=False)  # the same ingredients on the dough and in a piece
    same: int  # planned figures that do not
    unplanned: tuple = field(repr=False)  # Planned: controlled figures that differed though not planned
    responses: tuple = field(repr=False)
    notes: tuple = field(repr=False)

    def to_frame(self):
        """Return a DataFrame: what was planned differently, what differed unplanned, what came out, with n."""
        import pandas as pd

        rows = []
        for section, some in (("planned", self.planned), ("that is", self.views), ("not planned", self.unplanned)):
            for row in some:
                rows.append(
                    {
                        "section": section,
                        "what": row.what,
                        "unit": row.unit,
                        **dict(zip(self.names, row.values, strict=True)),
                    }
                )
        for row in self.responses:
            made = {
                "section": "came out",
                "what": row.what,
                "unit": row.unit,
                **dict(zip(self.names, row.means, strict=True)),
            }
            for name, bakes, readings in zip(self.names, row.bakes, row.readings, strict=True):
                made[f"{name}: bakes"], made[f"{name}: readings"] = len(bakes), readings
            for name, difference, words in zip(self.names[1:], row.differences, row.words, strict=True):
                made[f"{name}: difference"] = None if difference is None else difference.value
                made[f"{name}: in words"] = words
            rows.append(made)
        return pd.DataFrame(rows)

    def planned_tables(self):
        """Return as HTML what was planned differently, and what differed though not planned."""
        found = []
        for head, some in (
            ("planned differently", (*self.planned, *self.views)),
            ("differed though not planned", self.unplanned),
        ):
            rows = [
                [f"{row.what}, {row.unit}" if row.unit else row.what, *(_shown(v, row.digits) for v in row.values)]
                for row in some
            ]
            if rows:
                found.append(f"<div>{page.table([head, *self.names], rows)}</div>")
        html = f'<div style="display:flex;flex-wrap:wrap;gap:0 24px">{"".join(found)}</div>' if found else ""
        if self.same:
            html += f"<p>{page.escape(plural(self.same, 'planned figure') + ' the same.')}</p>"
        return html

    def came_out_table(self, most=None):
        """Return as HTML what came out, and how far it is from the first; most: items in words, None for all."""
        if not self.responses:
            return "<p>Nothing was measured yet: enter heights, masses or scores.</p>"
        return self._each_in_words() if len(self.names) == 2 else self._many_in_figures(most)

    def _repr_html_(self, most=None):
        said = page.paragraphs(self.notes)
        return self.planned_tables() + self.came_out_table(most) + said

    def _each_in_words(self):
        rows = []
        for row in self.responses:
            cells = [f"{row.what}, {row.unit}"]
            for mean, bakes, readings in zip(row.means, row.bakes, row.readings, strict=True):
                span = (
                    f" ({figure(min(bakes), row.digits)} to {figure(max(bakes), row.digits)})" if len(bakes) > 1 else ""
                )
                counted = f"{plural(len(bakes), 'bake')}, {plural(readings, 'reading')}"
                cells.append("" if mean is None else f"{figure(mean, row.digits)}{span}; {counted}")
            rows.append(cells + list(row.words))
        return page.table(["came out", *self.names, f"{self.names[1]} against {self.names[0]}"], rows)

    def _many_in_figures(self, most):
        """Words for each of five differences would not fit on a page: figures, and words for what stands out."""
        rows, said = [], []
        for row in self.responses:
            cells = [f"{row.what}, {row.unit}"]
            for n, (mean, bakes, readings) in enumerate(zip(row.means, row.bakes, row.readings, strict=True)):
                difference, beyond = (row.differences[n - 1], row.beyond[n - 1]) if n else (None, False)
                change = f" ({signed(difference.value, row.digits)}{' !' if beyond else ''})" if difference else ""
                shown = "" if mean is None else f"{figure(mean, row.digits)}{change}; {len(bakes)}/{readings}"
                cells.append(shown)
                if beyond:
                    said.append(f"{row.what}, {self.names[n]} against {self.names[0]}: {row.words[n - 1]}")
            limits = [limit for limit in row.limits if limit is not None]
            ends = dict.fromkeys(figure(limit, row.digits) for limit in (min(limits), max(limits))) if limits else ()
            rows.append([*cells, f"±{' to '.join(ends)}" if ends else ""])
        heads = ["came out", *self.names, "repeats differ by"]
        caption = f"Means (difference from {self.names[0]}, ! more than your repeats differ); bakes/readings"
        if most is not None and len(said) > most:
            said[most:] = [f"{len(said) - most} more are marked ! in the table"]
        items = page.items(said)
        return page.table(heads, rows, caption) + (f"<ul>{items}</ul>" if items else "")

    def page(self, book=None):
        """Return one printable HTML page, with the pictures of a book when it is given."""
        pictures = ""
        for name, photo, date in self._photos(book) if book is not None else ():
            alt = page.escape(f"{name}, {photo.view}, {date}")
            pictures += (
                f'<figure><img alt="{alt}" src="{page.address(photo.picture, "image/jpeg")}">'
                f"<figcaption>{alt}</figcaption></figure>"
            )
        title = f"{listing(self.names)} side by side"
        marked = " (invented)" if any(t.invented for column in self.columns for b in column for t in b.trials) else ""
        style = (  # six columns, what came out and a picture of each on one sheet
            "@page{margin:9mm} body{max-width:none;font-size:8.5pt;line-height:1.25} h1{font-size:12pt;margin:0} "
            "table{font-size:10px!important;margin:2px 0!important;page-break-inside:avoid} p,ul{margin:2px 0} "
            "td,th{padding:0 5px!important} figure{display:inline-block;margin:2px 4px 2px 0;width:15.5%} "
            "img{max-width:100%;max-height:28mm} figcaption{font-size:7.5pt}"
        )
        body = f"<h1>{page.escape(title + marked)}</h1>{self._heads()}{self._repr_html_(IN_WORDS)}"
        # a sheet holds so many characters beside a row of photos; more are set smaller
        small = min(1.0, math.sqrt(SHEET / len(re.sub("<[^>]*>", "", body))))
        return page.sheet(title, f'<div style="zoom:{small:.2f}">{body}{pictures}</div>', style)

    def _photos(self, book):
        """Return (column, Photo, date): all of up to three trials; else one a trial, beyond six trials one a column,
        of the view that most of them have."""
        found = [
            [(name, photos, trial.date) for bake in column for trial in bake.trials if (photos := book.photos(trial))]
            for name, column in zip(self.names, self.columns, strict=True)
        ]
        trials = sum(len(bake.trials) for column in self.columns for bake in column)
        if trials <= 3:
            return [(name, photo, date) for column in found for name, photos, date in column for photo in photos]
        views = Counter(view for column in found for _, photos, _ in column for view in {p.view for p in photos})
        chosen = [column[:1] if trials > MOST else column for column in found]
        return [
            (name, max(photos, key=lambda photo: views[photo.view]), date)
            for column in chosen
            for name, photos, date in column
        ]

    def _heads(self):
        """Return as HTML what each column is: name, date, verdict, next change."""
        every = [[trial for bake in column for trial in bake.trials] for column in self.columns]

        def row(words, of, most):
            cells = [listing(dict.fromkeys(said for trial in trials if (said := of(trial)))) for trials in every]
            short = [cell if len(cell) <= most else f"{cell[: most - 1].rstrip()}\u2026" for cell in cells]
            return [[words, *short]] if any(cells) else []

        days = [sorted({trial.date.isoformat() for trial in trials}) for trials in every]
        dates = [each[0] if len(each) == 1 else f"{each[0]} to {each[-1]}" for each in days]
        most = 240 // len(self.names)  # characters that stay a few short lines in a column of six
        rows = [
            *row("name", lambda trial: trial.name, most),
            ["date", *dates],
            *row("verdict", lambda trial: trial.verdict, most),
            *row("next change", lambda trial: trial.next_change, 2 * most),
        ]
        return page.table(["", *self.names], rows)


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
    found = {}
    for repeats in others:
        if id(repeats) not in found:
            found[id(repeats)] = scatter_of(repeats, name)
    return [found[id(repeats)] for repeats in others]


def side_by_side(trials, kitchen=None):
    """Return the SideBySide of two to six columns, each a Trial or several trials of one variant.

    kitchen: trials whose repeats tell how far bakes differ by themselves; else those in the columns. The first column
    is the one compared with. Bakes are paired by day where nearly all share their days. Below four bakes there are
    dots and a range and no p-value; from four the 95 % interval of Student's t. Raises TrialError.
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
    known = [row for row in rows if all(value is not None for value in row.values)]
    everybody = list(kitchen) if kitchen is not None else [trial for column in given for trial in column]
    repeats = repeats_of(everybody)
    others = [repeats, *(_others(repeats, columns[0], column) for column in columns[1:])]
    unplanned = _unplanned(columns, {row.what for row in planned}, others)
    responses = tuple(_responses(columns, others))
    said = tuple(sentences(given, columns, names, rows, unplanned, responses))
    same = len(known) - sum(row in planned for row in known)
    views = _three_ways(planned, given)
    return SideBySide(names, columns, planned, views, same, unplanned, responses, said)


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
    recipes = [column[0].planned_formula or column[0].weighed_formula for column in given]
    order, values = [], {}

    def put(what, unit, column, value, digits=1):
        if (what, unit) not in values:
            values[what, unit] = [None] * len(given)
            order.append((what, unit, digits))
        values[what, unit][column] = value

    for n, recipe in enumerate(recipes):
        for (what, unit), value in _figures(recipe).items() if recipe else ():
            put(what, unit, n, value, 1 if unit == "g" else 2)
    for what, unit, _ in order:  # an ingredient that one formula lacks is 0 there, not unknown
        values[what, unit] = [
            0.0 if value is None and recipe is not None else value
            for value, recipe in zip(values[what, unit], recipes, strict=True)
        ]
    rows = [Planned(what, unit, tuple(values[what, unit]), digits) for what, unit, digits in order]
    for name in dict.fromkeys(name for column in given for name in column[0].planned):
        target = find(name)
        plans = [mean_of(column[0].value(f"planned {name}")) for column in given]
        were = [as_it_was(Bake(column), target) for column in given]  # compared with where nothing was planned
        found = tuple(was if plan is None else plan for plan, was in zip(plans, were, strict=True))
        apart = tuple(
            None not in (found[0], value)
            and (stands_apart(name, found[0], value) if None in (plans[0], plan) else _differs(found[0], value))
            for plan, value in zip(plans, found, strict=True)
        )
        rows.append(Planned(target.words, "" if target.unit == "text" else target.unit, found, target.digits, apart))
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


def _three_ways(planned, given):
    """Return Planned rows that show the changed ingredients of the dough in a piece and on the dough as well."""
    recipes = [column[0].planned_formula or column[0].weighed_formula for column in given]
    rows = []
    if None in recipes:
        return ()
    totals = [sum(v for p, lines in r.lines.items() if r.kinds[p] in DOUGH for v in lines.values()) for r in recipes]
    in_dough = ((r, key) for r in recipes for p, lines in r.lines.items() if r.kinds[p] in DOUGH for key in lines)
    names = {recipe.named(key)["name"] for recipe, key in in_dough}
    for row in planned:
        if row.what in names and row.unit == "% of flour":
            shares = [value / total for value, total in zip(row.values, totals, strict=True)]
            rows.append(Planned(row.what, "% of dough", tuple(100 * share for share in shares), 2))
            grams = tuple(share * r.pieces["dough"] for share, r in zip(shares, recipes, strict=True))
            rows.append(Planned(row.what, "g in a piece", grams, 2))
    return tuple(rows)


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
            apart = []
            for some, value, scatter in zip(means, values, _scatters(others, target.name), strict=True):
                if None in (values[0], value):
                    apart.append(False)
                    continue
                limit = max(2 * target.resolution, repeats_limit(scatter, len(means[0]), len(some)) or 0.0)
                apart.append(
                    abs(value - values[0]) > limit + _SAME
                    or (target.no_repeat_from and stands_apart(target.name, values[0], value))
                )
        if any(apart):
            unit = "" if target.unit == "text" else target.unit
            rows.append(Planned(target.words, unit, tuple(values), max(target.digits, 1), tuple(apart)))
    return tuple(rows)


def _weighed_otherwise(columns):
    """Return Planned rows of what went into the bowls in another proportion than planned."""
    off, recipes = [], []
    for column in columns:
        slipped = next((b.trials[0] for b in column if b.trials[0].weighed_otherwise), column[0].trials[0])
        off.append({(part, key): (was, now) for part, key, was, now in slipped.weighed_otherwise})
        recipes.append(slipped.weighed_formula or slipped.planned_formula)
    rows = []
    for part, key in dict.fromkeys(line for some in off for line in some):
        values = tuple(recipe and recipe.lines.get(part, {}).get(key, 0.0) for recipe in recipes)
        apart = tuple(
            ((part, key) in some) != ((part, key) in off[0])
            or ((part, key) in some and some[part, key] != off[0][part, key])
            for some in off
        )
        if any(apart):
            recipe = next(recipe for recipe in recipes if recipe and key in recipe.lines.get(part, {}))
            kind = recipe.kinds[part]
            unit = "% of flour" if kind in (*DOUGH, *ON_FLOUR) else "% of its base"
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

    def by_day(column):
        days = defaultdict(list)
        for bake in column:
            if (value := bake.mean(name)) is not None:
                days[bake.date].append(value)
        return days

    ours, theirs = by_day(first), by_day(other)
    shared = sorted(set(ours) & set(theirs))
    sizes = [sum(map(len, days.values())) for days in (ours, theirs)]
    held = [sum(len(days[day]) for day in shared) for days in (ours, theirs)]
    least = least_scatter(name, (*first, *other))
    # several mixes of a single shared day are bakes against bakes: one pair would hide them
    if (len(shared) > 1 or sizes == [1, 1]) and all(
        here >= PAIRED * size > 0 for here, size in zip(held, sizes, strict=True)
    ):
        pairs = [[sum(days[day]) / len(days[day]) for day in shared] for days in (ours, theirs)]
        left = sum(sizes) - sum(held)
        how = f"{plural(len(shared), 'day')} paired" + (f", {plural(left, 'bake')} left out" if left else "")
        return statistics.paired(*pairs, least), how
    means = [[value for some in days.values() for value in some] for days in (ours, theirs)]
    how = "days not shared, their scatter in it"
    if len({*ours, *theirs}) == 1:
        how = "all of one day, what days do is not in it"
    elif shared:
        how = "only some days shared, the scatter of days in it"
    return statistics.unpaired(*means, least), f"{sizes[0]} and {plural(sizes[1], 'bake')}, {how}"


def _differs(first, value):
    if first is None or value is None:
        return False
    if isinstance(first, str) or isinstance(value, str):
        return first != value
    return not math.isclose(first, value, rel_tol=_SAME, abs_tol=_SAME)


def _shown(value, digits):
    return "" if value is None else value if isinstance(value, str) else figure(value, digits)
