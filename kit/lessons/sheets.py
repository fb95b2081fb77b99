"""A class's worth of exercises on paper: a sheet of its own for each learner, the answers apart."""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from .. import page
from ..errors import AmountError, FormulaError, must, whole
from ..files import write_whole
from ..formula import Formula
from ..units import read_date
from ..words import capital, kept, listing, one_of, plain, plural
from .asking import Exercise, apart, build, exercise, exercises
from .bench import bench_task
from .kinds import KINDS
from .steps import n

UNITS = ("g", "lb", "°C", "°F")
DEGREES = {"°C", "°F"}
GRAMS = {"lb": 100, "oz": 25}  # for one, so that numbers stay as round as they were drawn
LEAST = 5  # % of flour: who forgets a smaller line is still right within what scales show
# kinds that a question names; the rest is one line
WORDS = ("flour", "milk", "water", "egg", "butter", "sugar", "salt")
BLANK = '<span class="blank"></span>'
CSS = """
h1 { margin: 0 } .head { display: flex; gap: 8mm; border-bottom: 1px solid #777; padding-bottom: 2mm }
.task { break-inside: avoid; margin: 0 0 3mm } .task p { margin: 1mm 0 }
.room { height: 17mm; border: 1px dotted #999 } .answer { text-align: right }
.blank { border-bottom: 1px solid #777; display: inline-block; min-width: 26mm } .name { min-width: 55mm }
.learner { break-after: page } .learner:last-child { break-after: auto }
.bench { break-inside: avoid; border-top: 2px solid #777 } .bench p { margin: 1.5mm 0 }
.caution { font-size: 9pt; border-left: 3px solid #8a6d1f; padding-left: 3mm }
.key h2 { margin: 3mm 0 1mm; font-size: 11pt } .key ol { margin: 0 } .key li { break-inside: avoid }
.key { font-size: 9.5pt; line-height: 1.25; break-inside: avoid } .wrong { font-size: 9pt }
"""


@dataclass(frozen=True)
class ClassSheet(page.Result):
    """Printable pages: `questions` for the learners and `answers` for the teacher, HTML, from one seed."""

    questions: str = field(repr=False)
    answers: str = field(repr=False)
    tasks: tuple[tuple[Exercise, ...], ...] = field(repr=False)  # for each learner, the exercises
    seed: int = 0
    columns, named, digits = ("what", "lesson", "skill", "answer in", "kind"), False, 0

    @property
    def words(self):
        """How many sheets there are, and how they are printed."""
        return f"{plural(len(self.tasks), 'sheet')} of the same kinds, seed {self.seed}: save(folder) writes them."

    def frame_rows(self):
        """Return title, lesson, skill, unit and key of each kind."""
        return [(task.title, task.lesson, task.skill, task.unit or "a word", task.kind) for task in self.tasks[0]]

    def save(self, folder: str | Path) -> tuple[Path, ...]:
        """Write both pages into a folder and return their paths. Raises FileError."""
        paths = tuple(Path(folder) / f"class_sheet_{self.seed}_{name}.html" for name in ("questions", "answers"))
        for path, text in zip(paths, (self.questions, self.answers), strict=True):
            write_whole(path, text, page.is_sheet)
        return paths


def class_sheet(
    kinds: str | Iterable[str],
    seed: int,
    learners: int = 30,
    level: int = 1,
    names: Sequence[str] = (),
    paper: str = "A4",
    number: int = 1,
    units: str = "",
    day: str | date | None = None,
    formula: Formula | None = None,
) -> ClassSheet:
    """Return the ClassSheet of so many learners: the same kinds of exercise for all, other numbers for each.

    kinds: a lesson ("percentages", "hidden water and fat", "topping and yield"), or kinds as its table names
        them.
    seed: decides every number; the same seed gives the same sheets.
    learners: how many sheets [count].
    level: 1, 2 or 3; 1 is the plain case.
    names: of learners; the rest get a line to write on.
    paper: A4 or Letter.
    number: of exercises of each kind [count].
    units: g or lb (oz for pieces), °C or °F, such as "lb °F"; else g, and degrees of both kinds.
    day: printed on each sheet, else a line to write it on.
    formula: its larger lines are asked for, milk, butter and sugar a little moved, and it is weighed at the bench;
        else drawn ones, and the demo bun.

    Returns the questions and the answers as two pages. Raises UnknownName for a kind that is not there, AmountError.

    >>> sheet = class_sheet(["flour_from_dough"], seed=7, learners=2)
    >>> sheet.tasks[0][0].question != sheet.tasks[1][0].question
    True
    """
    if isinstance(kinds, str):
        kinds = [kinds] if kinds in KINDS else exercises(kinds)
    for name, some in (("kinds", kinds), ("names", names)):
        if isinstance(some, str) or not isinstance(some, Iterable):
            raise AmountError(must(name, "a list", repr(some), "put it in brackets, also one alone"))
    kinds, names, seed = list(kinds), list(names), whole("seed", seed, 0, do="any number, the same for the same sheets")
    learners = whole("learners", learners, most=1000, do="count the class")
    number = whole("number", number, most=20, do="print a second sheet")
    chosen = {one_of("units", each, UNITS) for each in str(units).split()}
    if not kinds:
        raise AmountError(must("kinds", "one kind of exercise or more", "none", "choose from exercises()"))
    if len(names) > learners:
        raise AmountError(must("names", f"at most {learners}, one a learner", len(names), "raise learners"))
    drawn = [_apart(kind, 1_000_000 * seed, level, learners * number, chosen, formula) for kind in kinds]
    tasks = tuple(tuple(of[place * number + n] for of in drawn for n in range(number)) for place in range(learners))
    alike = len({tuple(task.question for task in sheet) for sheet in tasks})
    if alike < learners:
        raise AmountError(must("learners", f"at most {alike} for these kinds", learners, "add a kind"))
    lessons = list(dict.fromkeys(KINDS[kind].lesson for kind in kinds))
    bench = bench_task(lessons[-1], formula)
    dated, lesson = read_date(day, "day"), capital(listing(lessons))
    on = f"{dated.day} {dated:%B %Y}" if dated else BLANK
    questions = answers = ""
    for place, sheet in enumerate(tasks, 1):
        who, title = page.escape("".join(names[place - 1 : place])), f"{lesson}, sheet {seed}-{place}"
        line = who or '<span class="blank name"></span>'
        head = f'<h1>{title}</h1><p class="head"><span>Name: {line}</span><span>Date: {on}</span></p>'
        questions += f'<section class="learner">{head}{_asked(sheet)}{_bench(bench)}</section>'
        answers += f'<section class="key"><h2>Sheet {seed}-{place} {who}</h2><ol>{_solved(sheet)}</ol></section>'
    expected = page.paragraphs([f"At the bench, {bench.title}: {n(bench.expected, 1)} g. {bench.why}"])
    return ClassSheet(
        page.sheet(f"Class sheet {seed}", questions, CSS, paper),
        page.sheet(f"Answers to class sheet {seed}", f"<h1>Answers: {lesson}</h1>{expected}{answers}", CSS, paper),
        tasks,
        seed,
    )


def _apart(kind, seed, level, count, units, formula):
    """Return so many exercises of a kind: other answers first, then other questions, then the first ones again."""
    answers, asked = Counter(), {}
    dough = formula and _lines(formula)
    for draw in range(6 * count + 100):
        task = exercise(kind, seed + draw, level, dough)
        if task.unit in DEGREES and units & DEGREES == DEGREES - {task.unit}:
            continue
        if "lb" in units and not apart(task := _american(task)):
            continue
        if task.question not in asked:
            answer = task.in_words(task.answer)
            asked[task.question] = answers[answer], task
            answers[answer] += 1
        if len(answers) == count:
            break
    if not asked:  # in lb no draw keeps the mistakes apart
        return _apart(kind, seed, level, count, units - {"lb"}, formula)
    best = [task for _, task in sorted(asked.values(), key=lambda each: each[0])]
    return [best[n % len(best)] for n in range(count)]


def _lines(formula):
    """Return the lines of a formula's dough as exercises name them [% of total flour]. Raises FormulaError."""
    lines = Counter()
    for key, percentage in zip(formula.dough_keys, formula.dough_percentages, strict=True):
        row = formula.ingredients[key]
        if percentage >= LEAST or row.kind == "salt":
            lines[row.kind if row.kind in WORDS else plain(row.name)] += round(float(percentage), 1)
    if not all(lines[name] for name in ("milk", "butter", "sugar")):
        raise FormulaError(must("formula", "a dough with milk, butter and sugar", formula.name, "leave formula out"))
    return dict(lines)


def _american(task):
    """Return the same exercise with its weights in lb or oz, where it has any: what it works out holds in any unit."""
    entry, unit = KINDS[task.kind], task.american
    if not unit or not re.search(r"(?<!100 )\bg\b", task.question):  # what 100 g hold is so in any unit
        return task

    def said(text):
        return re.sub(r"\bg\b", unit, text)

    figures = dict(task.figures)
    for name in set(task.weights.split()) & set(figures):
        many = figures[name] if isinstance(figures[name], dict) else {"": figures[name]}
        fewer = {each: value / GRAMS[unit] for each, value in many.items()}
        figures[name] = fewer.get("", fewer)
    made = build(replace(entry, unit=unit) if entry.unit == "g" else entry, figures, task.seed, task.level)
    wrong = tuple(each._replace(words=said(each.words), line=said(each.line)) for each in made.misconceptions)
    return replace(made, question=said(made.question), steps=tuple(map(said, made.steps)), misconceptions=wrong)


def _asked(sheet):
    """Return the questions of a sheet, each with room to work and a place for the answer."""
    return "".join(
        f'<div class="task"><p><b>{place}. {page.escape(capital(task.title))}.</b> '
        f'{page.escape(kept(task.question))}</p><div class="room"></div>'
        f'<p class="answer">Answer: {BLANK} {page.escape(task.unit)}{bool(task.ask_base) * f" of {BLANK}"}</p></div>'
        for place, task in enumerate(sheet, 1)
    )


def _bench(task):
    """Return the task at the bench with places for what is predicted and measured, and its cautions."""
    return (
        f'<section class="bench"><h2>At the bench: {page.escape(task.title)}</h2>'
        f"<p>{page.escape(kept(task.predict))} I predict {BLANK} g.</p><p>{page.escape(kept(task.do))}</p>"
        f"<p>Measured, {page.escape(task.measure)}: {BLANK} g. Apart by {BLANK} g, {BLANK} %. Why?</p>"
        f'<div class="room"></div>{page.paragraphs([" ".join(task.cautions)], "caution")}</section>'
    )


def _solved(sheet):
    """Return the answers of a sheet: each with the line that gives it, and what a wrong answer tells."""
    solved = ""
    for task in sheet:
        told = (f"{_short(task, each.value)}: {each.key.replace('_', ' ')}" for each in task.misconceptions)
        solved += (
            f"<li><b>{page.escape(task.in_words(task.answer))}</b> {page.escape(kept(task.steps[-1]))} "
            f'<span class="wrong">{page.escape("; ".join(dict.fromkeys(told)))}.</span></li>'
        )
    return solved


def _short(task, value):
    return task.in_words(value) if task.choices else n(value, task.decimals)
