"""What was changed, withdrawn or erased in a trial: what, from what to what, by whom and when."""

import datetime
from dataclasses import dataclass
from typing import NamedTuple

from ..page import Result
from ..words import listing, plural
from .fields import written

PAUSE = datetime.timedelta(minutes=10)  # of one writer, after which what was entered is finished
WITHDRAWN, PUT_BACK, ERASED = "withdrawn", "put back", "erased"


@dataclass(frozen=True)
class Removal:
    """A trial or a photo that was withdrawn, put back or erased: of which digest, by whom, when and why."""

    digest: str  # of the photo; "" for the trial itself
    what: str
    view: str
    by: str
    at: str  # UTC, ISO 8601
    why: str


class Change(NamedTuple):
    """What somebody changed in a trial after having noted it, or withdrew from it."""

    at: str
    by: str
    what: str
    was: str
    now: str


@dataclass(frozen=True)
class Corrections(Result):
    """The changes to what had been noted of a trial, the first first."""

    changes: tuple

    columns = ("when", "by", "what", "from", "to")
    named = False

    @property
    def words(self):
        """How many there are, and of what."""
        if not self.changes:
            return "Nothing was corrected."
        return f"{plural(len(self.changes), 'correction')}: {listing(dict.fromkeys(c.what for c in self.changes))}."

    def frame_rows(self):
        """Return the rows of the frame, one a change."""
        moments = (datetime.datetime.fromisoformat(change.at).astimezone() for change in self.changes)
        return [(f"{at:%Y-%m-%d %H:%M}", *change[1:]) for at, change in zip(moments, self.changes, strict=True)]

    def tables(self):
        """Return the changes as a table."""
        return [(self.columns, self.frame_rows())] if self.changes else ()


def withdrawn_of(done):
    """Return which are withdrawn or erased of [(which, what was done to it)], the first first: the last one holds."""
    return [which for which, what in dict(map(tuple, done)).items() if what != PUT_BACK]


def finished(versions):
    """Return the Versions that somebody finished: the last before a pause of minutes, or before another's.

    What is set aside was finished as it came.
    """
    kept = []
    for version in versions:
        if kept and not kept[-1].aside and not version.aside and kept[-1].by == version.by:
            pause = datetime.datetime.fromisoformat(version.at) - datetime.datetime.fromisoformat(kept[-1].at)
            if datetime.timedelta(0) <= pause < PAUSE:
                kept.pop()
        kept.append(version)
    return kept


def corrections(versions, removals):
    """Return the Corrections of a trial from its finished Versions and its Removals; what is first noted is none."""
    found, before, earlier = [], {}, []
    for version in versions:
        entries = version.trial.entries
        for entry in {**before, **entries} if version.aside else before:
            was, now = before.get(entry), entries.get(entry)
            if was == now or (version.aside and any(each.get(entry) == now for each in earlier)):
                continue  # what is set aside was written on top of an earlier version
            text = (written(now) or "nothing") + (", set aside" if version.aside else "")
            found.append(Change(version.at, version.by, str(entry).replace("_", " "), written(was), text))
        earlier.append(entries)
        before = before if version.aside else entries
    for removal in removals:
        what = f"photo, {removal.view}" if removal.digest else "the trial"
        now = f"{removal.what}: {removal.why}" if removal.why else removal.what
        found.append(Change(removal.at, removal.by, what, "", now))
    return Corrections(tuple(sorted(found, key=lambda change: change.at)))
