"""Marking: what a learner wrote, read as people write it, and what it tells about how it was got."""

import re
from dataclasses import dataclass, field, replace

from .. import page
from ..errors import AmountError, KitError, UnitError, UnknownName, must
from ..units import amount, in_unit
from ..words import listing, one_of, plain
from .asking import Exercise, tolerance
from .steps import n

RIGHT, WRONG, SLIP, WHICH, NO_BASE, UNREADABLE = VERDICTS = (
    *("right", "wrong", "slip", "which", "which base", "unreadable"),
)
MEASURES = dict.fromkeys(("g", "lb", "oz"), "mass") | dict.fromkeys(("%", "points"), "percentage")
MEASURES |= dict.fromkeys(("°C", "°F"), "temperature")
# How a base may be written; the first is the name that exercises use.
BASES = (
    ("total flour", "all flour", "all the flour", "whole flour", "all flours", "flour in all"),
    ("dough", "whole dough", "total dough", "dough mass", "all the dough"),
    ("flour and cocoa", "flour + cocoa", "flour plus cocoa", "cocoa and flour", "both", "flour and cocoa together"),
    ("flour", "flour alone", "flour only"),
    ("topping", "whole topping", "topping's mass", "topping mass"),
)
ABOUT = re.compile(r"^(?:[~≈≃∼]|(?:about|around|approx(?:imately)?\.?|roughly|nearly|ca\.?|circa)(?=[\s\d]))\s*", re.I)
# a mark with exactly three digits after it: 1230 to one reader, 1.23 to another
EITHER = re.compile(r"(?<![\d.,'])([1-9]\d{0,2})([.,])(\d{3})(?![\d.,'])")
FRACTION = re.compile(r"[/⁄¼½¾⅓⅔⅛⅜⅝⅞⅕⅖⅗⅘⅙⅚]")
SHARE = re.compile(r"0?[.,]\d+(?=\s|$)(?!\s*%)(?!\s*per)")  # "0.2" of a percentage
OF_BASE = re.compile(r"(.*?\S)\s*\b(?:of|on)\s+(?:the\s+)?(.+)$", re.I)
NAMED = "|".join(re.escape(name) for names in BASES for name in names)
PLAIN_BASE = re.compile(rf"(.*?(?:%|\d|cent))\s*({NAMED})$", re.I)


@dataclass(frozen=True)
class Mark(page.Result):
    """What an answer was worth: verdict, words, and after a second wrong answer the solution in steps."""

    verdict: str
    words: str = ""  # what to say of it
    misconceptions: tuple[str, ...] = ()  # keys of misconceptions.csv: several where they come to one number
    hint: str = ""
    working: str = ""  # the mistake with the learner's numbers; from the second try on the right line beside it
    steps: tuple[str, ...] = ()
    choices: tuple[tuple[str, str], ...] = ()  # (what may have been meant, what to mark instead)
    value: float | None = field(default=None, repr=False)  # as read [the exercise's unit]

    @property
    def right(self):
        """Whether the answer is right."""
        return self.verdict == RIGHT

    @property
    def counts(self):
        """Whether it was a try: what could not be read or is asked back is none."""
        return self.verdict in (RIGHT, WRONG, SLIP)

    @property
    def misconception(self):
        """The key of the misconception recognised, the first where two come to one number; else empty."""
        return self.misconceptions[0] if self.misconceptions else ""

    @property
    def notes(self):
        """The hint and the steps, as far as they are told."""
        return [self.hint and f"Hint: {self.hint}", *self.steps]


def mark(exercise: Exercise, answer: str, attempt: int = 1) -> Mark:
    """Return the Mark of an answer as a learner writes it: "62,5 %", "5/8", "~1.2 kg", "400 / 2000 = 20 % of flour".

    attempt counts tries at this exercise: the first wrong answer gets a hint only, later ones the solution. A bare
    number is taken in the exercise's unit, a bare fraction below 1 as a share of 100 %. A unit of another kind is
    never taken, nor is a percentage without its base where the exercise asks for it. Where a mark may part thousands
    or decimals and both readings tell something, it is asked which was meant.

    >>> from kit.lessons import exercise
    >>> task = exercise("flour_from_dough", seed=1)
    >>> mark(task, f"{task.answer / 1000:.4f} kg").right, mark(task, "12 %").verdict
    (True, 'unreadable')
    """
    text = str(answer).strip()
    try:
        readings = _readings(exercise, text)
        marks = [_judged(exercise, attempt, *_read(exercise, reading)) for _, reading in readings]
    except KitError as error:
        return Mark(UNREADABLE, str(error).replace("'amount'", "'answer'", 1))
    # the likelier reading comes first; the other one is asked about where it tells something
    if len(marks) > 1 and (marks[1].right or marks[1].misconceptions and not marks[0].misconceptions):
        return Mark(WHICH, f"{text} can be read in two ways. Which did you mean?", choices=readings)
    return marks[0]


def _readings(exercise, text):
    """Return ((what was meant in words, the text that says it), ...): one reading, or two that lie far apart."""
    if exercise.choices or not text:
        return ((text, text),)
    text = ABOUT.sub("", text.rpartition("=")[2].strip() or text).rstrip(" .!?")
    if found := EITHER.search(text):
        before, after = text[: found.start()], text[found.end() :] or f" {exercise.unit}"
        whole, parted = found[1] + found[3], f"{found[1]}.{found[3]}"
        both = (
            (f"{n(float(whole))}{after}, more than {int(found[1]):,} thousand", f"{before}{whole}{after}"),
            (f"{parted}{after}, between {found[1]} and {int(found[1]) + 1}", f"{before}{parted}0{after}"),
        )
        return both if found[2] == "," else both[::-1]  # the card itself writes thousands with a comma
    if exercise.unit == "%" and abs(exercise.answer) >= 1 and (found := SHARE.match(text)):
        share, after = float(found[0].replace(",", ".")), text[found.end() :]
        return ((f"{n(share)} %", f"{n(share)} %{after}"), (f"{n(100 * share)} %", f"{n(100 * share)} %{after}"))
    return ((text, text),)


def _judged(exercise, attempt, value, base):
    """Return the Mark of one reading."""
    if exercise.ask_base and not base:
        words = f"{n(value)} % of what? Write it with its base: {n(value)} % of ..."
        return Mark(NO_BASE, words, value=value)

    def is_(given):
        return abs(value - given) <= tolerance(given, exercise.unit)[0] * (1 + 1e-9) + 1e-12

    told = ()
    if attempt > 1:
        told = (*exercise.steps, f"The answer is {exercise.in_words(exercise.answer)}.")
    not_yet = Mark(WRONG, "Not yet.", hint=exercise.hint if attempt <= 1 else "", steps=told, value=value)
    if base not in ("", exercise.base):
        if base in exercise.bases and is_(exercise.bases[base]):
            words = f"That is true on {base}, but the question asks for per cent of {exercise.base}."
        else:
            words = f"Not yet. The question asks for per cent of {exercise.base}, not of {base}."
        return replace(not_yet, words=words)
    if is_(exercise.answer):
        return Mark(RIGHT, f"Right: {exercise.in_words(exercise.answer)}.", value=value)
    known = [each for each in exercise.misconceptions if is_(each.value)]
    slip = next((words for words, values in exercise.slips.items() if any(map(is_, values))), "")
    if slip and not known:
        return replace(not_yet, verdict=SLIP, words=f"Nearly: {slip}.", hint="")
    working = " Or: ".join(each.words for each in known)
    if attempt > 1:
        working += "".join(f" Right: {line}" for line in dict.fromkeys(each.line for each in known))
    keys = tuple(each.key for each in known)
    return replace(not_yet, words=f"Not yet. {working}".strip(), misconceptions=keys, working=working)


def _read(exercise, text):
    """Return (value in the exercise's unit, base named or "")."""
    if exercise.choices:
        return float(exercise.choices.index(one_of("answer", text, exercise.choices))), ""
    if not text:
        raise AmountError(must("answer", "a number with its unit", "nothing", "write what you found"))
    written, base, unit = text, "", exercise.unit
    if unit == "%" and (found := OF_BASE.match(text) or PLAIN_BASE.match(text)):
        written, base = found[1], _base(exercise, found[2])
    if unit == "points":
        written = re.sub(r"\s*\b(?:percentage )?(?:points?|pts?)\b.*$", " %", written, flags=re.I).strip()
    asked = set(re.findall("[a-z]{3,}", exercise.question.casefold())) | {"of", "the"}
    while (words := written.split())[1:] and words[-1].casefold() in asked:  # "1230 g flour"
        written = " ".join(words[:-1])
    given, kind = amount(written), MEASURES[unit]
    if given.kind == "number":
        share = unit == "%" and 0 < given.value < 1 <= abs(exercise.answer) and FRACTION.search(written)
        return given.value * (100 if share else 1), base
    if given.kind != kind:
        raise UnitError(must("answer", f"a {kind} in {unit}", repr(text), f"write it in {unit}"))
    return (given.value if kind == "percentage" else in_unit(given.value, unit, kind)), base


def _base(exercise, text):
    """Return the base a learner names, by the name that exercises use. Raises UnknownName."""
    words = plain(text.replace("’", "'")).strip(" .!?").removeprefix("the ").replace(" the ", " ")
    named = next((names[0] for names in BASES if words in {w.replace(" the ", " ") for w in names}), None)
    if named is None:
        do = f"say of {listing(list(exercise.bases) or [exercise.base], 'or')}"
        raise UnknownName(must("base", "what 100 % stands for", repr(text), do))
    # plain "flour" is all the flour, where there is but one
    return "total flour" if named == "flour" and "flour" not in exercise.bases else named
