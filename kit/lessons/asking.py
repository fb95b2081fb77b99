"""An exercise: fresh numbers from a seed, the kit's own answer, and the wrong answers that teach something."""

from dataclasses import dataclass, field
from typing import Any

from .. import page
from ..cautions import FIRST
from ..errors import AmountError, FormulaError, UnknownName, must
from ..tables import ground, table
from ..units import number
from ..words import capital, did_you_mean, kept, one_of
from . import hidden, percentages, topping  # noqa: F401  each enters its kinds
from .kinds import KINDS, LESSONS, ROWS, Case, Dice, Kind, n

LEVELS = {1: "round numbers", 2: "finer numbers", 3: "numbers as a formula card has them"}
APART = 2.0  # tolerances between any two answers, so that none lies within two of them at once
TRIES = 500  # draws of numbers before a kind is given up


@dataclass(frozen=True, eq=False, kw_only=True)
class Exercise(Case, Kind):
    """A Kind with one Case of it: the question as it is put, and what each misconception would answer."""

    seed: int
    level: int
    stage: str = "alone"  # what the learner does of it: worked, last step, two steps, alone
    tolerance: float = field(repr=False)  # as much off is right [unit]
    decimals: int = field(repr=False)
    misconceptions: tuple = field(repr=False)  # (key, the answer it gives, words, hint)
    caution: str = field(default="", repr=False)
    figures: dict = field(default_factory=dict, repr=False)  # the numbers shown

    def in_words(self, value):
        """Return an answer in words, with its unit and what it is per cent of."""
        if self.choices:
            return self.choices[int(value)]
        return f"{n(value, self.decimals)} {self.unit}" + (f" of {self.base}" if self.base and self.unit == "%" else "")

    def _repr_html_(self):
        level = f"{self.skill}; level {self.level} of {len(LEVELS)}, {LEVELS[self.level]}"
        note = '<p role="note" style="margin:6px 0;padding-left:10px;border-left:3px solid #8a6d1f;font-size:12.5px">'
        return (
            '<div style="color:#222;line-height:1.45;max-width:760px"><p style="margin:2px 0;font-size:15px;'
            f'font-weight:600">{page.escape(capital(self.title))} <span style="font-weight:400;font-size:12.5px;'
            f'color:#595959">{page.escape(level)}</span></p>'
            f'<p style="margin:6px 0;font-size:18px">{page.escape(kept(self.question))}</p>'
            f"{self.caution and f'{note}{page.escape(self.caution)}</p>'}</div>"
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

    >>> tolerance(18.0, "%"), tolerance(1505, "g")
    ((0.09, 1), (7.525, 0))
    """
    for row in table("tolerances").rows:
        if row["unit"] == unit and (not row["below"] or abs(value) < number(row["below"])):
            relative = number(row["relative_percent"]) / 100 * abs(value)
            return max(number(row["absolute"]), relative), int(row["decimals"])
    return 0.0, 0  # a word is right or wrong


def exercise(kind: str, seed: int, level: int = 1) -> Exercise:
    """Return the Exercise of a kind that a seed and a level (1 to 3) decide; the same again every time.

    Numbers are drawn until every misconception's answer stands apart from the right one and from each other.
    Raises UnknownName, AmountError for a level that is not there.

    >>> task = exercise("flour_from_dough", seed=1)
    >>> task.unit, task.level, task.question == exercise("flour_from_dough", seed=1).question
    ('g', 1, True)
    """
    entry = kind_of(kind)
    if level not in LEVELS:
        raise AmountError(must("level", "one of 1, 2 or 3", level, "1 is the easiest"))
    dice = Dice(entry.kind, seed, level)
    for _ in range(TRIES):
        made = build(entry, entry.numbers(dice), seed, level)
        if apart(made):
            return made
    do = "widen the numbers that it draws"
    raise FormulaError(must(kind, "a kind whose wrong answers can be told apart", f"{TRIES} draws without any", do))


def build(entry: Kind, figures: dict[str, Any], seed: int = 0, level: int = 1) -> Exercise:
    """Return the Exercise of a Kind for given numbers, whether or not its wrong answers stand apart."""
    case = entry.solve(**figures)
    unit = figures.get("unit", entry.unit)
    off, decimals = tolerance(case.answer, unit)
    places = ("a whole number is enough", "one decimal is enough", "give two decimals")[decimals]
    question = case.question if case.choices else f"{case.question} ({unit}; {places})"
    told = {row.key: row for row in table("misconceptions").rows if row.kind == entry.kind}
    said = {"question": question, "answer": float(case.answer), "unit": unit}
    return Exercise(
        **(vars(entry) | vars(case) | said),
        seed=seed,
        level=level,
        tolerance=off,
        decimals=decimals,
        misconceptions=tuple((key, float(v), told[key].words, told[key].hint) for key, v in case.wrong.items()),
        caution=_caution(entry.cautions),
        figures=figures,
    )


def apart(made):
    """Return whether no two of an exercise's answers, right or wrong, could be taken for each other."""
    values = [made.answer, *(value for _, value, *_ in made.misconceptions)]
    least = max(APART * made.tolerance, 1e-6)
    return len(values) > 1 and all(abs(a - b) > least for k, a in enumerate(values) for b in values[:k])


def _caution(keys):
    told = [FIRST] if keys else []
    for row in table("cautions").rows:
        if row["key"] in keys:
            figure = f" {row['figure']}." if row["figure"] else ""
            source = f" [{ground(row)}]" if row["source"] != "common_practice" else ""
            told.append(f"{row['hazard']} {row['control']}{figure}{source}")
    return " ".join(told)
