"""An exercise: fresh numbers from a seed, the kit's own answer, and the wrong answers that teach something."""

from dataclasses import dataclass, field

from .. import page
from ..cautions import FIRST
from ..errors import AmountError, FormulaError, UnknownName, must
from ..tables import ground, table
from ..units import number
from ..words import capital, did_you_mean, kept, listing
from . import hidden, percentages, topping  # noqa: F401  each enters its kinds
from .kinds import KINDS, LESSONS, Dice, misconceptions, n

LEVELS = (1, 2, 3)
APART = 2.0  # tolerances between any two answers, so that none lies within two of them at once
TRIES = 500  # draws of numbers before a kind is given up


@dataclass(frozen=True, eq=False)
class Exercise:
    """A question with its answer [unit], tolerance, steps, hint, and what each misconception would answer."""

    kind: str
    title: str
    lesson: str
    skill: str
    seed: int
    level: int
    question: str
    answer: float = field(repr=False)
    unit: str
    tolerance: float = field(repr=False)  # as much off is right [unit; g where pounds are asked for]
    decimals: int = field(repr=False)
    steps: tuple = field(repr=False)
    hint: str = field(repr=False)
    misconceptions: tuple = field(repr=False)  # (key, the answer it gives, words, hint)
    base: str = ""
    ask_base: bool = False
    bases: dict = field(default_factory=dict, repr=False)  # base: the same thing on that base [%]
    choices: tuple = ()
    caution: str = field(default="", repr=False)
    figures: dict = field(default_factory=dict, repr=False)  # the numbers shown, for a picture that moves
    formula: object = field(default=None, repr=False)

    def say(self, value):
        """Return an answer in words, with its unit and what it is per cent of."""
        if self.choices:
            return self.choices[int(value)]
        if self.unit == "lb and oz":
            return f"{n(value, 1)} g, as in the steps"
        return f"{n(value, self.decimals)} {self.unit}" + (f" of {self.base}" if self.base and self.unit == "%" else "")

    def _repr_html_(self):
        told = f'<p style="color:#444;margin:4px 0">{page.escape(self.caution)}</p>' if self.caution else ""
        title = page.escape(f"{capital(self.title)}, level {self.level}")
        return (
            '<div style="font-size:14px;line-height:1.45;color:#222;max-width:720px">'
            f'<p style="font-weight:600;margin:4px 0">{title}</p>'
            f'<p style="margin:4px 0">{page.escape(kept(self.question))}</p>'
            f"{told}</div>"
        )


@dataclass(frozen=True)
class Kinds:
    """The kinds of exercise there are, with lesson and skill; a table when shown."""

    rows: tuple = field(repr=False)

    def __iter__(self):
        return (key for key, *_ in self.rows)

    def __len__(self):
        return len(self.rows)

    def to_frame(self):
        """Return a DataFrame: kind, lesson, skill, what is asked for, unit."""
        return page.frame(["kind", "lesson", "skill", "what", "unit"], self.rows)

    def _repr_html_(self):
        rows = [[title, lesson, skill, unit or "a word", key] for key, lesson, skill, title, unit in self.rows]
        return page.table(["what", "lesson", "skill", "answer in", "kind"], rows)


def exercises(lesson=None):
    """Return the Kinds of exercise, of one lesson or all three, in teaching order. Raises UnknownName.

    >>> len(exercises()) >= 30, "flour_from_dough" in exercises("percentages")
    (True, True)
    """
    if lesson is not None and lesson not in LESSONS:
        raise UnknownName(
            must("lesson", f"one of {listing(LESSONS, 'or')}", repr(lesson), did_you_mean(lesson, LESSONS))
        )
    taught = sorted(KINDS.values(), key=lambda k: LESSONS.index(k.lesson))
    return Kinds(tuple((k.key, k.lesson, k.skill, k.title, k.unit) for k in taught if lesson in (None, k.lesson)))


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


def exercise(kind, seed, level=1):
    """Return the Exercise of a kind that a seed and a level (1 to 3) decide; the same again every time.

    Numbers are drawn until every misconception's answer stands apart from the right one and from each other.
    Raises UnknownName, AmountError for a level that is not there.

    >>> task = exercise("flour_from_dough", seed=1)
    >>> task.unit, task.level, task.question == exercise("flour_from_dough", seed=1).question
    ('g', 1, True)
    """
    entry = kind_of(kind)
    if level not in LEVELS:
        raise AmountError(must("level", f"one of {listing(LEVELS, 'or')}", level, "1 is the easiest"))
    dice = Dice(f"{kind}/{seed}/{level}")
    for _ in range(TRIES):
        figures = entry.numbers(dice, level)
        made = build(entry, figures, seed, level)
        if apart(made):
            return made
    do = "widen the numbers that it draws"
    raise FormulaError(must(kind, "a kind whose wrong answers can be told apart", f"{TRIES} draws without any", do))


def build(entry, figures, seed=0, level=1):
    """Return the Exercise of a Kind for given numbers, whether or not its wrong answers stand apart."""
    case = entry.solve(**figures)
    unit = figures.get("unit", entry.unit)
    off, decimals = tolerance(case.answer, unit)
    told = misconceptions(entry.key)
    return Exercise(
        entry.key, entry.title, entry.lesson, entry.skill, seed, level, _asked(case, unit, decimals),
        float(case.answer), unit, off, decimals, tuple(case.steps), entry.hint,
        tuple((key, float(value), *told[key]) for key, value in case.wrong.items()),
        entry.base, entry.ask_base, dict(case.bases), tuple(case.choices), _caution(entry.cautions), figures,
        case.formula,
    )  # fmt: skip


def apart(made):
    """Return whether no two of an exercise's answers, right or wrong, could be taken for each other."""
    values = [made.answer, *(value for _, value, *_ in made.misconceptions)]
    least = max(APART * made.tolerance, 1e-6)
    return len(values) > 1 and all(abs(a - b) > least for k, a in enumerate(values) for b in values[:k])


def _asked(case, unit, decimals):
    if case.choices or unit == "lb and oz":
        return case.question
    places = {0: "a whole number is enough", 1: "one decimal is enough"}.get(decimals, "give two decimals")
    return f"{case.question} ({unit}; {places})" if unit != "buns" else case.question


def _caution(keys):
    rows = [row for row in table("cautions").rows if row["key"] in keys]
    told = [
        f"{row['hazard']} {row['control']}" + (f" {row['figure']}." if row["figure"] else "")
        + (f" [{ground(row)}]" if row["source"] != "common_practice" else "")
        for row in rows
    ]  # fmt: skip
    return " ".join([FIRST, *told]) if told else ""
