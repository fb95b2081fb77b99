"""Marking: what a learner wrote, read with any unit, and what it tells about how it was got."""

import re
from dataclasses import dataclass, field

from .. import page
from ..errors import AmountError, KitError, UnitError, UnknownName, must
from ..units import amount, in_unit
from ..words import listing, one_of, plain
from .asking import Exercise
from .kinds import n

RIGHT, WRONG, UNREADABLE, NO_BASE = VERDICTS = ("right", "wrong", "unreadable", "which base")
MEASURES = {"g": "mass", "%": "percentage", "points": "percentage", "°C": "temperature", "°F": "temperature"}
# How a base may be written; the first is the name that exercises use.
BASES = (
    ("total flour", "all flour", "all the flour", "whole flour", "all flours", "flour in all"),
    ("dough", "whole dough", "total dough", "dough mass", "all the dough"),
    ("flour and cocoa", "flour + cocoa", "flour plus cocoa", "cocoa and flour", "both", "flour and cocoa together"),
    ("flour", "flour alone", "flour only"),
    ("topping", "whole topping", "topping's mass", "topping mass"),
)


@dataclass(frozen=True)
class Mark(page.Result):
    """What an answer was worth: verdict, words, and after a second wrong answer the solution in steps."""

    verdict: str
    words: str = ""  # what to say of it
    misconception: str = ""  # key of misconceptions.csv, when one is recognised
    hint: str = ""
    steps: tuple = ()
    value: float | None = field(default=None, repr=False)  # as read [the exercise's unit]

    @property
    def right(self):
        """Whether the answer is right."""
        return self.verdict == RIGHT

    @property
    def counts(self):
        """Whether it was a try: what could not be read is none."""
        return self.verdict in (RIGHT, WRONG)

    @property
    def notes(self):
        """The hint and the steps, as far as they are told."""
        return [self.hint and f"Hint: {self.hint}", *self.steps]


def mark(exercise: Exercise, answer: str, attempt: int = 1) -> Mark:
    """Return the Mark of an answer as a learner writes it: "62,5 %", "5/8", "1.2 kg", "18 % of total flour".

    attempt counts tries at this exercise: the first wrong answer gets a hint only, later ones the solution. A bare
    number is taken in the exercise's unit, a bare fraction below 1 as a share of 100 %. A unit of another kind is
    never taken, nor is a percentage without its base where the exercise asks for it.

    >>> from kit.lessons import exercise
    >>> task = exercise("flour_from_dough", seed=1)
    >>> mark(task, f"{task.answer / 1000:.4f} kg").right, mark(task, "12 %").verdict
    (True, 'unreadable')
    """
    try:
        value, base = _read(exercise, str(answer).strip())
    except KitError as error:
        return Mark(UNREADABLE, str(error).replace("'amount'", "'answer'", 1))
    if exercise.ask_base and not base:
        words = f"{n(value)} % of what? Write it with its base: {n(value)} % of ..."
        return Mark(NO_BASE, words, value=value)

    def off(given):
        return abs(value - given) - exercise.tolerance * (1 + 1e-9)

    said, key, hint = "Not yet.", "", exercise.hint
    if base in ("", exercise.base):
        if off(exercise.answer) <= 0:
            return Mark(RIGHT, f"Right: {exercise.in_words(exercise.answer)}.", value=value)
        known = [each for each in exercise.misconceptions if off(each[1]) <= 0]
        if known:
            key, _, words, hint = min(known, key=lambda each: off(each[1]))
            said = f"Not yet. {words}"
    elif base in exercise.bases and off(exercise.bases[base]) <= 0:
        said = f"That is true on {base}, but the question asks for per cent of {exercise.base}."
    else:
        said = f"Not yet. The question asks for per cent of {exercise.base}, not of {base}."
    if attempt <= 1:
        return Mark(WRONG, said, key, hint, value=value)
    return Mark(
        WRONG, said, key, steps=(*exercise.steps, f"The answer is {exercise.in_words(exercise.answer)}."), value=value
    )


def _read(exercise, text):
    """Return (value in the exercise's unit, base named or "")."""
    if exercise.choices:
        return float(exercise.choices.index(one_of("answer", text, exercise.choices))), ""
    if not text:
        raise AmountError(must("answer", "a number with its unit", "nothing", "write what you found"))
    written, base, unit = text, "", exercise.unit
    if unit == "%" and (found := re.match(r"(.*?\S)\s*\b(?:of|on)\s+(?:the\s+)?(.+)$", text, re.I)):
        written, base = found[1], _base(exercise, found[2])
    if unit == "points":
        written = re.sub(r"\s*\b(?:percentage )?(?:points?|pts?)\b.*$", " %", written, flags=re.I).strip()
    given, kind = amount(written), MEASURES[unit]
    if given.kind == "number":
        return _bare(exercise, written, given.value), base
    if given.kind != kind:
        raise UnitError(must("answer", f"a {kind} in {unit}", repr(text), f"write it in {unit}"))
    return (given.value if kind == "percentage" else in_unit(given.value, unit, kind)), base


def _bare(exercise, written, value):
    """A number without a unit: in the exercise's unit; a fraction below 1 may stand for a share."""
    if exercise.unit != "%" or not 0 < value < 1 or abs(exercise.answer) < 1:
        return value
    if re.search(r"[/⁄¼½¾⅓⅔⅛⅜⅝⅞⅕⅖⅗⅘⅙⅚]", written):
        return 100 * value
    do = f"write {n(value)} % or {n(100 * value)} %"
    raise AmountError(must("answer", "clear about its unit", repr(written), do))


def _base(exercise, text):
    """Return the base a learner names, by the name that exercises use. Raises UnknownName."""
    words = plain(text.replace("’", "'")).strip(" .!?").removeprefix("the ").replace(" the ", " ")
    named = next((names[0] for names in BASES if words in {w.replace(" the ", " ") for w in names}), None)
    if named is None:
        do = f"say of {listing(list(exercise.bases) or [exercise.base], 'or')}"
        raise UnknownName(must("base", "what 100 % stands for", repr(text), do))
    # plain "flour" is all the flour, where there is but one
    return "total flour" if named == "flour" and "flour" not in exercise.bases else named
