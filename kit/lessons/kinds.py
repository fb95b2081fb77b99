"""What a kind of exercise is: rows that draw its numbers, put its question and work its answer, step by step."""

import functools
import random
import re
from dataclasses import dataclass, field, fields
from typing import NamedTuple

from ..balance.classes import schemes
from ..tables import ingredients, table
from ..units import number
from ..words import listing, one_of
from .steps import SLOT, Step, n, names_in, shown, told, value_of, values_of

HELD = re.compile("(.+)_of_(.+)")  # water_of_milk: what 100 g of milk hold of it [g]
# "milk = flour * 0.4 to flour * 0.6 by 10": drawn from here to there in such steps; without "to", worked out
DRAWN = re.compile(r"([a-z_ ]+) = (.+?)(?: to (.+?))?(?: by ([\d.]+))?")
MOVED = ("milk", "butter", "sugar")  # lines of a dough at hand that are a little moved


@dataclass(frozen=True, eq=False)
class Kind:
    """A row of exercises.csv."""

    kind: str
    title: str
    lesson: str
    skill: str
    unit: str  # blank where a word is asked for
    base: str  # what the per cent are of
    ask_base: str  # "yes" where an answer that does not name its base is not taken
    at_hand: str  # "yes" where it may ask of the dough at hand
    american: str  # unit of its weights in an American's sheet, lb or oz; blank where there is none
    weights: str  # the figures that are weights
    hint: str = field(repr=False)


KINDS = {row.kind: Kind(*(row[each.name] for each in fields(Kind))) for row in table("exercises").rows}
LESSONS = tuple(dict.fromkeys(kind.lesson for kind in KINDS.values()))


def lesson_named(given):
    """Return the name of a lesson given by its number or name, None for all. Raises UnknownName.

    >>> lesson_named(1), lesson_named("Percentages")
    ('percentages', 'percentages')
    """
    return None if given is None else one_of("lesson", dict(enumerate(LESSONS, 1)).get(given, given), LESSONS)


@functools.cache
def rows_of(name, kind, level=None):
    """Return the rows of a table that are of a kind, and of a level where one is named."""
    return tuple(row for row in table(name).rows if row.kind == kind and level in (None, getattr(row, "level", None)))


class Dice(random.Random):
    """Numbers that a kind, a seed and a level decide, as a bakery writes them."""

    def step(self, low, high, step=1):
        """Return a number from low to high that is so many whole steps."""
        value = step * self.randint(round(low / step), round(high / step))
        return int(value) if float(value).is_integer() else round(value, 6)


def drawn(dice, row, dough=None):
    """Return what a row of exercise_levels.csv draws by name: words, {line: how much} under "lines", and numbers.

    No word is drawn twice; dough: lines to take in place of the drawn ones [% of flour].
    """
    words: dict[str, str] = {}
    for name, options in _options(row).items():
        words[name] = dice.choice([each for each in options if each not in words.values()])
    lines = _numbers(dice, row.lines, words, {})
    if dough and KINDS[row.kind].at_hand:
        lines = _taught(dice, lines, dough)
    numbers = _numbers(dice, row.numbers, words, named(lines, row))
    told = {name: value for name, value in numbers.items() if name[0] != "_"}  # the others only help to draw
    return words | ({"lines": lines} if lines else {}) | told


def _fits(row, figures):
    """Return whether a row asks for these figures: each number that it draws is there, each word its own or a line."""
    numbers = {cell.split(" = ")[0] for cell in _cells(row.numbers) if cell[0] != "_" and _is_drawn(cell)}
    return numbers <= figures.keys() and all(
        figures.get(name, options[0]) in (*options, *figures.get("lines", ()))
        for name, options in _options(row).items()
    )


def _options(row):
    return {name: options.split(" | ") for name, options in (cell.split(": ") for cell in _cells(row.words))}


def _is_drawn(cell):
    return " to " in cell or " by " in cell


def _cells(text):
    return text.split("; ") if text else []


def _numbers(dice, text, words, known):
    """Return the numbers of a cell that are not known; without dice those that follow from what is known."""
    found = {}
    for cell in _cells(text):
        name, low, high, step = DRAWN.fullmatch(cell).groups()
        if name in known or (dice is None and _is_drawn(cell)):
            continue
        values = known | {name.replace(" ", "_"): value for name, value in found.items()}
        low, high = (each and value_of(each, values | _held(names_in(each), words)) for each in (low, high))
        found[name] = dice.step(low, high or low, float(step or 1)) if _is_drawn(cell) else round(low, 6)
    return found


def _taught(dice, lines, dough):
    """Return the lines of a dough in place of drawn ones, for the same flour; salt where salt was drawn."""
    flours = {name: value for name, value in lines.items() if "flour" in name}
    taken = {name: value for name, value in dough.items() if name != "flour" and (name != "salt" or name in lines)}
    taken |= {name: max(1, taken[name] + dice.step(-3, 3)) for name in MOVED}
    if (whole := sum(flours.values())) != 100:
        taken = {name: round(value * whole / 1000) * 10 for name, value in taken.items()}
    return flours | taken


def _held(names, words):
    """Return what 100 g hold, {name: g}, of those names that ask for it: "water_of_milk", "fat_of_out" by its word.

    >>> _held(["water_of_milk", "fat_of_out", "share"], {"out": "butter"})
    {'water_of_milk': 88.13, 'fat_of_out': 81.11}
    """
    asked = {name: HELD.fullmatch(name) for name in names}
    return {
        name: holds(words.get(found[2], found[2]).replace("_", " "), found[1]) for name, found in asked.items() if found
    }


@functools.cache
def holds(name, column):
    """Return what 100 g of an ingredient hold of one component [g]; of yeast also its strength [% of fresh yeast]."""
    if column == "strength":
        factors = (number(row["factor"]) for row in table("yeast_forms").rows if row["to_form"] == name)
        return 100 * next(factors, 1)
    known = ingredients()
    return float(known.column(column)[known.row(known.find(name))])


def _given(row, figures):
    """Return the figures by the names that formulas call them: numbers, lines, and what the question tells of 100 g."""
    lines, words = figures.get("lines", {}), words_of(figures)
    flours = [value for name, value in lines.items() if "flour" in name]
    result = named(lines, row)
    if len(flours) > 1:
        result |= {"first_flour": flours[0], "second_flour": flours[1]}
    for name, word in (("first", "ingredient"), ("other", "also")):
        if words.get(word) in lines:
            result[name] = lines[words[word]]
    if "scheme" in words:
        result["line"] = classes(words["scheme"])[1][-1]
    numbers = {name: value for name, value in figures.items() if name != "lines" and name not in words}
    return result | _held(SLOT.findall(row.question), words) | numbers


def words_of(figures):
    """Return those figures that are words, and what is wanted in words."""
    words = {name: value for name, value in figures.items() if isinstance(value, str)}
    wanted = [words[name] for name in ("ingredient", "also") if name in words]
    return words | ({"wanted": " and ".join(wanted)} if wanted else {})


class Worked(NamedTuple):
    """An exercise's figures, its question, the steps to the answer and what they come to."""

    figures: dict
    question: str
    given: dict[str, float]  # by name
    steps: tuple[Step, ...]
    values: dict[str, float]  # what is given, and what each step comes to
    choices: tuple[str, ...] = ()  # where a word is asked for
    begins: tuple[float, ...] = ()  # from which value on each choice after the first holds

    def answer(self, values):
        """Return what the last step comes to, or which choice that is."""
        value = float(values[self.steps[-1].name])
        return float(sum(value >= begins for begins in self.begins)) if self.choices else value

    def ending(self, values):
        """Return how a line ends that leads to a choice."""
        return f", so {self.choices[int(self.answer(values))]}" if self.choices else ""


def worked(kind, level, figures):
    """Return the Worked of figures: what follows from them is added, and the first of the words that are not told.

    A step is taken where all that it needs is there and it is not found yet; what leads nowhere is left out.
    """
    row = next(row for row in rows_of("exercise_levels", kind, level) if _fits(row, figures))
    figures = {name: options[0] for name, options in _options(row).items()} | figures
    lines, words = figures.get("lines", {}), words_of(figures)
    figures |= _numbers(None, row.numbers, words, named(lines, row) | figures)
    there, of_lines = _given(row, figures), list(named(lines, row))
    sums = {"lines": " + ".join(of_lines), "others": " + ".join(of_lines[1:])}
    names, steps = set(there), []
    for each in rows_of("exercise_steps", kind):
        formula = told(each.formula, sums)
        if each.step not in names and formula and names_in(formula) <= names:
            steps.append(Step(each.step, formula, each.unit, each.words))
            names.add(each.step)
    asked = set(row.finds.split())
    for each in reversed(steps):
        asked |= names_in(each.formula) if each.name in asked else set()
    right = {name: shown(value) for name, value in values_of(steps, there).items()}
    said = right | {"in": "%" if "hundred" in there else "g"} | words
    taken = (each for each in steps if each.name in asked or not each.words)
    kept = tuple(each._replace(unit=told(each.unit, said), words=told(each.words, said)) for each in taken)
    scheme = classes(words["scheme"]) if "scheme" in words else ()
    return Worked(figures, _question(row, figures, there, *scheme), there, kept, values_of(kept, there), *scheme)


def _question(row, figures, there, choices=(), begins=()):
    lines, words = figures.get("lines", {}), words_of(figures)
    said = {name: n(value) for name, value in there.items()} | words
    said |= {"lines": listed(lines), "rest": listed({name: value for name, value in lines.items() if name != "flour"})}
    if choices:
        limits = (f"{name} {n(value)}" for name, value in zip(choices[1:], begins, strict=True))
        said |= {"classes": listing(choices, "or"), "least": choices[0], "most": choices[-1]}
        said |= {"limits": ", ".join(limits)}
    return told(row.question, said)


def classes(scheme):
    """Return the classes of a scheme of dough_classes.csv, and where each after the first begins [% of flour].

    >>> classes("reinhart_2001")
    (('lean', 'enriched', 'rich'), (1e-09, 20.0))
    """
    rows = schemes()[scheme]
    begins = tuple(row.fat_min or row.fat_sugar_sum_min or 1e-9 for row in rows[1:])
    return tuple(row["class"] for row in rows), begins


def listed(lines):
    """Return lines as a card lists them.

    >>> listed({"flour": 100, "milk": 50})
    'flour 100, milk 50'
    """
    return ", ".join(f"{name} {n(value)}" for name, value in lines.items())


def named(lines, row):
    """Return lines by the names that formulas call them; flour that a row draws as the 100 is "hundred" there."""
    of_flour = row.lines.startswith("flour = 100")
    return {
        "hundred" if of_flour and name == "flour" else name.replace(" ", "_"): value for name, value in lines.items()
    }
