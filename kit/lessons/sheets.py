"""A class's worth of exercises on paper: a sheet of its own for each learner, the answers apart."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from .. import page
from ..cautions import FIRST
from ..errors import AmountError, must, whole
from ..files import write_whole
from ..words import capital, kept, plural
from .asking import Exercise, exercise, exercises
from .kinds import KINDS

CSS = """
.task { break-inside: avoid; margin: 0 0 5mm }
.task p { margin: 1mm 0 }
.line { border-bottom: 1px solid #777; height: 9mm }
.name { border-bottom: 1px solid #777; display: inline-block; min-width: 60mm }
.learner { break-after: page }
.learner:last-child { break-after: auto }
.caution p { margin: 1mm 0 }
.caution { break-inside: avoid; font-size: 9pt; border-left: 3px solid #8a6d1f; padding-left: 3mm }
"""


@dataclass(frozen=True)
class ClassSheet(page.Result):
    """Printable pages: `questions` for the learners and `answers` for the teacher, HTML, from one seed."""

    questions: str = field(repr=False)
    answers: str = field(repr=False)
    tasks: tuple[tuple[Exercise, ...], ...] = field(repr=False)  # for each learner, the exercises
    seed: int = 0
    columns, named = ("what", "lesson", "skill", "answer in", "kind"), False

    @property
    def words(self):
        """How many sheets there are, and how they are printed."""
        return f"{plural(len(self.tasks), 'sheet')} of the same kinds, seed {self.seed}: save(folder) writes them."

    def frame_rows(self):
        """Return title, lesson, skill, unit and key of each kind."""
        return [(task.title, task.lesson, task.skill, task.unit or "a word", task.kind) for task in self.tasks[0]]

    def tables(self):
        """Return the table of the kinds."""
        return [(self.columns, self.frame_rows())]

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
) -> ClassSheet:
    """Return the ClassSheet of so many learners: the same kinds of exercise for all, other numbers for each.

    kinds: a lesson ("percentages", "hidden water and fat", "topping and yield"), or kinds as its table names
        them.
    seed: decides every number; the same seed gives the same sheets.
    learners: how many sheets [count].
    level: 1, 2 or 3; 1 has the roundest numbers.
    names: of learners; the rest get a line to write on.
    paper: A4 or Letter.

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
    if not kinds:
        raise AmountError(must("kinds", "one kind of exercise or more", "none", "choose from exercises()"))
    if len(names) > learners:
        raise AmountError(must("names", f"at most {learners}, one a learner", len(names), "raise learners"))
    tasks: dict[tuple[str, ...], tuple[Exercise, ...]] = {}  # by what is asked: no two learners with the same numbers
    for draw in range(20 * learners + 200):
        sheet = tuple(exercise(kind, 1_000_000 * seed + draw, level) for kind in kinds)
        tasks.setdefault(tuple(task.question for task in sheet), sheet)
        if len(tasks) == learners:
            break
    else:
        raise AmountError(must("learners", f"at most {len(tasks)} for these kinds", learners, "add a kind"))
    questions = answers = ""
    for place, sheet in enumerate(tasks.values(), 1):
        who, title = page.escape("".join(names[place - 1 : place])), f"Sheet {seed}-{place}"
        line = who or '<span class="name"></span>'
        questions += f'<section class="learner"><h1>{title}</h1><p>Name: {line}</p>{_asked(sheet)}</section>'
        answers += f'<section class="task"><h2>{title} {who}</h2><ol>{_solved(sheet)}</ol></section>'
    return ClassSheet(
        page.sheet(f"Class sheet {seed}", questions, CSS, paper),
        page.sheet(f"Answers to class sheet {seed}", answers, CSS, paper),
        tuple(tasks.values()),
        seed,
    )


def _asked(sheet):
    """Return the questions of a sheet with a line to write on, then its cautions, each once."""
    asked = "".join(
        f'<div class="task"><p><b>{place}. {page.escape(capital(task.title))}</b></p>'
        f'<p>{page.escape(kept(task.question))}</p><div class="line"></div></div>'
        for place, task in enumerate(sheet, 1)
    )
    told = page.paragraphs(dict.fromkeys(task.caution.removeprefix(FIRST) for task in sheet))
    return asked + (told and f'<div class="caution"><p><b>{page.escape(FIRST)}</b></p>{told}</div>')


def _solved(sheet):
    return "".join(
        f"<li><b>{page.escape(task.in_words(task.answer))}</b> ({page.escape(task.title)}): "
        f"{page.escape(kept(' '.join(task.steps)))}</li>"
        for task in sheet
    )
