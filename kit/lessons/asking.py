"""An exercise: fresh numbers from a seed, the kit's own answer, and the wrong answers that teach something."""

import functools
import math
import re
from dataclasses import dataclass, field
from typing import NamedTuple

from .. import page
from ..errors import AmountError, FormulaError, UnknownName, must
from ..tables import table
from ..words import capital, did_you_mean, kept, one_of
from . import hidden, percentages, topping  # noqa: F401  each enters its kinds
from .kinds import KINDS, LESSONS, ROWS, Case, Dice, Kind, n, names_in, shown, values_of

LEVELS = {1: "the plain case", 2: "one thought more", 3: "two thoughts more"}
APART = 2.0  # tolerances between any two answers, so that none lies within two of them at once
TRIES = 500  # draws of numbers before a kind is given up
ROUNDED = 0.05  # how far off, as a share of the answer, rounding on the way may lead
SLOT = re.compile(r"{(\w+)}")
SIZES = {10: "ten", 100: "a hundred", 1000: "a thousand"}
POINT = {ten: f"{words} times too large" for ten, words in SIZES.items()} | {
    1 / ten: f"{words} times too small" for ten, words in SIZES.items()
}


class Misconception(NamedTuple):
    """A known way to go wrong: the answer that it gives, the line that shows it, and the right line."""

    key: str
    value: float
    words: str
    line: str


@dataclass(frozen=True, eq=False, kw_only=True)
class Exercise(Case, Kind):
    """A Kind with one Case of it: the question as it is put, and what each misconception would answer."""

    seed: int
    level: int
    stage: str = "alone"  # what the learner does of it: worked, last step, two steps, alone
    tolerance: float = field(repr=False)  # as much off is right [unit]
    decimals: int = field(repr=False)
    steps: tuple[str, ...] = field(repr=False)  # whole lines of arithmetic; the last one gives the answer
    misconceptions: tuple[Misconception, ...] = field(repr=False)
    slips: dict[str, tuple[float, ...]] = field(repr=False)  # words of a slip: the answers that it leads to
    figures: dict = field(default_factory=dict, repr=False)  # what the kind was asked with
    values: dict[str, float] = field(default_factory=dict, repr=False)  # what is given and what each step finds
    draws: int = 1  # how often numbers were drawn until all answers stood apart

    def in_words(self, value):
        """Return an answer in words, with its unit and what it is per cent of."""
        if self.choices:
            return self.choices[int(value)]
        return f"{n(value, self.decimals)} {self.unit}" + (f" of {self.base}" if self.base and self.unit == "%" else "")

    def _repr_html_(self):
        level = f"{self.skill}; level {self.level} of {len(LEVELS)}, {LEVELS[self.level]}"
        return (
            '<div style="color:#222;line-height:1.45;max-width:760px"><p style="margin:2px 0;font-size:15px;'
            f'font-weight:600">{page.escape(capital(self.title))} <span style="font-weight:400;font-size:12.5px;'
            f'color:#595959">{page.escape(level)}</span></p>'
            f'<p style="margin:6px 0;font-size:18px">{page.escape(kept(self.question))}</p></div>'
        )


def exercises(lesson: str | None = None) -> dict[str, Kind]:
    """Return the kinds of exercise {name: Kind}, of one lesson or all three, in teaching order. Raises UnknownName.

    >>> len(exercises()), "flour_from_dough" in exercises("percentages")
    (24, True)
    """
    wanted = LESSONS if lesson is None else (one_of("lesson", lesson, LESSONS),)
    return {key: KINDS[key] for key, row in ROWS.items() if row["lesson"] in wanted}


def kind_of(key):
    """Return the Kind of that name. Raises UnknownName."""
    if key not in KINDS:
        raise UnknownName(must("kind", "one of exercises()", repr(key), did_you_mean(key, KINDS)))
    return KINDS[key]


def tolerance(value, unit):
    """Return how far off [unit] an answer still is right, and to how many decimals it is asked for.

    value [unit]; tolerances.csv: the larger of an absolute step and a share of the answer, assumed here.

    >>> tolerance(18.0, "%"), tolerance(6000, "g")
    ((0.1, 1), (3.0, 0))
    """
    for below, absolute, relative, decimals in _steps(unit):
        if abs(value) < below:
            return max(absolute, relative / 100 * abs(value)), decimals
    return 0.0, 0  # a word is right or wrong


@functools.cache
def _steps(unit):
    return tuple(
        (float(row["below"] or math.inf), float(row["absolute"]), float(row["relative_percent"]), int(row["decimals"]))
        for row in table("tolerances").rows
        if row["unit"] == unit
    )


def exercise(kind: str, seed: int, level: int = 1, dough: dict[str, float] | None = None) -> Exercise:
    """Return the Exercise of a kind that a seed and a level (1 to 3) decide; the same again every time.

    dough: its lines, where the kind asks of a whole dough [% of flour]. Numbers are drawn until every misconception's
    answer stands apart from the right one and from each other.
    Raises UnknownName, AmountError for a level that is not there.

    >>> task = exercise("flour_from_dough", seed=1)
    >>> task.unit, task.level, task.question == exercise("flour_from_dough", seed=1).question
    ('g', 1, True)
    """
    entry = kind_of(kind)
    if level not in LEVELS:
        raise AmountError(must("level", "one of 1, 2 or 3", level, "1 is the easiest"))
    dice = Dice(entry.kind, seed, level, dough)
    for draws in range(1, TRIES + 1):
        made = build(entry, entry.numbers(dice), seed, level, draws)
        if apart(made):
            return made
    do = "widen the numbers that it draws"
    raise FormulaError(must(kind, "a kind whose wrong answers can be told apart", f"{TRIES} draws without any", do))


def build(entry: Kind, figures: dict, seed: int = 0, level: int = 1, draws: int = 1) -> Exercise:
    """Return the Exercise of a Kind for given numbers, whether or not its wrong answers stand apart."""
    case = entry.solve(**figures)
    unit = figures.get("unit", entry.unit)
    off, decimals = tolerance(case.answer, unit)
    question = case.question if case.choices else f"{case.question} (to {n(10.0**-decimals)} {unit})"
    said = {"question": question, "answer": float(case.answer), "unit": unit}
    right = values_of(case.work, case.given)
    words = {name: value for name, value in figures.items() if isinstance(value, str)}
    return Exercise(
        **(vars(entry) | vars(case) | said),
        seed=seed,
        level=level,
        tolerance=off,
        decimals=decimals,
        steps=tuple(each.line(right) for each in case.work if each.words),
        misconceptions=tuple(_misconceptions(entry.kind, case, right, words)),
        slips={} if case.choices else _slips(case, off, decimals),
        figures=figures,
        values=right,
        draws=draws,
    )


@functools.cache
def _rows(kind):
    return tuple(row for row in table("misconceptions").rows if row.kind == kind)


def _misconceptions(kind, case, right, words):
    """Yield what each row of misconceptions.csv leads to in this case.

    A row says which steps are worked otherwise; "forgotten" stands for each of the case's parts in turn. It says
    nothing where a figure that it names is not there or 0: a loss that is not there cannot be left out.
    """
    known = {name: shown(value) for name, value in right.items() if value} | words
    steps = {each.name for each in case.work}
    for row in _rows(kind):
        for part in case.parts if "forgotten" in row.instead else ("",):
            said = known | {"forgotten": part.replace("_", " ")}
            instead = dict(each.split(" = ") for each in row.instead.replace("forgotten", part).split("; "))
            takes = set().union(*map(names_in, instead.values()))
            if instead.keys() <= steps and takes <= known.keys() and set(SLOT.findall(row.words)) <= said.keys():
                wrong = [each._replace(formula=instead.get(each.name, each.formula)) for each in case.work]
                if tuple(wrong) != case.work:  # a fall taken off is no mistake where it falls
                    led = _led_to(row.key, row.words.format_map(said), case, wrong, right)
                    # who chose the right word cannot be told, and nobody weighs less than nothing
                    if led.value >= 0 and not (case.choices and led.value == case.answer):
                        yield led


def _led_to(key, words, case, wrong, right):
    """Return the Misconception of steps worked wrongly: the first line that is wrong, and what it ends in."""
    values, last = values_of(wrong, right), wrong[-1]
    value = values[last.name]
    first, instead = next((a, b) for a, b in zip(wrong, case.work, strict=True) if a != b)
    line = first.numbers(right, values[first.name])
    if first.name != last.name:
        line += f", so {last.numbers(values, value)}"
    if case.choices:
        value = _word(case, value)
        line += f", {case.choices[value]}"
    return Misconception(key, float(value), f"{line}: {words}", instead.line(right))


def _word(case, value):
    return sum(value >= begins for begins in case.begins)


def _slips(case, off, decimals):
    """Return {words: answers} of slips that are no misconception: of the point, and of a digit rounded too far."""
    answer, before, last = case.answer, case.work[:-1], case.work[-1:]
    slips = {
        f"a slip of the point, {words}": (answer * ten,) for ten, words in POINT.items() if abs(answer * ten) > 2 * off
    }
    coarse = [
        values_of(last, values_of(before, case.given, lambda value, k=k: float(f"{value:.{k}g}")))[last[0].name]
        for k in (2, 3)
    ]
    if abs(round(answer, decimals) - answer) > 1e-9:
        for step in (10.0 ** (1 - decimals), 10.0 ** (2 - decimals)):
            coarse += [round(answer / step) * step, math.floor(answer / step) * step]
    near = [value for value in coarse if off < abs(value - answer) <= ROUNDED * abs(answer)]
    return slips | {"a figure was rounded too far on the way or at the end": tuple(near)}


def apart(made):
    """Return whether no two of an exercise's answers, right or wrong, could be taken for each other.

    Two mistakes that come to the very same number may stand: both are said.
    """

    def far(a, b, times=APART):
        return abs(a - b) > times * max(tolerance(a, made.unit)[0], tolerance(b, made.unit)[0], 1e-6)

    wrong = [each.value for each in made.misconceptions]
    slips = [value for values in made.slips.values() for value in values]
    return (
        len(wrong) > 0
        and all(far(value, made.answer) for value in wrong)
        and all(far(a, b) or math.isclose(a, b) for k, a in enumerate(wrong) for b in wrong[:k])
        and all(far(value, slip, 1) for value in wrong for slip in slips)
    )
