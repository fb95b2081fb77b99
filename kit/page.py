"""Text made safe for a page, and the plain tables and frames that notebooks and pages share."""

import base64
import html
import re
from pathlib import Path
from typing import Any, ClassVar

import numpy as np

from .errors import AmountError, must
from .words import figure

STYLE = (
    "border-collapse:collapse;font-variant-numeric:tabular-nums;font-size:13px;color:#222;background:#fff;margin:4px 0"
)
SENTENCE = 40  # characters from which a cell is read as a sentence
CELL = "padding:2px 10px;border-bottom:1px solid #ddd"


def escape(text):
    """Return text that a page shows as text, whatever it holds.

    >>> escape("<script>")
    '&lt;script&gt;'
    """
    return html.escape(str(text), quote=True)


def address(data, kind="image/png"):
    """Return bytes as an address that a page can show without a file beside it; kind: their media type.

    >>> address(b"kit", "text/plain")
    'data:text/plain;base64,a2l0'
    """
    return f"data:{kind};base64,{base64.b64encode(data).decode()}"


def table(columns, rows, caption="", strong=()):
    """Return an HTML table: words left, figures right; rows whose position is in `strong` stand out.

    A row of one cell goes over all columns.

    >>> "text-align:right" in table(["", "%"], [["salt", "1.6"]])
    True
    """
    rows = [list(row) for row in rows]
    whole = [row for row in rows if len(row) > 1]
    sides = ["left" if n == 0 or _of_words([row[n] for row in whole]) else "right" for n in range(len(columns))]
    head = "".join(
        f'<th scope="col" style="{CELL};text-align:{sides[n]}">{unbroken(escape(name))}</th>'
        for n, name in enumerate(columns)
    )
    body = ""
    for position, row in enumerate(rows):
        weight = ";font-weight:600;border-top:1px solid #777" if position in strong else ""
        span = f'<td colspan="{len(columns)}"' if len(row) == 1 else "<td"
        body += (
            "<tr>"
            + "".join(
                f'{span} style="{CELL};text-align:{sides[n]}{weight}">{escape(cell)}</td>' for n, cell in enumerate(row)
            )
            + "</tr>"
        )
    top = (
        f'<caption style="text-align:left;font-weight:600;padding:4px 0">{escape(caption)}</caption>' if caption else ""
    )
    return f'<table style="{STYLE}">{top}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>'


def paragraphs(texts, look=""):
    """Return texts as HTML paragraphs, of a class when one is named; empty ones are left out.

    >>> paragraphs(["ribs < 8 mm", ""])
    '<p>ribs &lt; 8 mm</p>'
    """
    return "".join(f"<p{look and f' class={look!r}'}>{escape(text)}</p>" for text in texts if text)


def items(texts):
    """Return texts as the items of an HTML list.

    >>> items(["sheet", "label"])
    '<li>sheet</li><li>label</li>'
    """
    return "".join(f"<li>{escape(text)}</li>" for text in texts)


def frame(columns, rows, index=False):
    """Return a pandas DataFrame of rows; with index, the first column names them.

    >>> frame(["what", "%"], [["salt", 1.6]], index=True).loc["salt", "%"].item()
    1.6
    """
    import pandas as pd  # loaded only when a frame is asked for

    made = pd.DataFrame(list(rows), columns=list(columns))
    return made.set_index(columns[0]) if index else made


class AtLeast(float):
    """A figure that is a lower bound, by what is unknown in it: a page marks it."""


def bound(value, unknown):
    """Return a figure, as AtLeast where something in it is unknown; an array as it is.

    >>> _shown(bound(5.308, [("my butter", 60.0)]), 1)
    '≥ 5.3'
    """
    return AtLeast(value) if unknown and not np.ndim(value) else value


class Result:
    """What a step gives back. A kind of result says its words, the columns and rows of its frame, the tables of a page,
    its notes and grounds, those that it has; text, frame, sources and the look in a notebook follow from them.
    """

    columns: ClassVar[tuple[str, ...]] = ("what", "rests on")  # of the frame, units in their names
    named: ClassVar[bool] = True  # whether the first column names the rows
    digits: ClassVar[int | None] = None  # of the frame's figures on a page; None where it is not shown
    strong: ClassVar[tuple[int, ...]] = ()  # rows that stand out there
    notes: Any = ()
    grounds: Any = {}

    @property
    def words(self) -> str:
        """What it says, in sentences; nothing where a table says it all."""
        return ""

    @property
    def lead(self):
        """What stands above the tables: the words."""
        return self.words

    def frame_rows(self):
        """Return the rows of the frame; what it rests on where there are no figures to show."""
        return self.sources().items()

    def tables(self):
        """Return what `table` takes for each table: the frame's of one formula, where `digits` says how it is shown."""
        rows = [] if self.digits is None else [list(row) for row in self.frame_rows()]
        if not rows or any(np.ndim(cell) for row in rows for cell in row):
            return ()
        return [(self.columns, [[_shown(cell, self.digits) for cell in row] for row in rows], "", self.strong)]

    def to_frame(self):
        """Return a DataFrame of the figures, units in the names of the columns."""
        return frame(self.columns, self.frame_rows(), self.named)

    def sources(self):
        """Return what it rests on, {what: why}."""
        return dict(self.grounds)

    def __str__(self):
        return self.words or repr(self)

    def _repr_html_(self):
        shown = "".join(table(*one) for one in self.tables())
        return paragraphs([self.lead]) + shown + paragraphs(self.notes)


def _shown(cell, digits):
    """Return a cell of a frame as a page has it: a count without digits, a lower bound marked, nothing for none."""
    if isinstance(cell, str):
        return cell
    if cell is None or cell != cell:
        return ""
    return "≥ " * isinstance(cell, AtLeast) + figure(cell, 0 if isinstance(cell, int) else digits)


def _of_words(cells):
    """Whether a column is read rather than summed: most of its cells begin with a word, or one is a sentence."""
    written = [text for text in (str(cell).strip(" –") for cell in cells) if text]
    return 2 * sum(text[0].isalpha() for text in written) > len(written) or any(len(t) > SENTENCE for t in written)


def unbroken(words):
    """Keep a code such as T-004 on one line: in a narrow column it would break at its hyphen."""
    return re.sub(r"\w+-\d+", r'<span style="white-space:nowrap">\g<0></span>', words)


def style(module):
    """Return the CSS that lies beside a module, by the path of its file."""
    return Path(module).with_suffix(".css").read_text(encoding="utf-8")


def sheet(title, body, css="", paper="A4"):
    """Return a whole HTML page to print: plain type, black on white, A4 or Letter, title as text, body as HTML.

    >>> "@page" in sheet("Class sheet", "<p>1</p>", paper="Letter")
    True
    """
    size = {"a4": "A4", "letter": "letter"}.get(str(paper).casefold())
    if size is None:
        raise AmountError(must("paper", "A4 or Letter", repr(paper), "choose the one in the printer"))
    look = (
        f"@page {{ size: {size}; margin: 15mm }} body {{ font: 11pt/1.4 sans-serif; color: #000; background: #fff; "
        "max-width: 180mm; margin: 0 auto } h1 { font-size: 16pt } h2 { font-size: 13pt }"
    )
    return (
        f'<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        f"<style>{look} {css}</style></head><body>{body}</body></html>\n"
    )


def is_sheet(raw):
    """Return whether the bytes of a file are a page that `sheet` made.

    >>> is_sheet(sheet("Class sheet", "").encode()), is_sheet(b"<!DOCTYPE html><p>ours</p>")
    (True, False)
    """
    return bool(
        re.match(
            rb'<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>[^<]*</title>'
            rb"<style>@page { size: ",
            raw,
        )
    )
