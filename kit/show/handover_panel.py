"""The panel to hand over: what sheet, cost and label will say of a batch, before any of them is printed."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from .. import page
from ..errors import AmountError, must
from ..files import stem
from ..formula import Formula
from ..formula.parts import only_one
from ..formula.usual import check_usual
from ..handover import Cost, Label, ProductionSheet, cost, label, production_sheet
from ..handover.prices import Prices, as_prices, each, money, more
from ..handover.printed import kept
from ..handover.weighing import taken
from ..process import predict_yield
from ..words import capital, listing, plural
from . import look
from .formula_panel import MAIN
from .handover_charts import ROOM, CostRows
from .live import picture
from .panel import Dial, Panel, WholeDial, button, kind_dial, of_total_flour, radio
from .strips import head, large, moved, small, status, tiles, wrapped

PAPERS = {
    "sheet": "Write the crew's production sheet, to print",
    "cost": "Write what a piece costs, to print",
    "label": "Write the draft of the label, to print",
}
SAID = 4  # lines of the sheet that are told


@dataclass(frozen=True, eq=False)
class Papers:
    """The three papers of one formula, and its price; cost is None where no prices were given."""

    sheet: ProductionSheet
    label: Label
    cost: Cost | None


class HandoverPanel(Panel):
    """The batch, butter, egg and sugar, and a margin to move: what a piece costs, what is new on sheet and label.

    formula: the baseline; prices as in `cost`, else no cost is shown; folder: where the papers are written;
    calibration with the kitchen's own figures. Raises FormulaError, AmountError, UnknownName.
    """

    def __init__(
        self,
        formula: Formula,
        prices: Prices | dict[str, Any] | None = None,
        folder: str | Path = ".",
        calibration: Any = None,
    ) -> None:
        only_one(formula, "for the panel")
        self.formula = self.baseline = self.variant = formula
        self.prices = None if prices is None else as_prices(formula, prices)
        self.folder, self.calibration = Path(folder), calibration
        count = predict_yield(formula).pieces
        dials: dict[str, Dial] = {"batch": WholeDial("batch", count, 1.0, max(240.0, 5.0 * count), 1.0, "pieces")}
        dials |= {kind: kind_dial(formula, kind, reach) for kind, reach in MAIN.items()}
        if prices is not None:
            dials["margin"] = Dial("margin", 65.0, 0.0, 95.0, 1.0, "% of the price")
        choices = {
            "working": radio("weigh in", (("g", "metric"), ("lb and oz", "US")), "metric"),
            "paper": radio("paper", ("A4", "Letter"), "A4"),
            "market": radio("label", ("EU", "US"), "EU"),
        }
        super().__init__(dials, choices)
        self.before, self._asked = self._papers(formula), None
        self.write_buttons = {
            what: button(what, f"{does}, into the folder", lambda what=what: self.write(what))
            for what, does in PAPERS.items()
        }
        write = widgets.HTML('<span style="font-size:13px">write</span>', layout={"margin": "0 6px 0 0"})
        views = [dial.view for dial in dials.values()]
        self._begin(
            [*views[1:4], views[0], *views[4:], self.undo_button, self.reset_button],
            of_total_flour(),
            [*choices.values(), widgets.HBox([write, *self.write_buttons.values()])],
        )

    # what the controls say

    def _check_typed(self, name, value):
        if name == "margin":
            self.result.cost.selling_price(value)  # says what no price gives
        if name in MAIN:
            check_usual(name, value)

    def _papers(self, formula):
        """Return the Papers of a formula for the batch that the controls ask for."""
        pieces, own = self.dials["batch"].value, {"calibration": self.calibration}
        return Papers(
            production_sheet(formula, pieces=pieces, working=self.choices["working"].value, **own),
            label(formula, self.choices["market"].value, **own),
            None if self.prices is None else cost(formula, self.prices, pieces=pieces, **own),
        )

    def _work_out(self, moving):
        changes = self.turned(MAIN)
        variant = self.baseline.vary(changes) if changes else self.baseline
        asked = self.dials["batch"].value, self.choices["working"].value, self.choices["market"].value
        before = self.before if asked == self._asked else self._papers(self.baseline)
        result = self._papers(variant) if changes else before
        self.variant, self.before, self._asked = variant, before, asked
        return result

    def _charts(self):
        if self.prices is None:
            return []
        return [(CostRows, self.result.cost.against(self.before.cost), {"room": ROOM})]

    # what is shown

    def _show(self):
        told = "Nothing has moved yet: turn a dial, or type into its box."
        if self.variant is not self.baseline:
            told = "" if self.result.cost is None else self.result.cost.against(self.before.cost).words
        title = f"New on the sheet of {plural(self.result.sheet.pieces, 'piece')}"
        sheet = head(title) + _paragraph(sheet_words(self.before.sheet, self.result.sheet))
        words = wrapped(("1 1 200px", sheet), ("1 1 400px", self._label_words()), gap="0 24px")
        pictures = [(f"0 1 {o.figure.bbox.width:.0f}px;min-width:min(430px,100%)", picture(o)) for o in self.overlays]
        beside = wrapped(*pictures, ("1 1 400px", words))
        self._tell(self._money(), status(told.partition(" Through ")[0]), beside)

    def _money(self):
        """Return price and costs as HTML: the number that is asked for the largest."""
        if self.prices is None:
            said = "No prices given: HandoverPanel(bun, kit.read_prices('prices.csv')) shows what a piece costs."
            return small(said, 14, margin="6px 0", color="inherit")
        was, now, margin = self.before.cost, self.result.cost, self.dials["margin"].value
        asked, least, like = now.selling_price(margin), "≥ " * bool(now.missing), now.per_piece

        def change(a, b):
            return more(b - a, like=like) if abs(b - a) > 1e-9 else ""

        batch = f"{plural(now.pieces, 'piece')} cost{'s' * (now.pieces == 1)}"
        entries = [
            ("a piece costs", least + each(like, now.currency), change(was.per_piece, like), ""),
            (batch, least + money(now.total, now.currency), moved(now.total - was.total, 2), ""),
        ]
        by = f'<b style="color:{look.INK}">{change(was.selling_price(margin), asked)}</b>'
        at = f"{by} at a margin of {margin:g} % of the price"
        leads = large("ask for a piece, before tax", least + money(asked, now.currency), at)
        said = [f"{text}." for text in taken(now.formula)]
        if now.missing:
            said.append(f"No price for {listing(name for name, _ in now.missing)}: all costs are lower bounds.")
        said.append(f"Ingredients only: {now.price_list().removeprefix('Price list: ')}")
        return wrapped(("0 0 auto", leads), ("1 1 320px", tiles(entries))) + small(" ".join(said))

    def _label_words(self):
        now = self.result.label
        rows = now.against(self.before.label).rows
        figures = [row for row in rows if row[0] not in ("order of ingredients", "allergens")]
        said = " ".join(label_words(self.before.label, now))
        table = page.table(["per 100 g", "before", "now"], figures) if figures else ""
        title = f"Moved on the label: draft for the {now.market}, not legal advice"
        return f"{head(title)}{_paragraph(said)}{table}"

    # the papers

    def write(self, what):
        """Write the 'sheet', 'cost' or 'label' that is shown into the folder, to print; return its path, or None."""
        return self._write(lambda: self._paper(what))

    def _paper(self, what):
        shown, paper = getattr(self.result, what), self.choices["paper"].value
        if shown is None:
            raise AmountError(must("prices", "given", "none", "give the panel kit.read_prices('prices.csv')"))
        since = (self.before.sheet,) if what == "sheet" and self.variant is not self.baseline else ()
        name = f"draft label {shown.market}" if what == "label" else f"{what} {shown.pieces}"
        return stem(f"{self.variant.name[:30]} {self.variant.fingerprint} {name}"), shown.page(paper, *since)


def sheet_words(before, now):
    """Return in words what is new on a ProductionSheet, first what matters."""
    changes = now.against(before)
    rows = changes.rows
    shown = [*[row for row in rows if row[0] != "weigh"][:2], *[row for row in rows if row[0] == "weigh"][:SAID]]
    rest = f"; and {plural(len(rows) - len(shown), 'other line')}" if len(rows) > len(shown) else ""
    return capital(f"{replace(changes, rows=tuple(shown))}{rest}.")


def label_words(before, now):
    """Return in words how the order of ingredients moves on a Label, and which allergens come or go."""
    was, new = ([item.name for item in one.items if not item.gone] for one in (before, now))
    while was and new and was[0] == new[0]:
        was, new = was[1:], new[1:]
    while was and new and was[-1] == new[-1]:
        was, new = was[:-1], new[:-1]
    said = [f"Order of ingredients: {', '.join(was) or 'none'} → {', '.join(new) or 'gone'}."] if was or new else []
    if now.allergens != before.allergens:
        return [*said, f"Allergens: {before.allergens or 'none'} → {now.allergens or 'none'}."]
    return [*said, "No allergen comes or goes."]


def _paragraph(text):
    return f'<p style="margin:0 0 4px;font-size:14px;line-height:1.4">{kept(text)}</p>'
