"""The pages that leave the bakehouse, in one look: black on white, the invented marked, local codes first."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .. import page, words
from ..cautions import FIRST
from ..words import capital
from .weighing import counted

_INVENTED = " (invented)"


def _page(title, body, of, paper):
    """Return the whole HTML page, in the look of all and that of a "sheet" or of "tables"."""
    css = [Path(__file__).with_name(f"{name}.css").read_text(encoding="utf-8") for name in ("look", of)]
    return page.sheet(title, body, "".join(css), paper)


@dataclass(frozen=True)
class Changes(page.Result):
    """What is printed otherwise than before: rows whose last cells are what, before and now; empty when nothing is."""

    rows: tuple
    columns: tuple[str, ...]  # type: ignore[misc]
    nothing: str = "nothing new"
    digits = 0

    @property
    def named(self):
        """Whether the first column of the frame names its rows."""
        return len(self.columns) == 3

    def __bool__(self):
        return bool(self.rows)

    @property
    def words(self):
        """What is new, in one line."""
        said = (f"{what} {before or 'not there'} → {now or 'gone'}" for *_, what, before, now in self.rows)
        return "; ".join(said) or self.nothing

    @property
    def lead(self):
        """That nothing is, where nothing is."""
        return "" if self.rows else self.nothing

    def frame_rows(self):
        """Return the rows."""
        return self.rows


def title_of(formula, before="", invented=False):
    """Return the heading of a page: the formula's name, marked when it is invented, or what it rests on is."""
    return f"{before}{formula.name}" + _INVENTED * (formula.invented or invented)


def head(title, formula, facts=(), lead="", below="", beside=""):
    """Return the HTML head of a page: title, then house and facts (else the formula) as text; HTML around them."""
    about = filter(None, (formula.house, *(facts or [f"formula {formula.fingerprint}"])))
    said = "&nbsp;· ".join([*filter(None, [lead]), *(f"<span>{page.escape(fact)}</span>" for fact in about)])
    name = page.escape(title.removesuffix(_INVENTED))
    name += f"<small>{_INVENTED}</small>" * title.endswith(_INVENTED)
    return f'<div class="head"><div><h1>{name}</h1><p>{said}</p>{below}</div>{beside}</div>'


def foot(texts):
    """Return the HTML foot of a page: local codes come first, then its own cautions."""
    return f'<p class="caution"><b>{page.escape(FIRST)}</b> {page.escape(" ".join(texts))}</p>'


def kept(text):
    """Return text as HTML whose numbers stay on one line with their units."""
    return page.escape(words.kept(text))


# the production sheet: the numbers that are weighed the largest


def sheet_page(sheet, paper, changes=None, since=None):
    """Return the whole HTML page of a ProductionSheet; changes since another are told under the head."""
    blank, (known, open_in) = "__________", sheet.contains
    facts = [sheet.version, f"valid from {sheet.valid_from or blank}", f"made by {sheet.made_by or blank}"]
    box = f"<small>contains</small>{page.escape(known)}<small>{page.escape(open_in)}</small>"
    count = f'<b class="count">{page.escape(counted(sheet.pieces, "piece"))}</b>'
    varies = page.paragraphs([sheet.other_allergens], "other")
    top = head(sheet.title, sheet.formula, facts, count, varies, f'<div class="contains">{box}</div>')
    written = "".join(map(_lines, (("Date", "Baker"), ("Flour lot", "Butter lot"), ("Egg lot", "Yeast lot"))))
    weigh, _, check = (page.table(*one) for one in sheet.tables())
    if changes is not None:
        top += f'<p class="new"><b>New since {page.escape(since.version)}:</b> {kept(str(changes))}</p>'
    body = (
        f'<main class="sheet{" varied" if sheet.added or sheet.gone else ""} {sheet.working}">'
        f"{top}{page.paragraphs(sheet.notes, 'note')}"
        f'<div class="two"><section class="weigh">{weigh}</section>'
        f'<div class="right">{_make(sheet)}<div>{written}</div></div></div>'
        f'<section class="check">{check}{_lines(("Deviations",))}</section>{foot(sheet.cautions)}</main>'
    )
    return _page(sheet.title, body, "sheet", paper)


def _make(sheet):
    items = "".join(
        f"<li>{kept(task.do)}{''.join(f'<p>{kept(capital(text))}</p>' for text in task.also)}</li>"
        for task in sheet.tasks
    )
    return f'<section class="make"><h2>2 Make</h2><ol>{items}</ol></section>'


def _lines(names):
    return f'<div class="lines">{"".join(f"{name} <span></span>" for name in names)}</div>'


# the draft of a label, and what a piece costs: tables as in the notebook, tighter


class Paper(page.Result):
    """A paper of tables; a kind has a title, its formula, a body as HTML and its cautions."""

    title: Any
    formula: Any
    body: Any
    cautions: Any

    def page(self, paper: str = "A4") -> str:
        """Return one printable HTML page, A4 or Letter; names are text. Raises AmountError for another paper."""
        body = f"{head(self.title, self.formula)}{self.body()}{foot(self.cautions)}"
        return _page(self.title, body, "tables", paper)
