"""What a comparison of bakes says in words: a difference beside what repeats do, and what to mind before judging."""

import itertools
import math

from ..words import figure, listing, plural, signed
from . import statistics
from .bakes import Bake, bakes_of, plan_key, set_alike, set_apart, settings_of
from .fields import find


def in_words(difference, how, limit, scatter, unit, digits):
    """Return a difference in words; scatter is a Scatter, or why there is none."""
    if difference is None:
        return "not measured in both"
    text = f"{signed(difference.value, digits)} {'points' if ' to ' in unit else unit}"
    if difference.p is not None:
        text += f"; 95 % interval {_span(difference, digits)}, {how}"
        text += ", no narrower than the instrument reads" if difference.read else ""
        if difference.low <= 0 <= difference.high:
            far = difference.high if difference.value >= 0 else difference.low
            text += f": it may be none, or as much as {signed(far, digits)}"
        return text + (
            "" if limit is None else f" (your repeats differ by up to ±{figure(limit, digits)}{scatter.words})"
        )
    text += f"; from {_span(difference, digits)}, {how}" if difference.kind == "range" else "; one bake each"
    if limit is None:
        why = scatter if isinstance(scatter, str) else "your only repeats are one pair of bakes, too few to tell"
        return f"{text}; {why}, so how far bakes differ by themselves is not known"
    than = "smaller" if abs(difference.value) <= limit else "more"
    repeated = f"{plural(scatter.plans, 'plan')} repeated{scatter.words}"
    return f"{text}; {than} than your repeats differ (±{figure(limit, digits)}, {repeated})"


def repeats_limit(scatter, first, other):
    """Return how far means of so many bakes differ by themselves [unit of the Scatter]; None where it isn't known."""
    if scatter is None or scatter.few:
        return None
    return statistics.repeat_limit(scatter.value, scatter.df, first, other)


def set_aside(name, rows):
    """Return in words what of one side differed though not planned."""
    return (
        f"{name}: {listing(row.what for row in rows)} differed though not planned, by more than between repeats; "
        "the cause may lie there."
    )


def _span(difference, digits):
    return f"{figure(difference.low, digits)} to {figure(difference.high, digits)}"


def sentences(given, columns, names, rows, unplanned, responses):
    """Yield what to mind before judging a comparison."""
    settings = [settings_of(Bake(column)) for column in given]
    for n in range(1, len(given)):
        beside = f"{names[n]} against {names[0]}"
        changes = _changes([row for row in rows if row.changed[n]], n)
        unknown = [
            f"{row.what} is not known of {names[0 if row.values[0] is None else n]}"
            for row in rows
            if row.apart is not None and (row.values[0] is None) != (row.values[n] is None)
        ]
        if len(changes) > 1:
            yield (
                f"{beside}: {listing(changes)} were changed together, so the cause of a difference can't be told. "
                "Change one at a time, or bake the combinations."
            )
        if unknown:
            yield f"{beside}: {listing(unknown)}, so they can't be called alike."
        elif not changes and given[n][0].planned_formula and given[0][0].planned_formula:
            otherwise = _spoken(set_apart(settings[0], settings[n]))
            repeat = "a repeat, and its differences are what repeats do"
            is_none = f"but {listing(otherwise)} differed: no repeat"
            yield f"{names[n]} was planned as {names[0]}{f', {is_none}' if otherwise else f': {repeat}'}."
        if aside := [row for row in unplanned if row.changed[n]]:
            yield set_aside(names[n], aside)
    for name, column, trials in zip(names, columns, given, strict=True):
        if len(column) < len(trials):
            mixes = "" if all(trial.mix for trial in trials) else " (name the mixes, if each was mixed by itself)"
            yield (
                f"{name}: {plural(len(trials), 'entry', 'entries')} of one day, formula and mix are readings of "
                f"{plural(len(column), 'bake')}, not {len(trials)} bakes{mixes}."
            )
        if len({plan_key(trial) for trial in trials}) > 1:
            yield f"{name}: not all of its trials were planned alike; the plan of the first is shown."
        elif len(groups := set_alike(column)) > 1:
            first, *rest = (settings_of(group[0]) for group in groups)
            otherwise = _spoken(what for each in rest for what in set_apart(first, each))
            yield f"{name}: its bakes are not repeats of each other, {listing(otherwise)} differed."
    of_bake = {t.key: n for n, b in enumerate(bakes_of([t for column in given for t in column])) for t in b.trials}
    for (one, trials), (other, more) in itertools.combinations(zip(names, given, strict=True), 2):
        if of_bake[trials[0].key] == of_bake[more[0].key]:
            yield f"{other} and {one} are readings of one bake: their difference is not one of bakes."
    judged = sum(
        difference is not None and (difference.p is not None or limit is not None)
        for row in responses
        for difference, limit in zip(row.differences, row.limits, strict=True)
    )
    if judged > 5:
        yield (
            f"Of {judged} comparisons at 95 %, with intervals or with what repeats do, one in twenty goes beyond by "
            "chance: judge by the response chosen before baking; the others describe."
        )
    if responses and all(len(bakes) < statistics.FEWEST for row in responses for bakes in row.bakes):
        yield "Below four bakes there are dots and a range, and no probability; bake pairs on four days to decide."


def _changes(rows, n):
    """Return in words each change; a swap gram for gram in one part, of what is then new or gone, is one change."""
    moved = {row: row.values[n] - row.values[0] for row in rows if row.unit}
    said = {row.what: row for row in rows}
    for less, more in itertools.permutations(moved, 2):
        inside = less.what.partition(" in the ")[2]
        swapped = moved[less] < 0 and math.isclose(moved[more], -moved[less], rel_tol=1e-6)
        swapped = swapped and 0 in (less.values[n], more.values[0]) and {less.what, more.what} <= said.keys()
        if swapped and less.unit == more.unit and more.what.partition(" in the ")[2] == inside:
            del said[less.what], said[more.what]
            gone = less.what.partition(" in the ")[0] if inside else less.what
            said = {f"{more.what} for {gone}": more} | said
    return list(said)


def _spoken(settings):
    """Return the words of what was set apart; lines and additions are all what went into the bowls."""
    words = (
        "what went into the bowls" if isinstance(what, tuple) else what if what == "formula" else find(what).words
        for what in settings
    )
    return list(dict.fromkeys(words))
