"""The boxes that a bake is entered into, and what stands around them, as HTML."""

from dataclasses import dataclass, field
from typing import Any

from .. import page
from ..trials.fields import Note, written
from ..trials.records import DATES, TEXTS, Trial, mean_of
from ..words import figure

KEYS = 'data-lm-suppress-shortcuts="true"'  # JupyterLab would take Enter and arrows of these for its own


@dataclass
class Box:
    """One entry of a trial on the screen: what stands in the book, what stands in the box, what is said beneath."""

    entry: str
    label: str
    unit: str = ""
    hint: str = ""
    about: Note | None = None  # what it notes
    rows: int = 1
    planned: float | str | None = None
    line: tuple = ()  # (part, ingredient key, grams to be weighed) of a line of the batch
    known: str = ""
    text: str = ""
    said: str = ""
    wrong: bool = False
    choices: tuple = ()  # (what to press, its words) of two values, or of two meanings
    asking: Any = None  # the question about what was typed
    unsaved: bool = False
    by: str = ""  # who typed it
    waits: Any = field(default=None, repr=False)  # the timer that saves what was typed
    place: str = ""  # the part of the page that says what became of it

    def read(self, trial: Trial) -> str:
        """Return what stands in a trial, as one writes it."""
        name = self.entry.replace(" ", "_")
        if name in (*TEXTS, *DATES):
            return written(getattr(trial, name))
        if not self.line:
            return written(trial.value(self.entry))
        (place, key, grams), weighed = self.line, trial.weighed_formula
        value = weighed.grams[place].get(key, 0.0) if weighed and place in weighed.grams else None
        as_aimed = value is not None and grams is not None and abs(value - grams) <= 0.01
        return written(self.planned if as_aimed else value)

    def said_of(self, trial: Trial) -> str:
        """Return in words what is saved: as it was read, the mean of several, and the plan."""
        words, value = ["saved"], trial.noted.get(self.about) if self.about else None
        if self.known and self.known != self.text.strip():
            words.append(f"read as {self.known} {self.unit}".strip())
        if isinstance(value, tuple) and len(value) > 1:
            words.append(f"mean of {len(value)}: {figure(mean_of(value))} {self.unit}".strip())
        if self.known and self.planned is not None and written(self.planned) != self.known:
            words.append(f"planned {written(self.planned)} {self.unit}".strip())
        return "; ".join(words)

    def stop(self) -> None:
        """Let no timer save it any more."""
        if self.waits is not None:
            self.waits.cancel()
            self.waits = None

    def html(self, only_looked_at: bool = False) -> str:
        """Return the box with its name above it and a place for words beneath."""
        name, off = f"{self.place}-box", " disabled" if only_looked_at else ""
        label = f'<label for="{name}">{page.escape(self.label)}</label>'
        given = f'id="{name}" data-entry="{page.escape(self.entry)}" aria-describedby="{self.place}"{off}'
        hint = f'placeholder="{page.escape(self.hint)}"'
        if self.rows > 1:
            inside = f'<textarea {given} rows="{self.rows}" {hint}>{page.escape(self.text)}</textarea>'
        else:
            inside = f'<input type="text" {given} {hint} value="{page.escape(self.text)}" autocomplete="off">'
        wide = ' wide" style="flex:1 1 46%' if self.rows > 1 else '" style="flex:1 1 168px'
        below = f'<p id="{self.place}" data-part="{self.place}"></p>'
        return f'<div class="box{wide}">{label}{inside}{below}</div>'

    def note(self) -> str:
        """Return what is said beneath it, and the values to choose from."""
        kind = "wrong" if self.wrong else "quiet"
        chosen = "".join(press(f"{what} {self.entry}", words) for what, words in self.choices)
        return f'<span class="{kind}">{page.escape(self.said)}</span>{chosen}' if self.said else ""


def aside(entry: str, label: str, text: str = "", hint: str = "", options: Any = (), flex: str = "1 1 168px") -> str:
    """Return a box beside the bake's own, told and not saved in it; options: [(what is told, its words)] of a list."""
    name = entry.replace(" ", "-")
    given = f'data-entry="{entry}" data-aside id="aside-{name}"'
    given += f' autocomplete="off" placeholder="{page.escape(hint)}"' * (not options)
    box = f'<input type="text" {given} value="{page.escape(text)}">'
    if options:
        inside = (
            f'<option value="{page.escape(value)}"{" selected" * (value == text)}>{page.escape(words)}</option>'
            for value, words in options
        )
        box = f"<select {given} {KEYS}>{''.join(inside)}</select>"
    return f'<div class="box" style="flex:{flex}"><label for="aside-{name}">{page.escape(label)}</label>{box}</div>'


def press(what: str, words: str, **more: str) -> str:
    """Return a button that tells what is pressed."""
    given = "".join(f' {name.replace("_", "-")}="{page.escape(value)}"' for name, value in more.items())
    return f'<button type="button" data-press="{page.escape(what)}" {KEYS}{given}>{page.escape(words)}</button>'


def tick(entry: str, words: str, ticked: bool) -> str:
    """Return a box to tick."""
    on = " checked" * ticked
    given = f'data-entry="{page.escape(entry)}" data-aside {KEYS}'
    return f'<label class="tick"><input type="checkbox" {given}{on}> {page.escape(words)}</label>'


def quiet(words: str) -> str:
    """Return a quiet line over the whole width."""
    return f'<p class="quiet" style="flex:1 1 100%;margin:0">{page.escape(words)}</p>' if words else ""


def row(*inside: str, name: str = "boxes") -> str:
    """Return pieces beside each other, and beneath where there is no room."""
    look = "display:flex;flex-wrap:wrap;gap:6px 12px;align-items:flex-start"
    return f'<div class="{name}" style="{look}">{"".join(inside)}</div>'
