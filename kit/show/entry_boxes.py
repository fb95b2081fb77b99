"""The boxes that a bake is entered into, what stands around them, as HTML, and the letters not saved yet."""

import contextlib
import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from .. import page
from ..errors import KitError
from ..files import write_whole
from ..trials.fields import Note, written
from ..trials.records import mean_of
from ..words import figure
from .live import part

KEYS = 'data-lm-suppress-shortcuts="true"'  # JupyterLab would take Enter and arrows of these for its own


class Typed(NamedTuple):
    """What was typed into an entry of a trial and is not saved yet, by whom, and what stood there before."""

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
    ...     UnsavedEntries(folder, "trials.db").keep(Typed("f" * 32, "notes", "ribs sh", "M1", ""))
    ...     print(*(typed.text for typed in UnsavedEntries(folder, "trials.db").of("f" * 32, "M1")))
    ribs sh
    """

    def __init__(self, folder, book):
        self._folder, self._book = Path(folder), hashlib.sha256(str(book).encode()).hexdigest()[:8]

    def keep(self, typed):
        """Keep what was typed last into an entry."""
        with contextlib.suppress(KitError):
            write_whole(self._path(typed), json.dumps(typed._asdict()), lambda _: True)

    def drop(self, typed):
        """Forget what somebody typed into an entry."""
        with contextlib.suppress(OSError):
            self._path(typed).unlink()

    def of(self, key, by):
        """Give what somebody typed into a trial, by its key, or nobody signed: nobody else's letters."""
        for path in sorted(self._folder.glob(f".typed-{self._book}-{key}-*.json")):
            with contextlib.suppress(OSError, ValueError, TypeError):
                typed = Typed(**json.loads(path.read_text(encoding="utf-8")))
                if typed.by in ("", by):
                    yield typed

    def _path(self, typed):
        which = hashlib.sha256(json.dumps([typed.entry, typed.by]).encode()).hexdigest()[:16]
        return self._folder / f".typed-{self._book}-{typed.key}-{which}.json"


@dataclass
class Box:
    """One entry of a trial on the screen: what stands in the book, what stands in the box, what is said beneath."""

    entry: str
    about: Note | str  # by what `Trial.entries` knows it
    label: str
    unit: str = ""
    hint: str = ""
    rows: int = 1
    planned: float | str | None = None
    line: tuple = ()  # (part, ingredient key, grams to be weighed) of a line of the batch
    place: str = ""  # the part of the page that says what became of it
    known: str = ""
    text: str = ""
    typed: Typed | None = None  # what is not saved yet
    waits: bool = False  # for the typing to rest
    said: str = ""
    choices: tuple = ()  # (what to press, its words) of two values, or of two meanings
    asking: Any = None  # the question about what was typed

    def read(self, trial):
        """Return what stands in a trial, as one writes it."""
        if not self.line:
            return written(trial.entries.get(self.about))
        (place, key, grams), weighed = self.line, trial.weighed_formula
        value = weighed.grams[place].get(key, 0.0) if weighed and place in weighed.grams else None
        as_aimed = value is not None and grams is not None and abs(value - grams) <= 0.01
        return written(self.planned if as_aimed else value)

    def said_of(self, trial):
        """Return in words what is saved: as it was read, the mean of several, and the plan."""
        words, value, unit = ["saved"], trial.entries.get(self.about), self.unit and f" {self.unit}"
        if self.known and self.known != self.text.strip():
            words.append(f"read as {self.known}{unit}")
        if isinstance(value, tuple) and len(value) > 1:
            words.append(f"mean of {len(value)}: {figure(mean_of(value))}{unit}")
        if self.known and self.planned is not None and written(self.planned) != self.known:
            words.append(f"planned {written(self.planned)}{unit}")
        return "; ".join(words)

    def note(self):
        """Return what is said beneath it, and the values to choose from."""
        kind = "wrong" if self.typed else "quiet"
        chosen = "".join(press(f"{what} {self.entry}", words) for what, words in self.choices)
        return f'<span class="{kind}">{page.escape(self.said)}</span>{chosen}' if self.said else ""


def boxed(entry, label, text="", hint="", options=(), rows=1, flex="", place="", off=False):
    """Return a box with its name above it.

    options: of a list to choose from, or {what is told: its words}; place: the part beneath it that says what became of
    it, without which it is told beside the bake's own boxes and not saved in it; off: nothing can be typed.
    """
    name = f"{place}-box" if place else f"aside-{entry.replace(' ', '-')}"
    told = f'aria-describedby="{place}"{" disabled" * off}' if place else "data-aside"
    given = f'id="{name}" data-entry="{page.escape(entry)}" {told}'
    hinted = f'{given} placeholder="{page.escape(hint)}"'
    if options:
        words = options if isinstance(options, dict) else {each: each for each in options}
        chosen = (
            f'<option value="{page.escape(each)}"{" selected" * (each == text)}>{page.escape(words[each])}</option>'
            for each in words
        )
        inside = f"<select {given} {KEYS}>{''.join(chosen)}</select>"
    elif rows > 1:
        inside = f'<textarea {hinted} rows="{rows}">{page.escape(text)}</textarea>'
    else:
        inside = f'<input type="text" {hinted} value="{page.escape(text)}" autocomplete="off">'
    head = f'<label for="{name}">{page.escape(label)}</label>'
    below = part(place, "p", id=place) if place else ""
    kind, flex = ("box wide", "1 1 46%") if rows > 1 else ("box", flex or "1 1 168px")
    return f'<div class="{kind}" style="flex:{flex}">{head}{inside}{below}</div>'


def press(what, words, **more):
    """Return a button that tells what is pressed; more: of its attributes, yes and no as a page has them."""
    told = {name: str(value).lower() if isinstance(value, bool) else value for name, value in more.items()}
    given = "".join(f' {name.replace("_", "-")}="{page.escape(value)}"' for name, value in told.items())
    return f'<button type="button" data-press="{page.escape(what)}" {KEYS}{given}>{page.escape(words)}</button>'


def tick(entry, words, ticked):
    """Return a box to tick."""
    given = f'data-entry="{page.escape(entry)}" data-aside {KEYS}{" checked" * ticked}'
    return f'<label class="tick"><input type="checkbox" {given}> {page.escape(words)}</label>'


def quiet(words):
    """Return a quiet line over the whole width."""
    return f'<p class="quiet" style="flex:1 1 100%;margin:0">{page.escape(words)}</p>' if words else ""


def row(*inside, name="boxes"):
    """Return pieces beside each other, and beneath where there is no room."""
    look = "display:flex;flex-wrap:wrap;gap:6px 12px;align-items:flex-start"
    return f'<div class="{name}" style="{look}">{"".join(inside)}</div>'
