"""What a learner has tried: a file of their own, and which exercise comes next.

Boxes: a kind answered right at the first try moves up a box and waits longer, one answered wrong falls to box 0
and comes back after two others. The wait is counted in exercises, not in days, so the file alone decides.
"""

import json
import os
import secrets
import zlib
from dataclasses import dataclass, field, replace
from pathlib import Path

from .. import page
from ..errors import FileError, must
from ..files import whole
from ..words import listing, plural
from .asking import LEVELS, exercise, exercises
from .kinds import KINDS

FORMAT = 1
WAITS = (2, 6, 18, 54, 162)  # exercises until a kind in that box comes back; long enough that new kinds find room
REMEMBERED = 500  # answers that a file knows again, so that none is added twice
FIELDS = ("box", "due", "right", "wrong")


@dataclass(frozen=True)
class Tried:
    """How one kind stands: its box, when it is due (count of exercises), right and wrong first tries."""

    box: int = 0
    due: int = 0
    right: int = 0
    wrong: int = 0

    @property
    def tries(self):
        """How often a first try counted."""
        return self.right + self.wrong

    @property
    def level(self):
        """The level at which the kind comes next: up one for every two boxes."""
        return min(max(LEVELS), 1 + self.box // 2)


@dataclass(frozen=True)
class Progress(page.Result):
    """A learner's progress: how many exercises were answered, and how each kind stands.

    Several windows may hold one file: each keeps what was answered in it, and every save adds that to what stands.
    """

    columns = ("lesson", "skill", "kinds", "tried", "right at first", "wrong at first", "past level 1")
    named = False
    learner: str = ""
    seed: int = 1
    answered: int = 0
    kinds: dict = field(default_factory=dict, repr=False)  # kind: Tried
    last: tuple = ()  # (kind, seed, level) of the exercise answered last
    told: str = ""  # what happened to the file, in words
    path: object = field(default=None, repr=False)
    # (its own mark, (kind, seed, level), right) of what was answered since the file was read or saved
    new: tuple = field(default=(), repr=False, compare=False)
    taken: tuple = field(default=(), repr=False, compare=False)  # marks of answers that the file holds

    def after(self, exercise, mark):
        """Return the progress once an exercise got its mark: only the first try that counts moves it."""
        which = (exercise.kind, exercise.seed, exercise.level)
        if not mark.counts or which == self.last:
            return self
        return self._with((secrets.token_hex(4), which, mark.right))

    def _with(self, answer):
        _, which, right = answer
        answered, was = self.answered + 1, self.kinds.get(which[0], Tried())
        box = min(was.box + 1, len(WAITS) - 1) if right else 0
        now = Tried(box, answered + WAITS[box], was.right + right, was.wrong + (not right))
        kinds, new = {**self.kinds, which[0]: now}, (*self.new, answer)
        return replace(self, answered=answered, kinds=kinds, last=which, new=new)

    def save(self, path=None):
        """Add what was answered to the learner's file, written whole or not at all; return the progress as saved.

        What another window put there meanwhile stays. Raises FileError, also for the file of another learner.
        """
        path = Path(path or self.path or "")
        if not path.name:
            raise FileError(must("path", "the name of a file", "none", "say where your progress is kept"))
        with whole(path, lambda _: True) as file:
            both = self._added_to(read_progress(path, self.learner))
            content = {
                "format": FORMAT,
                "learner": both.learner,
                "seed": both.seed,
                "answered": both.answered,
                "last": list(both.last),
                "kinds": {key: {name: getattr(one, name) for name in FIELDS} for key, one in both.kinds.items()},
                "taken": list(both.taken),
            }
            file.write(json.dumps(content, ensure_ascii=False, indent=1).encode("utf-8"))
        return both

    def _added_to(self, there):
        """Return what stands in the file with this window's answers after it, and never less than this holds."""
        if there.learner and self.learner and there.learner != self.learner:
            do = "choose another name"
            raise FileError(must(there.path.name, f"the progress of {self.learner}", f"that of {there.learner}", do))
        both = there
        for answer in self.new:
            if answer[0] not in there.taken:
                both = both._with(answer)
        more = {key: one for key, one in self.kinds.items() if one.tries > both.kinds.get(key, Tried()).tries}
        return replace(
            both,
            seed=there.seed if there.answered else self.seed,
            answered=max(both.answered, self.answered),
            kinds={**both.kinds, **more},
            last=both.last or self.last,
            new=(),
            taken=(*there.taken, *(mark for mark, *_ in both.new))[-REMEMBERED:],
        )

    def frame_rows(self):
        """Return by skill: lesson, skill, kinds, tried, right and wrong first tries, kinds at level 2 or 3."""
        rows = {}
        for key, kind in exercises().items():
            one, row = self.kinds.get(key, Tried()), rows.setdefault((kind.lesson, kind.skill), [0] * 5)
            counts = (1, one.tries > 0, one.right, one.wrong, one.level > 1)
            row[:] = [before + count for before, count in zip(row, counts, strict=True)]
        return [(*which, *row) for which, row in rows.items()]

    def tables(self):
        """Return the one table."""
        return [(self.columns, self.frame_rows())]

    @property
    def words(self):
        """How far the learner is and what comes back."""
        back = [KINDS[key].title for key, one in self.kinds.items() if one.box == 0 and key in KINDS]
        said = f"{plural(self.answered, 'exercise')} answered."
        return said + (f" Coming back soon: {listing(back)}." if back else "")

    @property
    def notes(self):
        """Whose it is, and what happened to the file."""
        return [self.learner, self.told]


def read_progress(path, learner=""):
    """Return the Progress in a learner's file, a fresh one when there is no file.

    A damaged file is put aside beside it as name.damaged, and `told` says so; nothing of it is thrown away.
    Raises FileError for the file of a newer kit, which stays untouched, and for one that cannot be read.
    """
    path = Path(path)
    fresh = Progress(learner, zlib.crc32(learner.encode("utf-8")), path=path)
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        return fresh
    except OSError as error:
        raise FileError(must(str(path), "a file that can be read", error.strerror, "check its name")) from None
    try:
        content = json.loads(raw.decode("utf-8-sig"))
        if content["format"] > FORMAT:
            do = "update the kit; the file was not touched"
            raise FileError(must(f"{path.name} format", f"{FORMAT} or lower", content["format"], do))
        return _checked(content, learner, path)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return replace(fresh, told=_put_aside(path))


def _checked(content, learner, path):
    """The Progress in a file's content; raises when anything in it is not what this kit writes."""
    if content["format"] != FORMAT or not isinstance(content["learner"], str):
        raise ValueError
    kinds = {key: Tried(**{name: _count(one[name]) for name in FIELDS}) for key, one in content["kinds"].items()}
    if any(one.box >= len(WAITS) for one in kinds.values()):
        raise ValueError
    last = tuple(content["last"])
    if last:
        kind, seed, level = last
        if not isinstance(kind, str):
            raise TypeError
        last = (kind, _count(seed), _count(level))
    taken = tuple(content.get("taken", ()))
    if not all(isinstance(mark, str) for mark in taken):
        raise TypeError
    return Progress(
        content["learner"] or learner,
        _count(content["seed"]),
        _count(content["answered"]),
        kinds,
        last,
        path=path,
        taken=taken,
    )


def _count(value):
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise TypeError
    return value


def _put_aside(path):
    """Rename a damaged file, never over another one, and return what to tell."""
    aside, number = path.with_name(f"{path.name}.damaged"), 1
    while aside.exists():
        number += 1
        aside = path.with_name(f"{path.name}.damaged{number}")
    try:
        os.rename(path, aside)
    except OSError as error:
        raise FileError(
            must(str(path), "a whole progress file", f"a damaged one ({error.strerror})", "move it")
        ) from None
    return f"{path.name} was damaged and could not be read. It is kept as {aside.name}; you start anew."


def next_exercise(progress, lesson=None):
    """Return the Exercise that comes next: what is due, the oldest first, then a new kind, easy before hard.

    Decided by the progress alone, so the same file gives the same exercise. lesson keeps to one lesson.
    Raises UnknownName.

    >>> next_exercise(Progress()).kind
    'percentage_from_weight'
    """
    keys = exercises(lesson)
    seen = {key: progress.kinds[key] for key in keys if key in progress.kinds}
    oldest = sorted(seen, key=lambda key: seen[key].due)
    # not the same kind twice running while there is anything else
    others = [key for key in oldest if key not in progress.last[:1]]
    due = [key for key in others if seen[key].due <= progress.answered]
    new = [key for key in keys if key not in seen]
    key = (due + new + others + oldest)[0]
    return exercise(key, progress.seed + progress.answered, seen.get(key, Tried()).level)
