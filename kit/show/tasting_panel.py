"""How much so few tasters can say: right answers that are needed, and what would go unseen."""

import numpy as np
from scipy.stats import binom

from ..cautions import FIRST
from ..errors import AmountError, must
from ..tables import table
from ..trials.tasting import CHANCE, p_words, tasters_needed, tasting, tasting_power
from ..words import figure, kept
from . import look, marks
from .chart import Chart
from .panel import Dial, Panel, WholeDial, radio
from .strips import large, small, status, tiles, wrapped

MOST = 60  # tasters that the charts have room for


def here(seen, share):
    """Return how many of 100 tastings with as many tasters as a Tasting's find a share [%] who notice."""
    return float(tasting_power(seen.test, share, seen.tasters, seen.risk))


def notice(seen):
    """Return what the share are said to do."""
    return "prefer it" if seen.test == "preference" else "notice"


class GuessChart(Chart):
    """How many of a Tasting are right if all only guess: bars over the share of tasters, the needed and the seen."""

    size, place = (640, 330), (0.085, 0.14, 0.9, 0.78)

    def _begin(self, seen):
        ax = self.ax
        x, y = "answers that are right, or for the first, % of the tasters", "how likely, highest bar = 100 %"
        look.frame(ax, "If all only guessed: how many would be right?", x, y)
        ax.set(xlim=(-6, 106), ylim=(0, 142), yticks=[0, 50, 100])
        self.bars = marks.shape(ax, "#e4e4e4", look.BASELINE, linewidth=0.7, zorder=2)
        self.tail = marks.shape(ax, look.ACCENT, look.ACCENT, linewidth=0.7, zorder=3)
        self.limit = marks.line(ax, look.INK, linewidth=1.2, dashes=(4, 3), zorder=4)
        self.stem = marks.line(ax, look.ACCENT, linewidth=1.6, zorder=4)
        self.dot = marks.dot(ax, True)
        self.need, self.was = marks.text(ax), marks.text(ax, colour=look.ACCENT)

    def _move(self, seen):
        n = seen.tasters
        at = np.arange(n + 1)
        high = binom.pmf(at, n, CHANCE[seen.test])
        high = 100 * high / high.max()
        shows = (at >= seen.needed) | ((seen.test == "preference") & (n - at >= seen.needed))
        for patch, which in ((self.bars, ~shows), (self.tail, shows)):
            bars = zip(at[which], high[which], strict=True)
            marks.boxes(patch, [(100 * (k - 0.42) / n, 0, 100 * (k + 0.42) / n, y) for k, y in bars if y > 0.05])
        edge, right = 100 * (seen.needed - 0.5) / n, 100 * seen.right / n
        can = seen.needed <= n
        ends = [edge, edge] + [np.nan, 100 - edge, 100 - edge] * (seen.test == "preference")
        marks.trace(self.limit, ends if can else [], [0, 126, np.nan, 0, 126][: len(ends)] if can else [])
        marks.trace(self.stem, [right, right], [0, 108])
        marks.trace(self.dot, [right], [108])
        need = f"{seen.needed} needed" if can else f"even {n} would show nothing"
        marks.beside(self.need, min(edge, 103), 127, need, 0, can and edge < 60)
        did = f"prefer {seen.names[0]}" if seen.test == "preference" else "seen"
        marks.beside(self.was, right, 104, f"{seen.right} {did}", 3, right < 62)
        return f"How many of {n} would be right by guessing alone: {seen.needed} needed, {seen.right} seen."


class TastingPanel(Panel):
    """Test, tasters, right answers and a share who notice: what is needed, what it says, and what would go unseen.

    seen: the Tasting to begin with, else a triangle. Raises AmountError for more tasters than the charts have room for.
    """

    dial_width = 290
    charts = (GuessChart,)

    def __init__(self, seen=None):
        self.baseline = seen = seen or tasting("triangle", 13, 24, ("the one", "the other"))
        dials = {
            "tasters": WholeDial("how many", seen.tasters, 2.0, float(MOST), 1.0, "tasters", "number"),
            "right": WholeDial("right", seen.right, 0.0, float(MOST), 1.0, "answers", "number"),
            "share": Dial("truly notice", 30.0, 5.0, 95.0, 1.0, "% of such tasters"),
        }
        super().__init__(dials, {"test": radio("test", CHANCE, seen.test)})
        self._check_typed("tasters", seen.tasters)
        cautions = " ".join(row["control"] for row in table("cautions").rows if row["arises_when"] == "tasting")
        self._cautions.value = small(f"{FIRST} {cautions}", color="inherit")
        self._begin([self.choices["test"], self.undo_button, self.reset_button], [d.view for d in dials.values()])

    @property
    def share(self):
        """The share of such tasters who truly notice [%]."""
        return self.dials["share"].value

    def _check_typed(self, name, value):
        if name == "tasters" and value > MOST:
            raise AmountError(must("tasters", f"{MOST} or fewer here", f"{value:g}", "a serving plan takes more"))
        if name == "share" and value > self.dials["share"].high:
            raise AmountError(must("truly notice", "5 to 95 %", f"{value:g} %", "of all who notice none is left out"))

    def _work_out(self, moving):
        tasters, right = (int(self.dials[name].value) for name in ("tasters", "right"))
        if moving == "tasters" and right > tasters:  # fewer tasters than were right: then all are right
            right = self.dials["right"].value = tasters
            self._silently(self.dials["right"].write)  # not its slider: a browser sends back late what it was set to
        seen = self.baseline
        return tasting(self.choices["test"].value, right, tasters, seen.names, 0, seen.risk)

    def _show(self):
        seen, share = self.result, self.share
        need = f"{seen.needed} of {seen.tasters}" if seen.needed <= seen.tasters else "more tasters"
        low, high = (figure(each, 0) for each in seen.share[1:])
        such = f"95 %: {low} to {high} % of such tasters"
        enough = tasters_needed(seen.test, share, risk=seen.risk)
        is_choice = seen.test == "preference"
        entries = [
            ("by guessing alone", p_words(seen.p).replace("p ", "p\u00a0"), "", "so many, or more"),
            ("would prefer it" if is_choice else "truly notice", f"{figure(seen.share[0], 0)} %", "", such),
            ("finds it", f"{figure(here(seen, share), 0)} of 100", "", f"when {share:g} % {notice(seen)}"),
            ("to find it 80 of 100", f"{enough:,}", "", "tasters needed"),
        ]
        leads = large("needed", need, f"at a risk of {seen.risk:g} %")
        said = kept(seen.words).replace(" = ", "\u00a0=\u00a0")
        notes = small(" ".join(seen.notes), margin="0 0 4px")
        numbers = wrapped(("0 0 auto", leads), ("1 1 420px", tiles(entries)))
        self._tell(numbers, status(said), notes, self._marks())
