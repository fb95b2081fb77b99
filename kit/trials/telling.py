"""What a comparison of bakes says: two or three sentences first, then what to mind before judging."""

import functools
import itertools
import math
from dataclasses import dataclass

from .. import tables
from ..words import capital, figure, listing, plural, signed, without_zeros
from . import statistics
from .bakes import bakes_of, plan_key, set_alike, set_apart, settings_of
from .fields import find

LISTED = 3  # things named in one breath; of the others it is said how many they are
OFFSETS = {"min": ("longer", "shorter"), "°C": ("warmer", "cooler")}  # else more and less


@dataclass(frozen=True)
class Against:
    """How bakes differ from those they are laid against, in words too; None and "" for what isn't known."""

    difference: statistics.Difference | None = None
    limit: float | None = None  # what the kitchen's repeats differ by
    words: str = "not measured in both"
    unknown: str = ""  # why nothing judges it

    @property
    def share(self):
        """How far it is, 1 being as far as scatter goes: half its interval, else the repeats' limit; None: unknown."""
        d = self.difference
        far = None if d is None else d.half if d.p is not None else self.limit
        if far is None:
            return None
        return abs(d.value) / far if far else math.inf if d.value else 0.0

    @property
    def beyond(self):
        """Whether it is more than scatter; None where that isn't known."""
        return None if self.share is None else self.share > 1


def judge(difference, how, counts, scatter, unit, digits):
    """Return Against of a Difference between means of so many bakes; scatter is a Scatter, or why there is none."""
    if difference is None:
        return Against()
    unknown = scatter if isinstance(scatter, str) else ""
    if not unknown and scatter.few:
        unknown = "your only repeats are one pair of bakes, too few to tell"
    limit = None if unknown else repeats_limit(scatter, *counts)
    text = f"{signed(difference.value, digits)} {'points' if ' to ' in unit else unit}"
    span = f"{figure(difference.low, digits)} to {figure(difference.high, digits)}"
    if difference.p is not None:
        text += f"; 95 % interval {span}, {how}" + ", no narrower than the instrument reads" * difference.read
        return Against(difference, limit, text + ": it may be none" * (difference.low <= 0 <= difference.high))
    text += f"; from {span}, {how}" if difference.kind == "range" else "; one bake each"
    if unknown:
        text += f"; {unknown}, so how far bakes differ by themselves is not known"
        return Against(difference, None, text, unknown)
    than = "smaller" if abs(difference.value) <= limit else "more"
    text += f"; {than} than your repeats differ (±{figure(limit, digits)}{scatter.words})"
    return Against(difference, limit, text)


def repeats_limit(scatter, first, other):
    """Return how far means of so many bakes differ by themselves [unit of the Scatter]; None where it isn't known."""
    if scatter is None or scatter.few:
        return None
    return statistics.repeat_limit(scatter.value, scatter.df, first, other)


# the verdict


def _said(what, **figures):
    """Return the sentences of comparison_words.csv about something whose figures are there."""
    return tables.told("comparison_words", figures, what=what)


@functools.cache
def _words():
    """Return {response: (place among what bakers decide by, word for more of it, for less)}."""
    return {row.response: (n, row.more, row.less) for n, row in enumerate(tables.table("response_words").rows)}


def _base(row):
    name, _, day = row.name.partition(" day ")
    return name, day


def by_weight(rows):
    """Return Responses in the order bakers decide by, of one thing the last day first."""
    place = {name: n for name, (n, *_) in _words().items()}
    return sorted(rows, key=lambda row: (place.get(_base(row)[0], len(place)), -int(_base(row)[1] or 0)))


def moved(row, n):
    """Return which way a Response of a column moved, in a word or two."""
    name, day = _base(row)
    _, more, less = _words().get(
        name, (0, f"{row.what.partition(',')[0]} higher", f"{row.what.partition(',')[0]} lower")
    )
    return (more if row.against[n].difference.value > 0 else less) + f" on day {day}" * bool(day)


def _far(row, n):
    unit = "points" if " to " in row.unit else row.unit.partition(" of ")[0]
    return "" if " per " in row.unit else f" by {figure(abs(row.against[n].difference.value), row.digits)} {unit}"


def came_out(row, n):
    """Return how a Response of a column differs from the first, in words: softer on day 2 by 1.7 mm."""
    return moved(row, n) + _far(row, n)


def told(rows, n, most=LISTED):
    """Return in words what Responses differ in; of one thing on several days together, the opposite with a but."""
    groups: dict[str, list] = {}
    for row in by_weight(rows)[:most]:
        groups.setdefault(_base(row)[0], []).append(row)
    said = []
    for some in groups.values():
        words, way = "", None
        for row in sorted(some, key=lambda row: int(_base(row)[1] or 0)):
            up, text = row.against[n].difference.value > 0, came_out(row, n)
            words += f" and {text[text.index('on day') :]}" if up == way else f"{' but ' * bool(words)}{text}"
            way = up
        said.append(words)
    left = len(rows) - most
    return listing([*said, *[plural(left, "more thing")] * (left > 0)])


def verdict(side):
    """Return what a SideBySide says, in two or three sentences."""
    others = range(1, len(side.names))
    if not side.responses:
        return "Nothing was measured yet: enter heights, masses or scores."
    if len(others) == 1:
        return f"{capital(side.subject(1))}: {against(side, 1)}. {reasons(side, 1)}".strip()

    def named(some):
        return listing(side.names[n] for n in some)

    found = {n: by_weight(side.told(n)) for n in others}
    clear = [n for n in others if found[n]]
    open_ = named(n for n in others if not found[n] and side.judged(n))
    told = "; ".join(f"{side.names[n]} {came_out(found[n][0], n)}" for n in clear[:LISTED])
    more = f"; also {named(clear[LISTED:])}" if len(clear) > LISTED else ""
    doubted = named(n for n in clear if len(side.changes(n)) > 1 or side.set_apart(n))
    unknown = named(n for n in others if not side.judged(n))
    figures = {"first": side.names[0], "told": told and told + more, "unknown": unknown, "doubted": doubted}
    return " ".join(_said("several", **figures, **{"the_others" if told else "all": open_}))


def against(side, n):
    """Return what a column says against the first, in words, without what it may come of."""
    rows, known = side.told(n), side.judged(n)
    perhaps = [row for row in by_weight(known) if row not in rows and row.against[n].share > 0.5]
    perhaps = f"perhaps {listing(moved(row, n) for row in perhaps[:2])}" if perhaps else ""
    missing = _missing(side, n)
    if rows:
        first = by_weight(rows)[0].against[n].difference
        sure = "more than your repeats differ"
        if first.p is not None:
            sure = f"clear over {plural(first.n, 'day' if first.kind == 'paired' else 'bake')}"
        rest = "nothing else you could tell" if len(rows) < len(known) else ""
        return "; ".join(filter(None, (f"{told(rows, n)}, {sure}", perhaps, missing, rest)))
    if known:
        return "; ".join(filter(None, ("nothing you could tell", perhaps, missing)))
    here = [row for row in side.responses if (d := row.against[n].difference) and abs(d.value) > 10**-row.digits / 2]
    why = side.unknown(n).removesuffix(", too few to tell")
    seen = f"; here {told(here, n, 2)}" if here else ""
    return f"too few to tell, {why}{seen}" if why else "nothing was measured in both yet"


def _missing(side, n):
    """Return in words which of what bakers decide by first is not known of both columns; "" for none of it."""
    first = by_weight(side.responses)[:LISTED]
    lacks = {_base(row)[0] for row in first if row.against[n].difference is None}
    names = []
    for name in sorted(lacks):
        rows = [row for row in side.responses if _base(row)[0] == name]
        gaps = [row.what.replace(", day", " on day") for row in rows if row.against[n].difference is None]
        names += gaps if len(gaps) < len(rows) else [rows[0].what.partition(",")[0]]
    return f"{listing(names)} not measured in both" if names else ""


def shortly(side, n):
    """Return what a column among several says against the first."""
    if not side.judged(n):
        return "too few to tell"
    return told(side.told(n), n) or "nothing you could tell"


def reasons(side, n):
    """Return in sentences what else may have done it: what was changed together, what was not as planned."""
    changes, apart, end = side.changes(n), listing(side.set_apart(n)), "."
    if apart and len(changes) < 2:
        end = f", so it can't be laid on {listing(changes)} alone." if changes else ", so it is no repeat."
    otherwise = listing(_some(_otherwise(row, n) for row in side.unplanned if row.changed[n]))
    together = capital(listing(_some(changes))) if len(changes) > 1 else ""
    figures = {"otherwise": otherwise, "apart": not otherwise and apart, "end": end}
    return capital(" ".join(_said("reasons", **figures, **{"few" if len(changes) <= LISTED else "many": together})))


def _some(names):
    names = list(names)
    left = len(names) - LISTED
    return names if left <= 0 else [*names[:LISTED], plural(left, "more thing")]


def _otherwise(row, n):
    """Return in words how a Planned differs from the first column: proof time was 6 min shorter."""
    first, value = row.values[0], row.values[n]
    if isinstance(value, str) or isinstance(first, str):
        return f"{row.what} was {value}, not {first}"
    if None in (first, value):
        return f"{row.what} was otherwise"
    more, less = OFFSETS.get(row.unit, ("more", "less"))
    unit = row.unit.partition(" of ")[0].removesuffix("x")
    far = without_zeros(figure(abs(value - first), row.digits))
    return f"{row.what} was {far} {unit}{' ' * bool(unit)}{more if value > first else less}"


# what to mind


def mind(given, columns, names, rows, responses):
    """Yield what to mind before judging a comparison."""
    for n in range(1, len(given)):
        unknown = (
            f"{row.what} is not known of {names[0 if row.values[0] is None else n]}"
            for row in rows
            if row.of_bake and (row.values[0] is None) != (row.values[n] is None)
        )
        yield from _said("against", name=names[n], first=names[0], unknown=listing(unknown))
    for name, column, trials in zip(names, columns, given, strict=True):
        mixed = len({plan_key(trial) for trial in trials}) > 1
        first, *others = (settings_of(group[0]) for group in set_alike(column))
        unnamed = " (name the mixes, if each was mixed by itself)" * (not all(trial.mix for trial in trials))
        figures = {
            "entries": len(column) < len(trials) and plural(len(trials), "entry", "entries"),
            "bakes": f"{plural(len(column), 'bake')}, not {len(trials)} bakes{unnamed}",
            "mixed": mixed and name,
            "apart": not mixed and listing(spoken(what for each in others for what in set_apart(first, each))),
        }
        yield from _said("column", name=name, **figures)
    of_bake = {t.key: n for n, b in enumerate(bakes_of([t for column in given for t in column])) for t in b.trials}
    for (one, trials), (other, more) in itertools.combinations(zip(names, given, strict=True), 2):
        if of_bake[trials[0].key] == of_bake[more[0].key]:
            yield from _said("pair", one=one, other=other)
    judged = sum(each.share is not None for row in responses for each in row.against)
    few = responses and all(len(bakes) < statistics.FEWEST for row in responses for bakes in row.bakes)
    yield from _said("all", judged=judged > 5 and judged, few=few and "four")


def changes_of(rows, n):
    """Return {name: said} of each change; a swap gram for gram in one part, of what is then new or gone, is one."""
    moved = {row: row.values[n] - row.values[0] for row in rows if row.unit}
    said = {row.what: _as_planned(row, n) for row in rows}
    for less, more in itertools.permutations(moved, 2):
        inside = less.what.partition(" in the ")[2]
        swapped = moved[less] < 0 and math.isclose(moved[more], -moved[less], rel_tol=1e-6)
        swapped = swapped and 0 in (less.values[n], more.values[0]) and {less.what, more.what} <= said.keys()
        if swapped and less.unit == more.unit and more.what.partition(" in the ")[2] == inside:
            del said[less.what], said[more.what]
            gone = less.what.partition(" in the ")[0] if inside else less.what
            said = {f"{more.what} for {gone}": f"{more.what} for {gone}"} | said
    return said


def _as_planned(row, n):
    value = row.values[n]
    if isinstance(value, str):
        return f"{row.what} {value}"
    unit = row.unit.partition(" of ")[0]
    return f"{value:.4g} % {row.what}" if unit == "%" else f"{row.what} {value:.4g} {unit}"


def spoken(settings):
    """Return the words of what was set apart; lines and additions are all what went into the bowls."""
    words = (
        "what went into the bowls" if isinstance(what, tuple) else what if what == "formula" else find(what).words
        for what in settings
    )
    return list(dict.fromkeys(words))
