"""The charts of what a formula will do: how it rises and why, what the water must make good, the day."""

import functools

import numpy as np

from ..process.day import clock
from ..words import figure, signed
from . import look
from .chart import Chart
from .look import ACCENT, ACCENT_LIGHT, BASELINE, HAIR, INK, QUIET


class Waterfall(Chart):
    """Named causes as bars that lead from one number to another; where rows run out the smallest stand together.

    A kind says its title and unit, how many rows of causes it has room for, the least its axis shows, and `_steps`:
    (words, number) it begins with, causes [(words, change)], and the words it ends with.
    """

    size, edges = (416, 400), (0.03, 0.0, 0.965, 26.0)
    title, unit, rows, least = "", "", 7, 8.0

    def _begin(self, value):
        self.ax.set(xlim=(0, 1), ylim=(self.rows + 2, 0))
        self.ax.set_axis_off()
        look.title(self.ax, self.title)

    def _steps(self, value):
        """Return ((words, number) of the beginning, [(words, change)], words of the end)."""

    def _move(self, value):
        (first, start), causes, last = self._steps(value)
        causes = _largest(causes, self.rows)
        steps = np.cumsum([start, *(change for _, change in causes)])
        spare = max(self.least - np.ptp(steps), 0.0) / 2
        at = 0.06 + 0.7 * (steps - steps.min() + spare) / (np.ptp(steps) + 2 * spare)
        rows, final = np.arange(len(causes)) + 1.0, len(causes) + 1.68
        bars = list(zip(at[:-1], rows + 0.5, at[1:], rows + 0.86, strict=True))
        edge = {"edgecolor": ACCENT, "linewidth": 0.9, "zorder": 3}
        self.more = self._boxes([bar for bar in bars if bar[2] >= bar[0]], ACCENT, **edge)
        self.less = self._boxes([bar for bar in bars if bar[2] < bar[0]], ACCENT_LIGHT, **edge)
        ends = np.column_stack([[0.68, *(rows + 0.86)], [*(rows + 0.5), final]])
        self._strokes(np.column_stack([at, at]), ends, BASELINE, linewidth=0.8, zorder=2)
        self.base, self.now = self._dot(at[0], 0.68, False), self._dot(at[-1], final, True)
        words, changes = [first, *(name for name, _ in causes), last], [f"{signed(c)} {self.unit}" for _, c in causes]
        self.names = self._texts(self.rows + 2, [(0.0, n + 0.24, name) for n, name in enumerate(words)], va="center")
        places = [(max(a, b) + 0.015, low + 0.18) for a, low, b, _ in bars]
        said = [(*place, change) for place, change in zip(places, changes, strict=True)]
        self._texts(self.rows, said, va="center")
        self.ends = [
            self._text(at[n] + 0.022, y, f"{figure(steps[n])} {self.unit}", 9.5, color, va="center", fontweight="bold")
            for n, y, color in ((0, 0.68, QUIET), (-1, final, ACCENT))
        ]
        said = "; ".join(f"{name} {change}" for (name, _), change in zip(causes, changes, strict=True)) or "no bars"
        return f"From {first}, {figure(start)} {self.unit}, to {figure(steps[-1])} {self.unit}, {last}: {said}."


def _largest(causes, rows):
    """Return the causes in their order, the smallest together as the last when there are more than rows."""
    if len(causes) <= rows:
        return list(causes)
    kept = set(sorted(range(len(causes)), key=lambda n: -abs(causes[n][1]))[: rows - 1])
    rest = sum(change for n, (_, change) in enumerate(causes) if n not in kept)
    return [causes[n] for n in sorted(kept)] + [(f"{len(causes) - len(kept)} smaller ones together", rest)]


class RiseBars(Waterfall):
    """What each change does to the time a dough takes: a RiseCauses."""

    title, unit = "What each change does to the time", "min"

    def _steps(self, causes):
        bars = [(cause, m) for cause, m in causes.minutes if abs(m) >= 0.05]
        small = causes.total - sum(m for _, m in bars)
        if np.isfinite(small) and abs(small) >= 0.05:
            bars.append(("what is below 0.05 min", small))
        return ("before", causes.before if np.isfinite(causes.before) else 0.0), bars, "as foreseen"

    def _move(self, causes):
        words = "move a dial: each change is a bar"
        if not np.isfinite(causes.total):
            words = "one of the two never doubles: nothing to compare"
        said = super()._move(causes)
        self._text(0.0, 2.5, words * said.endswith("no bars."), 9.5, QUIET, va="top")
        return said


class WaterBars(Waterfall):
    """From the factor rule's answer by named terms to what the heat of everything in the bowl asks: a WaterTemperature.

    The terms are in degrees of the water.
    """

    size, edges = (430, 450), (0.01, 0.0, 0.98, 26.1)
    title, unit, rows, least = "From the factor rule to what the heat asks, °C of the water", "°C", 10, 6.0

    def _steps(self, now):
        return ("factor rule", now.rule), now.terms, "all the heat counted"


_SPANS = (120, 240, 480, 960, 1920, 5760)  # min that the rise chart may reach to


def span_of(*minutes):
    """Return how far the time axis must reach [min] to show these, the endless ones left out.

    >>> span_of(72, 112), span_of(500, float("inf"))
    (120, 960)
    """
    longest = max((m for m in minutes if np.isfinite(m)), default=0.0)
    return next((span for span in _SPANS if span >= longest), _SPANS[-1])


class RiseChart(Chart):
    """Volume against time with its band: a Rise, the time to the wanted volume marked; before: another, in grey."""

    def _begin(self, now, before=None):
        ax = self.ax
        look.frame(ax, "How far it has risen", "time, min (or h where written)", "volume, times that at the start", "y")
        ax.set(xlim=(0, 1), ylim=(1, 3), yticks=[1, 1.5, 2, 2.5, 3])
        ax.set_xticks([0, 0.25, 0.5, 0.75, 1], [""] * 5)
        ax.xaxis.labelpad = 15

    def _move(self, now, before=None):
        before = before or now
        ends = [end for rise in (now, before) for end in (1.15 * rise.minutes, min(rise.high, 3 * rise.minutes))]
        self.span = span = span_of(*ends)
        ticks = [(n, f"{m / 60:g} h" if span > 480 and n else f"{m:g}") for n in range(5) for m in [n * span / 4]]
        self.ticks = [self._text(n / 4, 0.955, m, 8.5, QUIET, None, ha="center", va="top") for n, m in ticks]
        curve, was = _curve(now, span), _curve(before, span)
        x = curve.minutes / span
        edges = np.vstack([np.column_stack([x, curve.low]), np.column_stack([x, curve.high])[::-1]])
        self._area([edges], ACCENT_LIGHT, zorder=1)
        moved = not abs(now.minutes - before.minutes) <= 0.05  # also where one of them never rises
        self._line(*_until_held(x, was.ratio), BASELINE, linewidth=1.6, dashes=(4, 2.5), zorder=3, visible=moved)
        self.line = self._line(*_until_held(x, curve.ratio), ACCENT, linewidth=2, zorder=4)
        low, at, high, at_before = (min(m / span, 1.0) for m in (now.low, now.minutes, now.high, before.minutes))
        tails = {"marker": "|", "markersize": 10, "zorder": 7, "visible": low < 1}
        self.ready = self._line([low, high], [now.until, now.until], ACCENT, linewidth=1, **tails)
        self._dot(at_before, before.until, False, visible=before.minutes <= span)
        self.now = self._dot(at, now.until, True, visible=now.minutes <= span)
        x, takes = min(at, 0.56) + 0.02, minutes_in_words(now.minutes)
        likely = f"likely {minutes_in_words(now.low)} to {minutes_in_words(now.high)}"
        self._text(x, now.until + 0.06, takes, 11, ACCENT, fontweight="bold", zorder=10)
        self._text(x, now.until - 0.06, likely, 8.5, ACCENT, va="top")
        words, left = f"before {minutes_in_words(before.minutes)}", before.minutes < now.minutes
        x, y = (at_before - 0.025, 0.12) if left else (min(at_before, 0.6) + 0.025, -0.18)
        ha = "right" if left and at_before > 0.35 else "left"
        self._text(x, before.until + y, words * moved, 8.5, QUIET, va="top", ha=ha)
        said = f"doubled after {takes}, {likely}{'' if before is now else f'; {words}'}"
        return f"{now.stage.capitalize()}: volume against time; {said}."


@functools.lru_cache(maxsize=4)
def _curve(rise, span):
    """Return the Curve of a Rise as drawn: the one before is asked for at every move."""
    return rise.curve(np.linspace(0, span, 81))


def _until_held(x, ratio):
    """Return a curve up to where it reaches its end of 3 times the volume."""
    shown = np.r_[True, ratio[:-1] < 3]
    return x[shown], ratio[shown]


def minutes_in_words(minutes):
    """Return a time as a baker says it: minutes to five hours, then hours.

    >>> minutes_in_words(72.4), minutes_in_words(610), minutes_in_words(float("inf"))
    ('72 min', '10.2 h', 'never')
    """
    if not np.isfinite(minutes):
        return "never"
    return f"{figure(minutes, 0)} min" if minutes < 300 else f"{figure(minutes / 60)} h"


class Timeline(Chart):
    """A Day on the clock: a row for each stage of each mix and oven load, pale where it may have to start earlier."""

    size, edges = (620, 440), (0.295, 46.2, 0.685, 72.6)  # as wide as a tablet held upright has room for
    ROWS = 26  # what the chart has room for; more loads share a row

    def _begin(self, shown):
        look.frame(self.ax, "The day, backwards from when it is on sale", "clock time", bare="y")
        self.ax.set(xlim=(0, 1), ylim=(1, 0), xticks=[])
        self.ax.xaxis.labelpad = 18

    def _move(self, shown):
        first, sale = 60 * np.floor(shown.begin_by / 60), shown.on_sale
        last = sale + 0.03 * (sale - first)
        rows = timeline_rows(shown.slots, self.ROWS)
        step = min(1 / len(rows), 1 / 9)

        def at(minutes):
            return (minutes - first) / (last - first)

        def boxes(share, spans):
            """Return the box of each (row, from, to), a share of its row high."""
            return [
                (at(low), (n + 0.5 - share / 2) * step, at(high), (n + 0.5 + share / 2) * step)
                for n, low, high in spans
            ]

        placed, thin = [(n, s) for n, (_, slots) in enumerate(rows) for s in slots], {"linewidth": 0.8, "zorder": 3}
        early = boxes(0.7, [(n, s.start_low, s.start) for n, s in placed if s.start_low < s.start])
        waits = boxes(0.3, [(n, s.end, s.end + s.wait) for n, s in placed if s.wait >= 1])
        self._boxes(early, ACCENT_LIGHT, zorder=2)
        self._boxes(waits, "white", BASELINE, linestyle=(0, (2, 1.5)), **thin)
        self.bars = self._boxes(boxes(0.7, [(n, s.start, s.end) for n, s in placed]), ACCENT, "white", **thin)
        begins = [clock(min(slot.start for slot in slots))[:5] for _, slots in rows]
        names = [(-0.425, (n + 0.5) * step, f"{begins[n]}  {name}") for n, (name, _) in enumerate(rows)]
        left = {"va": "center", "transform": self.ax.get_yaxis_transform()}
        self.names = self._texts(self.ROWS, names, behind=None, **left)
        hours = next(h for h in (1, 2, 3, 4, 6, 12, 24) if (last - first) / 60 / h <= 9)
        clocks = np.arange(np.ceil(first / (60 * hours)) * 60 * hours, last + 1, 60 * hours)
        x, beneath = at(clocks), {"ha": "center", "va": "top"}
        self._strokes(np.column_stack([x, x]), np.tile([0.0, 1.0], (len(x), 1)), HAIR, linewidth=0.6, zorder=1)
        hours = [(place, 1.015, clock(hour)[:5]) for place, hour in zip(x, clocks, strict=True)]
        self.ticks = self._texts(10, hours, 8.5, QUIET, None, **beneath)
        overnight = bool(0 < at(0) < 1)
        self.midnight = self._line([at(0)] * 2, [0, 1], INK, linewidth=1.2, zorder=4, visible=overnight)
        self._text(at(0), 1.0, " ← the day before" * overnight, 8.5, QUIET)
        self._line([at(sale)] * 2, [0, 1], ACCENT, linewidth=1.6, zorder=4)
        bold = {"fontweight": "bold", "ha": "right", "va": "top"}
        self._text(at(sale) - 0.015, 0.02, f"on sale {clock(sale)}", 8.5, ACCENT, **bold)
        stages = "; ".join(f"{row[0]} {row[4]} to {row[5]}" for row in shown.frame_rows())
        return f"The day on the clock: {stages}; on sale at {clock(sale)}; {shown.trays}."


def timeline_rows(slots, most):
    """Return [(name, slots)]: a row for each slot, or for each stage of a mix, or for each stage, as there is room."""
    several = {
        "mix": len({slot.mix for slot in slots}) > 1,
        "load": len({slot.load for slot in slots if slot.load}) > 1,
    }
    for share in (lambda s: (s.stage, s.mix, s.load), lambda s: (s.stage, s.mix), lambda s: (s.stage,)):
        rows = {}
        for slot in slots:
            rows.setdefault(share(slot), []).append(slot)
        if len(rows) <= most:
            break
    named = []
    for (stage, *which), held in rows.items():
        counted = zip(("mix", "load"), which, strict=False)
        words = [stage, *(f"{word} {n}" for word, n in counted if n and several[word])]
        named.append((", ".join(words) + (f" x {len(held)}" if len(held) > 1 else ""), held))
    return named[:most]
