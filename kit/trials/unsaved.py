"""Letters typed into an entry and not saved yet: kept in a hidden file each, until they are or are given up."""

import contextlib
import hashlib
import json
from dataclasses import asdict, dataclass
from pathlib import Path

from ..errors import KitError
from ..files import write_whole


@dataclass(frozen=True)
class Unsaved:
    """What was typed into an entry of a trial, by whom, and what stood there before."""

    key: str  # of the trial
    entry: str
    text: str
    by: str
    known: str


class UnsavedEntries:
    """What was typed and not saved, of the trials of one book; folder: where its hidden files lie.

    A folder that can't be written, or a file that can't be read, is passed over: the entries themselves are safe in
    the book.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     typed = UnsavedEntries(folder, "trials.db")
    ...     typed.keep(Unsaved("f" * 32, "notes", "ribs sh", "M1", ""))
    ...     print(UnsavedEntries(folder, "trials.db").of("f" * 32, "M1")[0].text)
    ribs sh
    """

    def __init__(self, folder, book):
        self.folder, self._book = Path(folder), hashlib.sha256(str(book).encode()).hexdigest()[:8]

    def keep(self, unsaved):
        """Keep what was typed last into an entry."""
        with contextlib.suppress(KitError):
            path = self._path(unsaved.key, unsaved.entry, unsaved.by)
            write_whole(path, json.dumps(asdict(unsaved)), lambda _: True)

    def drop(self, key, entry, by):
        """Forget what somebody typed into an entry of a trial, by the trial's key."""
        with contextlib.suppress(OSError):
            self._path(key, entry, by).unlink()

    def of(self, key, by):
        """Return [Unsaved] that somebody typed into a trial, by its key, or nobody signed: nobody else's letters."""
        found = []
        with contextlib.suppress(OSError):
            for path in sorted(self.folder.glob(f".typed-{self._book}-{key}-*.json")):
                with contextlib.suppress(OSError, ValueError, TypeError):
                    found.append(Unsaved(**json.loads(path.read_text(encoding="utf-8"))))
        return [each for each in found if each.by in ("", by)]

    def _path(self, key, entry, by):
        which = hashlib.sha256(json.dumps([entry, by]).encode()).hexdigest()[:16]
        return self.folder / f".typed-{self._book}-{key}-{which}.json"
