"""One page of a class: who, which skill, which mistake, and what to do at the board tomorrow."""

import itertools
from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from .. import page
from ..files import write_whole
from ..units import read_date
from ..words import capital, kept, listing, plain, plural
from .asking import LEVELS, exercise
from .kinds import KINDS
from .progress import FOLDER, Progress, learners

BOARD = 3  # exercises for one morning
CSS = """
body { font-size: 10pt; line-height: 1.3 } table { width: 100% } h1, h2, h3, p, ol { margin: 1.5mm 0 }
td, th { padding: 1px 6px !important; white-space: nowrap } h3 { font-size: 10.5pt }
.board { break-inside: avoid; border-bottom: 1px solid #777; padding-bottom: 1mm }
"""


@dataclass(frozen=True)
class Board:
    """One exercise for the board: a mistake that learners make, and numbers to show it with."""

    kind: str
    mistake: str  # in words; empty when none of the known ones was made
    who: tuple[str, ...]
    task: object = field(repr=False)  # an Exercise
    shows: str = field(default="", repr=False)  # the wrong answer that the mistake gives there, and its words

    @property
    def words(self):
        """What to work, for whom, and why."""
        why = f": {self.mistake}" if self.mistake else ""
        return f"{capital(KINDS[self.kind].title)}{why} ({listing(self.who)})"


@dataclass(frozen=True)
class ClassPage(page.Result):
    """How a class stands: a row for each learner, and the exercises for the board."""

    columns = ("who", "answered", "last on", "safe", "shaky", "practise", "mistake made", "times")
    digits = 0
    rows: tuple[tuple[object, ...], ...] = field(repr=False)
    board: tuple[Board, ...] = field(repr=False)
    day: date
    passed_over: tuple[str, ...] = ()

    @property
    def words(self):
        """How many learners there are, and what is for the board."""
        if not self.rows:
            return "No learner's file here yet: a first name written into a lesson's card makes one."
        said = f"{plural(len(self.rows), 'learner')}."
        return said + (f" At the board: {'; '.join(each.words for each in self.board)}." if self.board else "")

    @property
    def notes(self):
        """What could not be read, and what becomes of it."""
        over = self.passed_over and f"Passed over, no progress that this kit reads: {listing(self.passed_over)}."
        return [over, "Read from the files of one folder. Nothing was sent anywhere, and none of them was changed."]

    def frame_rows(self):
        """Return a row for each learner."""
        return self.rows

    @property
    def html(self):
        """The page to print."""
        board = "".join(
            f'<section class="board"><h3>{place}. {page.escape(each.words)}</h3>'
            f"<p>{page.escape(kept(each.task.question))}</p><ol>{page.items(map(kept, each.task.steps))}</ol>"
            f"{page.paragraphs([kept(f'Ask what went wrong here: {each.shows}') if each.shows else each.task.hint])}"
            "</section>"
            for place, each in enumerate(self.board, 1)
        )
        title = f"Class page, {self.day:%A} {self.day.day} {self.day:%B %Y}"
        head = "<h2>At the board tomorrow</h2>" if board else ""
        table = "".join(page.table(*each) for each in self.tables())
        count = plural(len(self.rows), "learner") + "." if self.rows else self.words
        body = f"<h1>{title}</h1>{head}{board}<h2>{count}</h2>{table}{page.paragraphs(self.notes)}"
        return page.sheet(title, body, CSS)

    def save(self, folder: str | Path) -> Path:
        """Write the page into a folder and return its path. Raises FileError."""
        path = Path(folder) / f"class_page_{self.day.isoformat()}.html"
        write_whole(path, self.html, page.is_sheet)
        return path


def class_page(folder: str | Path = FOLDER, today: str | date | None = None) -> ClassPage:
    """Return the ClassPage of a folder of learners' files; nothing leaves the machine, no file is changed.

    folder: where the files lie, `progress` beside the notebooks when none is named.
    today: the day that the page is of [a date, or text such as 2030-01-12], else that of this machine.

    Returns who stands how, each with the mistake still made most, and three exercises for the board. Raises
    AmountError for a day that is none.

    >>> class_page("no such folder").words
    "No learner's file here yet: a first name written into a lesson's card makes one."
    """
    day = read_date(today, "today") or date.today()
    found = [(each, _open(each)) for each in sorted(learners(folder), key=lambda each: each.who)]
    read = {each.path.name for each, _ in found}
    over = tuple(path.name for path in sorted(Path(folder).glob("*.json")) if path.name not in read)
    makers: dict[tuple[str, str], list[str]] = {}
    for each, mistakes in found:
        for mistake in mistakes:
            makers.setdefault(mistake, []).append(each.who)
    first = sorted(makers, key=lambda one: (-len(makers[one]), not one[1], list(KINDS).index(one[0])))
    first = [one for n, one in enumerate(first) if one[0] not in {kind for kind, _ in first[:n]}]
    board = tuple(_board(*one, tuple(makers[one]), day.toordinal()) for one in first[:BOARD])
    return ClassPage(tuple(_row(*each) for each in found), board, day, over)


def _open(progress: Progress):
    """Return {(kind, key of the mistake): times} of what was wrong since its kind was last right alone."""
    return Counter((kind, key) for kind, one in progress.kinds.items() if kind in KINDS for key in one.mistakes)


def _row(progress, mistakes):
    states, day = Counter(progress.states().values()), ""
    if progress.cards:
        last = date.fromisoformat(progress.cards[-1].day)
        day = f"{last.day} {last:%b}"
    most = sorted(mistakes, key=lambda one: (-mistakes[one], not one[1]))[:1]
    made = [(KINDS[kind].title, plain(key), mistakes[kind, key]) for kind, key in most] or [("", "", "")]
    return progress.who, progress.answered, day, states["safe"], states["shaky"], *made[0]


def _board(kind, key, who, seed):
    """Return the Board of a mistake, with the first numbers from a seed on in which it can be made."""
    task = exercise(kind, seed)
    for level, number in itertools.product(LEVELS, range(seed, seed + 15)) if key else ():
        task = exercise(kind, number, level)
        for each in task.misconceptions:
            if each.key == key:
                return Board(kind, plain(key), who, task, each.words)
    return Board(kind, plain(key), who, task)
