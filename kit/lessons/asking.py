"""An exercise: fresh numbers from a seed, the kit's own answer, and the wrong answers that teach something."""

import math
from dataclasses import dataclass, field
from typing import NamedTuple

from ..errors import FormulaError, must, whole
from ..tables import table
from ..words import one_of
from .kinds import KINDS, Dice, Kind, drawn, lesson_named, rows_of, words_of, worked
from .steps import SLOT, n, names_in, shown, told, values_of

LEVELS = (1, 2, 3)  # the plain case, then one thought more each
APART = 2.0  # tolerances between any two answers, so that none lies within two of them at once
TRIES = 500  # draws of numbers before a kind is given up
ROUNDED = 0.05  # how far off, as a share of the answer, rounding on the way may lead
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
class Exercise(Kind):
    """A Kind with numbers: the question as it is put, its answer, and what each misconception would answer."""

    question: str
    answer: float = field(repr=False)
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
    bases: dict[str, float] = field(default_factory=dict, repr=False)  # base in words: the same thing on that base [%]
    choices: tuple[str, ...] = ()  # words to choose from; the answer is then a position in them
    draws: int = 1  # how often numbers were drawn until all answers stood apart

    def in_words(self, value):
        """Return an answer in words, with its unit and what it is per cent of."""
        if self.choices:
            return self.choices[int(value)]
        return f"{n(value, self.decimals)} {self.unit}" + (f" of {self.base}" if self.base and self.unit == "%" else "")


def exercises(lesson: str | None = None) -> dict[str, Kind]:
    """Return the kinds of exercise {name: Kind}, of one lesson or all three, in teaching order. Raises UnknownName.

    >>> "flour_from_dough" in exercises("percentages"), "flour_from_dough" in exercises("hidden water and fat")
    (True, False)
    """
    wanted = lesson_named(lesson)
    return {key: entry for key, entry in KINDS.items() if wanted in (None, entry.lesson)}


def tolerance(value, unit):
    """Return how far off [unit] an answer still is right, and to how many decimals it is asked for.

    value [unit]; tolerances.csv: the larger of an absolute step and a share of the answer, assumed here.

    >>> tolerance(18.0, "%"), tolerance(6000, "g")
    ((0.1, 1), (3.0, 0))
    """
    for row in table("tolerances").rows:
        if row.unit == unit and (row.below is None or abs(value) < row.below):
            return max(row.absolute, row.relative_percent / 100 * abs(value)), int(row.decimals)
    return 0.0, 0  # a word is right or wrong


def exercise(kind: str, seed: int, level: int = 1, dough: dict[str, float] | None = None) -> Exercise:
    """Return the Exercise of a kind that a seed and a level (1 to 3) decide; the same again every time.

    dough: its lines, where the kind asks of a whole dough [% of flour]. Numbers are drawn until every misconception's
    answer stands apart from the right one and from each other.
    Raises UnknownName, AmountError for a level that is not there.

    >>> task = exercise("flour_from_dough", seed=1)
    >>> task.unit, task.level, task.question == exercise("flour_from_dough", seed=1).question
    ('g', 1, True)
    """
    kind = one_of("kind", kind, KINDS, "choose from exercises()")
    level = whole("level", level, most=len(LEVELS), do="1 is the easiest")
    dice = Dice(f"{kind}/{seed}/{level}")
    for draws in range(1, TRIES + 1):
        figures = drawn(dice, dice.choice(rows_of("exercise_levels", kind, level)), dough)
        made = build(KINDS[kind], figures, seed, level, draws)
        if apart(made):
            return made
    do = "widen the numbers that it draws"
    raise FormulaError(must(kind, "a kind whose wrong answers can be told apart", f"{TRIES} draws without any", do))


def build(entry: Kind, figures: dict, seed: int = 0, level: int = 1, draws: int = 1) -> Exercise:
    """Return the Exercise of a Kind for given figures, whether or not its wrong answers stand apart."""
    case = worked(entry.kind, level, figures)
    answer, unit = case.answer(case.values), case.figures.get("unit", entry.unit)
    off, decimals = tolerance(answer, unit)
    lines = [each.line(case.values) for each in case.steps if each.words]
    lines[-1] = lines[-1].removesuffix(".") + case.ending(case.values) + "."
    wrong = tuple(_misconceptions(entry.kind, case))
    true_on = {row.key: row.true_on for row in rows_of("misconceptions", entry.kind) if row.true_on}
    return Exercise(
        **(vars(entry) | {"unit": unit}),
        question=case.question + ("" if case.choices else f" (to {n(10.0**-decimals)} {unit})"),
        answer=answer,
        seed=seed,
        level=level,
        tolerance=off,
        decimals=decimals,
        steps=tuple(lines),
        misconceptions=wrong,
        slips={} if case.choices else _slips(case, answer, off, decimals),
        figures=case.figures,
        values=case.values,
        bases={entry.base: answer} | {true_on[each.key]: each.value for each in wrong if each.key in true_on},
        choices=case.choices,
        draws=draws,
    )


def _misconceptions(kind, case):
    """Yield what each row of misconceptions.csv leads to in this case.

    A row says which steps are worked otherwise; "forgotten" stands for each line in turn but the flour and what is
    asked for. It says nothing where a figure that it names is not there or 0: a loss that is not there cannot be left
    out.
    """
    words, names = words_of(case.figures), {each.name for each in case.steps}
    known = {name: shown(value) for name, value in case.values.items() if value} | words
    parts = [name for name in case.figures.get("lines", {}) if name != "flour" and name not in words.values()]
    for row in rows_of("misconceptions", kind):
        for part in parts if "forgotten" in row.instead else ("",):
            said = known | {"forgotten": part}
            instead = row.instead.replace("forgotten", part.replace(" ", "_"))
            changed = dict(each.split(" = ") for each in instead.split("; "))
            takes = set().union(*map(names_in, changed.values()))
            if changed.keys() <= names and takes <= known.keys() and set(SLOT.findall(row.words)) <= said.keys():
                wrong = tuple(each._replace(formula=changed.get(each.name, each.formula)) for each in case.steps)
                if wrong != case.steps:
                    led = _led_to(row.key, told(row.words, said), case, wrong)
                    # who chose the right word cannot be told, and nobody weighs less than nothing
                    if led.value >= 0 and not (case.choices and led.value == case.answer(case.values)):
                        yield led


def _led_to(key, words, case, wrong):
    """Return the Misconception of steps worked wrongly: the first line that is wrong, and what it ends in."""
    values, last = values_of(wrong, case.values), wrong[-1]
    first, instead = next((a, b) for a, b in zip(wrong, case.steps, strict=True) if a != b)
    line = first.numbers(case.values, values[first.name])
    if first.name != last.name:
        line += f", so {last.numbers(values, values[last.name])}"
    line += case.ending(values).replace(", so", ",")
    return Misconception(key, case.answer(values), f"{line}: {words}", instead.line(case.values))


def _slips(case, answer, off, decimals):
    """Return {words: answers} of slips that are no misconception: of the point, and of a digit rounded too far."""
    before, last = case.steps[:-1], case.steps[-1:]
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
