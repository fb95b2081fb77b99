"""How much so few tasters can say: right answers that are needed, and what would go unseen."""

from dataclasses import dataclass

import ipywidgets as widgets
import numpy as np
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from scipy.stats import binom

from .. import page
from ..cautions import FIRST
from ..errors import AmountError, must
from ..tables import table
from ..trials.tasting import CHANCE, Tasting, p_words, tasters_needed, tasting, tasting_power
from ..words import figure, kept
from . import look, marks
from .overlay import moving
from .panel import ROW, Dial, Panel, WholeDial, radio, status, tiles

MOST = 60  # tasters that the charts have room for
BESIDE = (20.0, 50.0)  # % who notice, drawn beside the share that is chosen


@dataclass(frozen=True)
class Outlook:
    """What the panel and its charts show: a Tasting, and what so many tasters find of a share [%] who notice."""

    seen: Tasting
    share: float
    tasters: np.ndarray
    power: dict  # share: % of tastings that find it, by tasters

    @property
    def here(self):
        """What this number of tasters finds [%]."""
        return float(self.power[self.share][self.seen.tasters - self.tasters[0]])

    @property
    def notice(self):
        """What the share are said to do."""
        return "prefer it" if self.seen.test == "preference" else "notice"


def outlook(seen, share):
    """Return the Outlook of a Tasting and a share [%] of such tasters who truly notice."""
    many = np.arange(2, MOST + 1)
    shares = dict.fromkeys((*BESIDE, share))
    return Outlook(seen, share, many, {each: tasting_power(seen.test, each, many, seen.risk) for each in shares})


class GuessChart:
    """How many are right if all only guess: bars over the share of tasters, what is needed and what was seen."""

    def __init__(self, ax, shown):
        x, y = "answers that are right, or for the first, % of the tasters", "how likely, highest bar = 100 %"
        look.frame(ax, "If all only guessed: how many would be right?", x, y)
        ax.set_xlim(-6, 106)
        ax.set_ylim(0, 142)
        ax.set_yticks([0, 50, 100])
        light = {"facecolor": "#e4e4e4", "edgecolor": look.BASELINE, "linewidth": 0.7, "zorder": 2}
        dark = {"facecolor": look.ACCENT, "edgecolor": look.ACCENT, "linewidth": 0.7, "zorder": 3}
        self.bars, self.tail = (moving(ax.add_patch(PathPatch(Path([(0, 0)]), **s))) for s in (light, dark))
        self.limit = marks.line(ax, look.INK, linewidth=1.2, dashes=(4, 3), zorder=4)
        self.stem = marks.line(ax, look.ACCENT, linewidth=1.6, zorder=4)
        self.dot = marks.dot(ax, True)
        self.need, self.was = marks.text(ax), marks.text(ax, colour=look.ACCENT)
        self.update(shown)

    def update(self, shown):
        """Move bars, lines and words."""
        seen, n = shown.seen, shown.seen.tasters
        at = np.arange(n + 1)
        high = binom.pmf(at, n, CHANCE[seen.test])
        high = 100 * high / high.max()
        shows = (at >= seen.needed) | ((seen.test == "preference") & (n - at >= seen.needed))
        for patch, which in ((self.bars, ~shows), (self.tail, shows)):
            bars = zip(at[which], high[which], strict=True)
            marks.outlines(patch, [_box(100 * (k - 0.42) / n, 100 * (k + 0.42) / n, y) for k, y in bars if y > 0.05])
        edge, right = 100 * (seen.needed - 0.5) / n, 100 * seen.right / n
        can = seen.needed <= n
        ends = [edge, edge] + [np.nan, 100 - edge, 100 - edge] * (seen.test == "preference")
        marks.trace(self.limit, ends if can else [], [0, 126, np.nan, 0, 126][: len(ends)] if can else [])
        marks.trace(self.stem, [right, right], [0, 108])
        marks.trace(self.dot, [right], [108])
        need = f"{seen.needed} needed" if can else f"even {n} would show nothing"
        _word(self.need, edge, 127, need, can and edge < 60)
        did = f"prefer {seen.names[0]}" if seen.test == "preference" else "seen"
        _word(self.was, right + (3 if right < 62 else -3), 104, f"{seen.right} {did}", right < 62)


def _word(text, x, y, words, right_of):
    marks.place(text, min(x, 103), y, words)
    marks.align(text, "left" if right_of else "right")


def _box(left, right, top):
    return np.array([(left, 0), (right, 0), (right, top), (left, top)])


class PowerChart:
    """How often so many tasters find what a share truly notice; this number marked."""

    def __init__(self, ax, shown):
        look.frame(ax, "How often would so many tasters find it?", "tasters", "of 100 tastings", grid="y")
        ax.set_xlim(2, MOST)
        ax.set_ylim(0, 104)
        ax.set_yticks([0, 20, 40, 60, 80, 100])
        dashes = ((1.5, 2), (6, 2.5))
        self.lines = [marks.line(ax, look.QUIET, linewidth=1.2, dashes=each, zorder=3) for each in dashes]
        self.lines.append(marks.line(ax, look.ACCENT, linewidth=2.2, zorder=5))
        self.names = [marks.text(ax, colour=look.QUIET, va="center", clip_on=False) for _ in BESIDE]
        self.names.append(marks.text(ax, colour=look.ACCENT, va="center", clip_on=False))
        self.stem, self.dot = marks.line(ax, look.ACCENT, linewidth=1, zorder=4), marks.dot(ax, True)
        self.said = marks.text(ax, size=9)
        self.update(shown)

    def update(self, shown):
        """Move lines, mark and words."""
        shares = (*BESIDE, shown.share)
        for n, (line, share) in enumerate(zip(self.lines, shares, strict=True)):
            marks.trace(line, shown.tasters, shown.power[share])
            same = n < len(BESIDE) and share == shown.share
            marks.visible(line, not same)
            marks.visible(self.names[n], not same)
        ends = sorted((shown.power[share][-1] - 50, n) for n, share in enumerate(shares)
                      if n == len(BESIDE) or share != shown.share)  # fmt: skip
        for y, n in marks.apart(ends, 7.0, 50.0):
            marks.place(self.names[n], MOST + 1, y + 50, f"{shares[n]:g} % {shown.notice}")
        here, many = shown.here, shown.seen.tasters
        marks.trace(self.stem, [many, many], [0, here])
        marks.trace(self.dot, [many], [here])
        left = many < 0.6 * MOST
        marks.place(self.said, many + (2 if left else -2), 3, f"{many} tasters: {figure(here, 0)} of 100")
        marks.align(self.said, "left" if left else "right")


class TastingPanel(Panel):
    """Test, tasters, right answers and a share who notice: what is needed, what it says, and what would go unseen.

    seen: the Tasting to begin with, else a triangle. Raises AmountError for more tasters than the charts have room for.
    """

    def __init__(self, seen=None):
        self.baseline = self.result = seen = seen or tasting("triangle", 13, 24, ("the one", "the other"))
        dials = {
            "tasters": WholeDial("how many", seen.tasters, 2.0, float(MOST), 1.0, "tasters", "number"),
            "right": WholeDial("right", seen.right, 0.0, float(MOST), 1.0, "answers", "number"),
            "share": Dial("truly notice", 30.0, 5.0, 95.0, 1.0, "% of such tasters"),
        }
        super().__init__(dials, {"test": radio("test", CHANCE, seen.test)})
        self._check_typed("tasters", seen.tasters)
        self.start = self._state()
        self.outlook = outlook(seen, dials["share"].value)
        left, right = look.figure(420, 330), look.figure(428, 330)
        self._handles = (
            GuessChart(left.add_axes([0.115, 0.14, 0.865, 0.78]), self.outlook),
            PowerChart(right.add_axes([0.12, 0.14, 0.65, 0.78]), self.outlook),
        )
        self._lay((left, right))
        self._show()
        for dial in dials.values():
            dial.view.layout.flex = "1 1 290px"
        cautions = " ".join(row["control"] for row in table("cautions").rows if row["arises_when"] == "tasting")
        self.children = [
            self._still,
            widgets.Box([self.choices["test"], self.undo_button, self.reset_button], layout=ROW),
            widgets.Box([dial.view for dial in dials.values()], layout=ROW),
            self._problem,
            self._live,
            widgets.HTML(f'<p style="margin:0;font-size:13px">{page.escape(f"{FIRST} {cautions}")}</p>'),
        ]

    def _check_typed(self, name, value):
        if name == "tasters" and value > MOST:
            raise AmountError(must("tasters", f"{MOST} or fewer here", f"{value:g}", "kit.tasting takes more"))
        if name == "share" and value > self.dials["share"].high:
            raise AmountError(must("truly notice", "5 to 95 %", f"{value:g} %", "of all who notice none is left out"))

    def _update(self, moving):
        tasters, right = (int(self.dials[name].value) for name in ("tasters", "right"))
        if moving == "tasters" and right > tasters:  # fewer tasters than were right: then all are right
            right = self.dials["right"].value = tasters
            self._silently(self.dials["right"].write)  # not its slider: a browser sends back late what it was set to
        seen = self.baseline
        self.result = tasting(self.choices["test"].value, right, tasters, seen.names, 0, seen.risk, seen.coverage)
        self.outlook = outlook(self.result, self.dials["share"].value)
        for handle in self._handles:
            handle.update(self.outlook)
        self._show()

    @property
    def alt(self):
        """The two figures in words."""
        shown, seen = self.outlook, self.result
        lines = "; ".join(f"{share:g} % {shown.notice}: found by {figure(power[-1], 0)} of 100 tastings of {MOST}"
                          for share, power in shown.power.items())  # fmt: skip
        return (
            f"How many of {seen.tasters} would be right by guessing alone: {seen.needed} needed, {seen.right} seen.",
            f"How often so many tasters find it. {seen.tasters} tasters find it in {figure(shown.here, 0)} of 100 "
            f"tastings when {shown.share:g} % {shown.notice}. {lines}.",
        )

    def _show(self):
        shown, seen = self.outlook, self.result
        need = f"{seen.needed} of {seen.tasters}" if seen.needed <= seen.tasters else "more tasters"
        size = f"font-size:34px;line-height:1.15;font-weight:600;color:{look.ACCENT};white-space:nowrap"
        large = (
            f'<div style="flex:0 0 auto;padding:2px 26px 2px 0;font-size:12px;color:{look.QUIET}">needed'
            f'<div style="{size}">{need}</div>at a risk of {seen.risk:g} %</div>'
        )
        low, high = (figure(each, 0) for each in seen.share[1:])
        such = f"{seen.coverage:g} %: {low} to {high} % of such tasters"
        enough = tasters_needed(seen.test, shown.share, risk=seen.risk)
        is_choice = seen.test == "preference"
        entries = [
            ("by guessing alone", p_words(seen.p).replace("p ", "p\u00a0"), "", "so many, or more"),
            ("would prefer it" if is_choice else "truly notice", f"{figure(seen.share[0], 0)} %", "", such),
            ("finds it", f"{figure(shown.here, 0)} of 100", "", f"when {shown.share:g} % {shown.notice}"),
            ("to find it 80 of 100", f"{enough:,}", "", "tasters needed"),
        ]
        notes, said = " ".join(seen.notes), kept(seen.words).replace(" = ", "\u00a0=\u00a0")
        self._live.value = (
            f'<div style="line-height:1.35"><div style="display:flex;flex-wrap:wrap">{large}'
            f'<div style="flex:1 1 420px">{tiles(entries)}</div></div>{status(said)}'
            f'<p style="margin:0 0 4px;font-size:13px;color:{look.QUIET}">{page.escape(notes)}</p>{self._marks()}</div>'
        )
