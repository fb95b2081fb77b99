"""What a learner has had: a file of their own, and which exercise comes next.

The file is the row of cards that the learner had; how each kind stands is read off it. A kind begins worked, then the
learner does the last step, the last two, and all alone. What was right alone comes back by days, what is still in work
after so many other cards.
"""

import contextlib
import functools
import itertools
import json
import secrets
import zlib
from collections import Counter
from dataclasses import astuple, dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path

from .. import page
from ..errors import AmountError, FileError, must
from ..files import read_bytes, whole
from ..words import capital, listing, plain, plural
from .asking import LEVELS, exercise, exercises
from .kinds import KINDS

FORMAT = 2
STAGES = ("worked", "last step", "two steps", "alone")  # what the learner does: so many steps left out from the end
CAME = ("read", "right", "hinted", "slip", "wrong")  # what comes of a card
SESSION = 12  # cards
RETURNS = 6  # kinds of earlier days that are due in a session, so that days away do not flood it
NEW = 3  # the card by which a new kind comes, while there is one
LIKE = 12  # exercises that are looked through for one like the worked one
AT_MOST, WITHIN = 8, 60  # so often a kind comes in so many cards: a hard one leaves room for the others
DAYS = (1, 3, 7, 16, 35)  # days until a kind right alone comes back, by the days on which it was
SAFE = 2  # days
SIGNS = {"new": "○ new", "shaky": "◐ shaky", "safe": "● safe"}
FOLDER = "progress"  # beside the notebook
DAMAGED = (ValueError, KeyError, TypeError, AttributeError, RecursionError)  # what reading a damaged file ends in


@dataclass(frozen=True)
class Card:
    """One card that a learner had: which exercise, when, how much was shown, and what came of it."""

    key: str  # its own, so that no window adds it twice
    day: str  # as ISO 8601 writes it
    kind: str
    seed: int
    level: int
    stage: str
    came: str
    mistake: str = ""  # key of misconceptions.csv

    @property
    def which(self):
        """The exercise: kind, seed and level."""
        return self.kind, self.seed, self.level


@dataclass(frozen=True)
class Standing:
    """How one kind stands, and when it comes back."""

    met: int  # the card with which it came first
    stage: int = 0  # of its next card, position in STAGES
    level: int = 1
    wrong: int = 0  # first tries
    missed: int = 0  # wrong ones running
    mistakes: tuple[str, ...] = ()  # keys of misconceptions.csv, of what was wrong since it was last right alone
    days: tuple[date, ...] = ()  # running, on which it was right alone
    after: int = 0  # cards had by when it comes back, while in work
    back: date | None = None  # day on which it comes back, once right alone

    @property
    def state(self):
        """Whether it is safe: right alone at first on two days running."""
        return "safe" if len(self.days) >= SAFE else "shaky"

    def due(self, cards, today):
        """Return whether it comes back now."""
        return self.after <= cards if self.back is None else self.back <= today

    def then(self, card, count):
        """Return how it stands after a card, the count-th of the learner."""
        day, alone, stage = date.fromisoformat(card.day), card.stage == STAGES[-1], self.stage
        if card.came == "wrong":
            missed, mistakes = self.missed + 1, (*self.mistakes, card.mistake)
            stage, level, after = max(stage - 1, 0), max(self.level - 1, 1), count + min(2**missed, AT_MOST)
            return Standing(self.met, stage, level, self.wrong + 1, missed, mistakes, after=after)
        if card.came == "right" and alone:
            days = self.days if day in self.days else (*self.days, day)
            back = day + timedelta(DAYS[min(len(days), len(DAYS)) - 1])
            level = min(self.level + (days != self.days), max(LEVELS))
            return replace(self, stage=3, level=level, missed=0, mistakes=(), days=days, back=back)
        if card.came == "right" or card.stage == STAGES[0]:
            return replace(self, stage=max(stage, 1 + STAGES.index(card.stage)), missed=0, after=count + 2)
        # a hint, a slip or "show me" costs nothing, and the same again comes soon
        stage = max(stage - 1, 1) if card.came == "read" else stage
        return replace(self, stage=stage, days=(), after=count + 3, back=None)


@dataclass(frozen=True)
class Progress(page.Result):
    """A learner's progress: the cards that were had, and how each kind stands.

    Several windows may hold one file: every save adds to what stands there the cards that it lacks.
    """

    columns, named, digits = ("kind of exercise", "how it stands", "comes back"), False, 0
    learner: str = ""
    seed: int = 1
    cards: tuple[Card, ...] = field(default=(), repr=False)
    bench: dict = field(default_factory=dict, repr=False)  # lesson: (day, predicted [g], weighed [g]), the last of each
    told: str = ""  # what happened to the file, in words
    path: object = field(default=None, repr=False)
    kept: bool = field(default=False, repr=False, compare=False)  # whether it stands in its file

    @functools.cached_property
    def kinds(self):
        """How each kind that the learner met stands, {kind: Standing}."""
        kinds = {}
        for count, card in enumerate(self.cards, 1):
            kinds[card.kind] = kinds.get(card.kind, Standing(count)).then(card, count)
        return kinds

    @property
    def who(self):
        """The learner's name, with the number of the file where several have one name."""
        number = Path(self.path or "").stem.rpartition("-")[2]
        return f"{self.learner} {number}" if number.isdigit() else self.learner

    @property
    def answered(self):
        """How many cards were answered, not read only."""
        return sum(card.came != "read" for card in self.cards)

    @property
    def sitting(self):
        """The cards of the last day."""
        return [card for card in self.cards if card.day == self.cards[-1].day]

    def after(self, exercise, mark, hinted=False, today=None):
        """Return the progress once an exercise got its mark: the first try that counts moves it.

        hinted: whether a hint was read first; today: a date, else the day of this machine.
        """
        if not (mark.counts or mark.verdict == "slip"):
            return self
        came = "slip" if mark.verdict == "slip" else "wrong" if not mark.right else "hinted" if hinted else "right"
        return self._with(exercise, came, mark.misconception, today)

    def shown(self, exercise, today=None):
        """Return the progress once a worked example was read, or the steps shown to who did not know."""
        return self._with(exercise, "read", "", today)

    def _with(self, exercise, came, mistake, today):
        day, key = (today or date.today()).isoformat(), secrets.token_hex(4)
        card = Card(key, day, exercise.kind, exercise.seed, exercise.level, exercise.stage, came, mistake)
        if self.cards and card.which == self.cards[-1].which:
            return self
        return replace(self, cards=(*self.cards, card))

    def weighed(self, lesson, predicted, measured, today=None):
        """Return the progress once a lesson's thing was weighed at the bench [g]; the last time is kept."""
        day = (today or date.today()).isoformat()
        return replace(self, bench=self.bench | {lesson: (day, predicted, measured)})

    def states(self, lesson=None):
        """Return whether each kind is new, shaky or safe, {kind: state}. Raises UnknownName."""
        return {key: self.kinds[key].state if key in self.kinds else "new" for key in exercises(lesson)}

    @property
    def session_over(self):
        """Whether a session ends with the card had last: so many were had that day, or no more is due in its lesson."""
        if not self.cards:
            return False
        day, lesson = date.fromisoformat(self.cards[-1].day), getattr(KINDS.get(self.cards[-1].kind), "lesson", None)
        return len(self.sitting) % SESSION == 0 or all(
            key in self.kinds and self.kinds[key].back and self.kinds[key].back > day for key in exercises(lesson)
        )

    @property
    def session_words(self):
        """What was done on the last day, and when how many come back."""
        if not self.cards:
            return "Nothing done yet."
        said, day = f"{len(self.sitting)} done", date.fromisoformat(self.cards[-1].day)
        tomorrow = day + timedelta(1)
        back = Counter(max(one.back or tomorrow, tomorrow) for key, one in self.kinds.items() if key in KINDS)
        if not back:
            return f"{said}."
        first = min(back)
        on = f"{first:%A}" if first - day < timedelta(7) else f"{first.day} {first:%B}"
        return f"{said}, {min(back[first], RETURNS)} to come back on {on}."

    def save(self, path=None):
        """Add the cards that the learner's file lacks, written whole or not at all; return the progress as saved.

        What another window put there meanwhile stays. Raises FileError, also for the file of another learner.
        """
        path = Path(path or self.path)
        if self.kept and path == self.path and not path.exists():  # what a learner deleted stays deleted
            raise FileError(must(path.name, "a learner's file", "none, it was deleted", "write your name again"))
        with whole(path, lambda _: True) as file:
            both = self._added_to(read_progress(path, self.learner))
            content = {"format": FORMAT, "learner": both.learner, "seed": both.seed}
            content |= {"cards": [astuple(card) for card in both.cards], "bench": both.bench}
            file.write(json.dumps(content, ensure_ascii=False).encode("utf-8"))
        return replace(both, kept=True)

    def _added_to(self, there):
        """Return what stands in the file with the cards after it that only this window has."""
        if there.learner and self.learner and there.learner != self.learner:
            do = "choose another name"
            raise FileError(must(there.path.name, f"the progress of {self.learner}", f"that of {there.learner}", do))
        known = {card.key for card in there.cards}
        cards = (*there.cards, *(card for card in self.cards if card.key not in known))
        seed = there.seed if there.cards else self.seed
        return replace(there, seed=seed, cards=cards, bench=there.bench | self.bench)

    def forget(self):
        """Delete the learner's file, also what was put aside of it. Raises FileError."""
        path = Path(self.path or "")
        try:
            for each in (path, *path.parent.glob(f"{path.name}.damaged*")):
                each.unlink(missing_ok=True)
        except OSError as error:
            raise FileError(
                must(str(path), "a file that can be deleted", error.strerror, "delete it by hand")
            ) from None

    def frame_rows(self, lesson=None):
        """Return a row for each kind: new, shaky or safe, and the day on which it comes back."""
        states = self.states(lesson).items()
        back = {key: f"{one.back:%A, %d %B}" for key, one in self.kinds.items() if one.back}
        return [(capital(KINDS[key].title), SIGNS[state], back.get(key, "")) for key, state in states]

    @property
    def words(self):
        """How far the learner is, what comes back, and what was weighed at the bench."""
        back = [KINDS[key].title for key, one in self.kinds.items() if one.missed and key in KINDS]
        said = [f"{plural(self.answered, 'exercise')} answered."]
        said += [f"Coming back soon: {listing(back)}."] * bool(back)
        for lesson, (day, predicted, measured) in self.bench.items():
            said.append(f"At the bench, {lesson}: {predicted:g} g predicted, {measured:g} g weighed on {day}.")
        return " ".join(said)

    @property
    def notes(self):
        """Whose it is, and what happened to the file."""
        return [self.learner, self.told]


def open_learner(name, folder=None, another=False):
    """Return the Progress in the file of a learner of that first name, a new file when there is none.

    folder: where the files lie, else `progress` beside the notebook; another: a new file although one of that name
    is there. Raises AmountError for a name of more than one word, FileError.
    """
    name, folder = str(name).strip(), Path(folder or FOLDER)
    stem = "".join(letter for letter in plain(name) if letter.isalnum())
    if not stem or len(name.split()) > 1 or len(name) > 30:
        raise AmountError(must("name", "a first name, one word", repr(name), "leave the rest out"))
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileError(must(str(folder), "a folder that can be written", error.strerror, "choose another")) from None
    path = folder / f"{stem}.json"
    if another:
        path = _free(path, lambda number: f"{stem}-{number}.json")
    if path.exists():
        return read_progress(path, name)
    return Progress(name, secrets.randbelow(10**9), path=path).save()


def learners(folder=None):
    """Return the Progress in each learner's file of a folder, by name; what is not one is passed over, untouched."""
    found = []
    for path in sorted(Path(folder or FOLDER).glob("*.json")):
        with contextlib.suppress(OSError, *DAMAGED):
            found.append(_read(path))
    return found


def read_progress(path, learner=""):
    """Return the Progress in a learner's file, a fresh one when there is no file.

    A damaged file is put aside beside it as name.damaged, and `told` says so; nothing of it is thrown away.
    Raises FileError for the file of a newer kit, which stays untouched, and for one that cannot be read.
    """
    path = Path(path)
    fresh = Progress(learner, zlib.crc32(learner.encode("utf-8")), path=path)
    try:
        return _read(path, learner) if path.exists() else fresh
    except DAMAGED:
        return replace(fresh, told=_put_aside(path))


def _read(path, learner=""):
    content = json.loads(read_bytes(path).decode("utf-8-sig"))
    if content["format"] > FORMAT:
        do = "update the kit; the file was not touched"
        raise FileError(must(f"{path.name} format", f"{FORMAT} or lower", content["format"], do))
    about = [content[name] for name in ("format", "learner", "seed")]
    if [*map(type, about)] != [int, str, int] or about[0] != FORMAT or about[2] < 0:
        raise TypeError
    cards = tuple(map(_card, content["cards"]))
    bench = {
        lesson: (date.fromisoformat(day).isoformat(), float(predicted), float(measured))
        for lesson, (day, predicted, measured) in content.get("bench", {}).items()
    }
    return Progress(content["learner"] or learner, content["seed"], cards, bench, path=path, kept=True)


def _card(row):
    """The Card of a row in a file; raises when anything in it is not what this kit writes."""
    card = Card(*row)
    date.fromisoformat(card.day)
    known = card.stage in STAGES and card.came in CAME and card.level in LEVELS
    if not known or [*map(type, row)] != [str, str, str, int, int, str, str, str]:
        raise TypeError
    return card


def _free(path, numbered):
    """Return a path where nothing is, else the first of those that are numbered from 2 on."""
    others = (path.with_name(numbered(number)) for number in itertools.count(2))
    return next(each for each in itertools.chain([path], others) if not each.exists())


def _put_aside(path):
    """Rename a damaged file, never over another one, and return what to tell."""
    aside = path.with_name(f"{path.name}.damaged")
    aside = _free(aside, lambda number: f"{path.name}.damaged{number}")
    try:
        path.rename(aside)
    except OSError as error:
        raise FileError(
            must(str(path), "a whole progress file", f"a damaged one ({error.strerror})", "move it")
        ) from None
    return f"{path.name} was damaged and could not be read. It is kept as {aside.name}; you start anew."


def next_exercise(progress, lesson=None, today=None):
    """Return the Exercise that comes next, with its `stage`: what is due, a new kind every third card, or the oldest.

    Decided by the progress and the day alone, so the same file gives the same exercise. lesson keeps to one lesson;
    today: a date, else the day of this machine. Raises UnknownName.

    >>> first = next_exercise(Progress())
    >>> first.kind, first.stage
    ('percentage_from_weight', 'worked')
    """
    today, count = today or date.today(), len(progress.cards)
    keys, kinds = exercises(lesson), progress.kinds
    new, met = [key for key in keys if key not in kinds], [key for key in keys if key in kinds]
    recent = [card.kind for card in progress.cards[1 - WITHIN :]]
    had = Counter(recent)
    met.sort(key=lambda key: (had[key] >= AT_MOST, key in recent[-1:], kinds[key].back or date.min, kinds[key].after))
    free = [key for key in met if had[key] < AT_MOST and key not in recent[-1:]]
    due = [key for key in free if kinds[key].due(count, today)]
    read = [key for key in due if kinds[key].stage == 1 and not kinds[key].wrong]  # what was read is done next
    days = [{card.kind for card in progress.cards if (card.day == today.isoformat()) is now} for now in (True, False)]
    back = [key for key in due if kinds[key].back]
    work = [key for key in due if not kinds[key].back]
    turn = new if count + 1 - max((one.met for one in kinds.values()), default=-NEW) >= NEW else []
    key = (read + turn[:1] + back[: max(RETURNS - len(days[0] & days[1]), 0)] + work + new + free + met)[0]
    stands = kinds.get(key, Standing(0))
    seeds = [progress.seed + count + 100_000 * n for n in range(LIKE)]
    task = exercise(key, seeds[0], stands.level)
    if 0 < stands.stage < len(STAGES) - 1:  # steps are left out of an exercise like the one that was worked
        before = _thoughts(exercise(*next(card.which for card in reversed(progress.cards) if card.kind == key)))
        others = (exercise(key, seed, stands.level) for seed in seeds)
        task = next((each for each in others if _thoughts(each) == before), task)
    left_out = stands.stage if stands.stage < len(task.steps) else len(STAGES) - 1
    return replace(task, stage=STAGES[left_out])


def _thoughts(exercise):
    """Return what can be thought wrongly in an exercise: the keys of its misconceptions."""
    return {key for key, *_ in exercise.misconceptions}
