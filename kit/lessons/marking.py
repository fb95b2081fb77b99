"""Marking: what a learner wrote, read with any unit, and what it tells about how it was got."""

import re
from dataclasses import dataclass, field

from .. import page
from ..errors import AmountError, KitError, UnitError, UnknownName, must
from ..units import amount, in_unit
from ..words import did_you_mean, listing, plain
from .kinds import n

RIGHT, WRONG, UNREADABLE, NO_BASE = VERDICTS = ("right", "wrong", "unreadable", "which base")
MEASURES = {
    "g": "mass", "lb and oz": "mass", "%": "percentage", "points": "percentage", "degC": "temperature",
    "degF": "temperature", "min": "time", "mm": "length",
}  # fmt: skip
COUNTED = {"bun", "buns", "piece", "pieces", "pc", "pcs"}
# How a base may be written; the first is the name that exercises use.
BASES = (
    ("total flour", "all flour", "all the flour", "whole flour", "all flours", "flour in all"),
    ("final dough's flour", "final dough flour", "final flour", "flour in the final dough", "flour of the final dough"),
    ("dough", "whole dough", "total dough", "dough mass", "all the dough"),
    ("flour and cocoa", "flour + cocoa", "flour plus cocoa", "cocoa and flour", "both", "flour and cocoa together"),
    ("flour", "flour alone", "flour only"),
    ("topping", "whole topping", "topping's mass", "topping mass"),
    ("bun's sugar", "bun sugar", "sugar", "sugars", "whole sugar"),
    ("dough mixed", "mixed dough"),
)  # fmt: skip


@dataclass(frozen=True)
class Mark:
    """What an answer was worth: verdict, words, and after a second wrong answer the solution in steps."""

    verdict: str
    words: str
    misconception: str = ""  # key of misconceptions.csv, when one is recognised
    hint: str = ""
    steps: tuple = ()
    value: float | None = field(default=None, repr=False)  # as read [the exercise's unit; g for pounds]

    @property
    def right(self):
        """Whether the answer is right."""
        return self.verdict == RIGHT

    @property
    def counts(self):
        """Whether it was a try: what could not be read is none."""
        return self.verdict in (RIGHT, WRONG)

    def _repr_html_(self):
        lines = [self.words, self.hint and f"Hint: {self.hint}", *self.steps]
        body = "".join(f'<p style="margin:3px 0">{page.escape(line)}</p>' for line in lines if line)
        return f'<div role="status" style="font-size:14px;color:#222;max-width:720px">{body}</div>'


def mark(exercise, answer, attempt=1):
    """Return the Mark of an answer as a learner writes it: "62,5 %", "5/8", "1.2 kg", "18 % of total flour".

    attempt counts tries at this exercise: the first wrong answer gets a hint only, later ones the solution. A bare
    number is taken in the exercise's unit, a bare fraction below 1 as a share of 100 %. A unit of another kind is
    never taken, nor is a percentage without its base where the exercise asks for it.

    >>> from kit.lessons import exercise
    >>> task = exercise("liquid_of_preferment", seed=1)
    >>> mark(task, f"{task.answer / 1000:.4f} kg").right, mark(task, "12 %").verdict
    (True, 'unreadable')
    """
    try:
        value, base = _read(exercise, str(answer).strip())
    except KitError as error:
        return Mark(UNREADABLE, str(error).replace("'amount'", "'answer'", 1))
    if base == "" and exercise.ask_base:
        words = f"{n(value)} % of what? Write it with its base: {n(value)} % of ..."
        return Mark(NO_BASE, words, value=value)
    if base in ("", exercise.base) and abs(value - exercise.answer) <= exercise.tolerance * (1 + 1e-9):
        return Mark(RIGHT, f"Right: {exercise.say(exercise.answer)}.", value=value)
    near = sorted((abs(value - wrong), key, words, hint) for key, wrong, words, hint in exercise.misconceptions)
    known = next((entry for entry in near if entry[0] <= exercise.tolerance * (1 + 1e-9)), None)
    said, key, hint = "Not yet.", "", exercise.hint
    if known and base in ("", exercise.base):
        _, key, words, hint = known
        said = f"Not yet. {words}"
    elif base and base != exercise.base:
        said = f"Not yet. The question asks for per cent of {exercise.base}, not of {base}."
        if base in exercise.bases and abs(value - exercise.bases[base]) <= exercise.tolerance:
            said = f"That is true on {base}, but the question asks for per cent of {exercise.base}."
    if attempt <= 1:
        return Mark(WRONG, said, key, hint, value=value)
    steps = (*exercise.steps, f"The answer is {exercise.say(exercise.answer)}.")
    return Mark(WRONG, said, key, "", steps, value=value)


def _read(exercise, text):
    """Return (value in the exercise's unit, base named or "")."""
    if not text:
        raise AmountError(must("answer", "a number with its unit", "nothing", "write what you found"))
    if exercise.choices:
        return _choice(exercise, text), ""
    written, base = text, ""
    if exercise.unit == "%" and (found := re.match(r"(.*?\S)\s*\b(?:of|on)\s+(?:the\s+)?(.+)$", text, re.I)):
        written, base = found[1], _base(exercise, found[2])
    unit = exercise.unit
    if unit == "points":
        written = re.sub(r"\s*\b(?:percentage )?(?:points?|pts?)\b.*$", " %", written, flags=re.I).strip()
    given = amount(written)
    if unit == "buns":
        if given.kind not in ("number", "count") or (given.kind == "count" and plain(given.unit) not in COUNTED):
            raise UnitError(must("answer", "a count of buns", repr(text), "write a whole number"))
        return given.value, base
    kind = MEASURES[unit]
    if unit == "lb and oz" and (given.kind != "mass" or not re.search(r"lb|oz|pound|ounce", written, re.I)):
        raise UnitError(must("answer", "in pounds and ounces", repr(text), "write it like 2 lb 3 1/4 oz"))
    if given.kind == "number":
        return _bare(exercise, written, given.value), base
    if given.kind != kind:
        raise UnitError(must("answer", f"a {kind} in {unit}", repr(text), f"write it in {unit}"))
    as_it_is = unit in ("lb and oz", "points")
    return (given.value if as_it_is else in_unit(given.value, unit, kind)), base


def _bare(exercise, written, value):
    """A number without a unit: in the exercise's unit; a fraction below 1 may stand for a share."""
    if exercise.unit != "%" or not 0 < value < 1 or abs(exercise.answer) < 1:
        return value
    if re.search(r"[/⁄¼½¾⅓⅔⅛⅜⅝⅞⅕⅖⅗⅘⅙⅚]", written):
        return 100 * value
    do = f"write {n(value)} % or {n(100 * value)} %"
    raise AmountError(must("answer", "clear about its unit", repr(written), do))


def _choice(exercise, text):
    folded = [plain(choice) for choice in exercise.choices]
    if plain(text) not in folded:
        do = did_you_mean(text, folded)
        raise UnknownName(must("answer", f"one of {listing(exercise.choices, 'or')}", repr(text), do))
    return float(folded.index(plain(text)))


def _base(exercise, text):
    """Return the base a learner names, by the name that exercises use. Raises UnknownName."""
    words = plain(text.replace("’", "'")).strip(" .!?").removeprefix("the ").replace(" the ", " ")
    named = next((names[0] for names in BASES if words in {w.replace(" the ", " ") for w in names}), None)
    flours = {"total flour", "final dough's flour"}
    if named == "flour" and "flour" not in exercise.bases:  # plain "flour" is all the flour, where there is but one
        named = None if flours <= set(exercise.bases) else "total flour"
    if named is None:
        asked = list(exercise.bases) or [exercise.base]
        do = "say which flour" if "flour" in words else f"say of {listing(asked, 'or')}"
        raise UnknownName(must("base", "what 100 % stands for", repr(text), do))
    return named if named not in ("bun's sugar", "dough mixed") else f"the {named}"
