"""The charts of what a formula will do: how it rises and why, what the water must make good, the day."""

import numpy as np
from matplotlib.patches import Polygon

from ..process.day import clock
from ..words import figure, signed
from . import look, marks
from .chart import Chart
from .look import ACCENT, ACCENT_LIGHT, BASELINE, HAIR, INK, QUIET
from .overlay import moving


class Waterfall(Chart):
    """Named causes as bars that lead from one number to another; where rows run out the smallest stand together.

    A kind says its title and unit, how many rows of causes it has room for, the least its axis shows, and `_steps`:
    (words, number) it begins with, causes [(words, change)], and the words it ends with.
    """

    size, place = (416, 400), (0.03, 0.0, 0.965, 0.935)
    title, unit, rows, least = "", "", 7, 8.0

    def _begin(self, value):
        ax = self.ax
        ax.set(xlim=(0, 1), ylim=(self.rows + 2, 0))
        ax.set_axis_off()
        look.title(ax, self.title)
        fills = {"edge": ACCENT, "linewidth": 0.9, "zorder": 3}
        self.more, self.less = (marks.shape(ax, fill, **fills) for fill in (ACCENT, ACCENT_LIGHT))
        self.joints = marks.line(ax, BASELINE, linewidth=0.8, zorder=2)
        self.base, self.now = marks.dot(ax, False), marks.dot(ax, True)
        self.names = [marks.text(ax, va="center") for _ in range(self.rows + 2)]
        self.values = [marks.text(ax, va="center") for _ in range(self.rows)]
        bold = {"size": 9.5, "va": "center", "fontweight": "bold"}
        self.ends = [marks.text(ax, colour=colour, **bold) for colour in (QUIET, ACCENT)]

    def _steps(self, value):
        """Return ((words, number) of the beginning, [(words, change)], words of the end)."""

    def _move(self, value):
        (first, start), causes, last = self._steps(value)
        causes = _largest(causes, self.rows)
        steps = np.cumsum([start, *(change for _, change in causes)])
        spare = max(self.least - np.ptp(steps), 0.0) / 2
        at = 0.06 + 0.7 * (steps - steps.min() + spare) / (np.ptp(steps) + 2 * spare)
        rows = np.arange(len(causes)) + 1.0
        bars = list(zip(at[:-1], rows + 0.5, at[1:], rows + 0.86, strict=True))
        marks.boxes(self.more, [bar for bar in bars if bar[2] >= bar[0]])
        marks.boxes(self.less, [bar for bar in bars if bar[2] < bar[0]])
        final = len(causes) + 1
        ends = np.column_stack([[0.68, *(rows + 0.86)], [*(rows + 0.5), final + 0.68]])
        marks.strokes(self.joints, np.column_stack([at, at]), ends)
        marks.trace(self.base, [at[0]], [0.68])
        marks.trace(self.now, [at[-1]], [final + 0.68])
        words = [first, *(name for name, _ in causes), last]
        marks.fill(self.names, [(0.0, n + 0.24, name) for n, name in enumerate(words)])
        changes = [f"{signed(change)} {self.unit}" for _, change in causes]
        places = [(max(a, b) + 0.015, low + 0.18) for a, low, b, _ in bars]
        marks.fill(self.values, [(*place, words) for place, words in zip(places, changes, strict=True)])
        for word, x, y, step in zip(self.ends, at[[0, -1]], (0.68, final + 0.68), steps[[0, -1]], strict=True):
            marks.place(word, x + 0.022, y, f"{figure(step)} {self.unit}")
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

    def _begin(self, value):
        super()._begin(value)
        self.none = marks.text(self.ax, "", 9.5, QUIET, va="top")

    def _steps(self, causes):
        bars, both = [(cause, m) for cause, m in causes.minutes if abs(m) >= 0.05], np.isfinite(causes.total)
        small = causes.total - sum(m for _, m in bars)
        if both and abs(small) >= 0.05:
            bars.append(("what is below 0.05 min", small))
        words = "move a dial: each change is a bar" if both else "one of the two never doubles: nothing to compare"
        marks.place(self.none, 0.0, 2.5, "" if bars else words)
        return ("before", causes.before if np.isfinite(causes.before) else 0.0), bars, "as foreseen"


class WaterBars(Waterfall):
    """From the factor rule's answer by named terms to what the heat of everything in the bowl asks: a WaterTemperature.

    The terms are in degrees of the water.
    """

    size, place = (430, 450), (0.01, 0.0, 0.98, 0.942)
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
        self.ticks = [marks.text(ax, "", 8.5, QUIET, None, ha="center", va="top") for _ in range(5)]
        self.band = moving(ax.add_patch(Polygon([(0, 0)], facecolor=ACCENT_LIGHT, edgecolor="none", zorder=1)))
        self.before, self.drawn = marks.line(ax, BASELINE, linewidth=1.6, dashes=(4, 2.5), zorder=3), None
        self.line = marks.line(ax, ACCENT, linewidth=2, zorder=4)
        self.ready = marks.line(ax, ACCENT, linewidth=1, marker="|", markersize=10, zorder=7)
        self.base, self.now = marks.dot(ax, False), marks.dot(ax, True)
        self.say_base = marks.text(ax, "", 8.5, QUIET, va="top")
        self.say_now = marks.text(ax, "", 11, ACCENT, fontweight="bold", zorder=10)
        self.say_band = marks.text(ax, "", 8.5, ACCENT, va="top")

    def _move(self, now, before=None):
        before = before or now
        ends = [end for rise in (now, before) for end in (1.15 * rise.minutes, min(rise.high, 3 * rise.minutes))]
        self.span = span = span_of(*ends)
        for n, tick in enumerate(self.ticks):
            minutes = n * span / 4
            marks.place(tick, n / 4, 0.955, f"{minutes / 60:g} h" if span > 480 and n else f"{minutes:g}")
        at = np.linspace(0, span, 81)
        x, curve = at / span, now.curve(at)
        self.band.set_xy(np.vstack([np.column_stack([x, curve.low]), np.column_stack([x, curve.high])[::-1]]))
        marks.trace(self.line, *_until_held(x, curve.ratio))
        if (before, span) != self.drawn:
            self.drawn = before, span
            marks.trace(self.before, *_until_held(x, before.curve(at).ratio))
        for one, dot in ((before, self.base), (now, self.now)):
            at = one.minutes / span
            marks.visible(dot, at <= 1)
            marks.trace(dot, [min(at, 1)], [one.until])
        low, at, high = (min(m / span, 1.0) for m in (now.low, now.minutes, now.high))
        marks.trace(self.ready, [low, high], [now.until, now.until])
        marks.visible(self.ready, low < 1)
        x = min(at, 0.56) + 0.02
        marks.place(self.say_now, x, now.until + 0.06, minutes_in_words(now.minutes))
        ends = f"{minutes_in_words(now.low)} to {minutes_in_words(now.high)}"
        marks.place(self.say_band, x, now.until - 0.06, f"likely {ends}")
        at = before.minutes / span
        left, words = at < now.minutes / span, f"before {minutes_in_words(before.minutes)}"
        x = at - 0.025 if left else min(at, 0.6) + 0.025
        marks.place(self.say_base, x, before.until + (0.12 if left else -0.18), words)
        marks.align(self.say_base, "right" if left and at > 0.35 else "left")
        for artist in (self.before, self.say_base):
            marks.visible(artist, not abs(now.minutes - before.minutes) <= 0.05)  # nor where one of them never rises
        return (
            f"{now.stage.capitalize()}: volume against time; doubled after {minutes_in_words(now.minutes)}, likely "
            f"{ends}{'' if before is now else f'; {words}'}."
        )


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

    size, place = (620, 440), (0.295, 0.105, 0.685, 0.835)  # as wide as a tablet held upright has room for
    ROWS = 26  # what the chart has room for; more loads share a row

    def _begin(self, shown):
        ax = self.ax
        look.frame(ax, "The day, backwards from when it is on sale", "clock time", bare="y")
        ax.set(xlim=(0, 1), ylim=(1, 0), xticks=[])
        ax.xaxis.labelpad = 18
        thin = {"linewidth": 0.8, "zorder": 3}
        self.grid = marks.line(ax, HAIR, linewidth=0.6, zorder=1)
        self.early = marks.shape(ax, ACCENT_LIGHT, zorder=2)
        self.waits = marks.shape(ax, "white", BASELINE, linestyle=(0, (2, 1.5)), **thin)
        self.bars = marks.shape(ax, ACCENT, "white", **thin)
        self.midnight = marks.line(ax, INK, linewidth=1.2, zorder=4)
        self.sale = marks.line(ax, ACCENT, linewidth=1.6, zorder=4)
        self.names = [
            marks.text(ax, va="center", behind=None, transform=ax.get_yaxis_transform()) for _ in range(self.ROWS)
        ]
        self.ticks = [marks.text(ax, "", 8.5, QUIET, None, ha="center", va="top") for _ in range(10)]
        self.before = marks.text(ax, " ← the day before", 8.5, QUIET, va="bottom")
        self.say_sale = marks.text(ax, "", 8.5, ACCENT, fontweight="bold", ha="right", va="top")

    def _move(self, shown):
        first = 60 * np.floor(shown.begin_by / 60)
        last = shown.on_sale + 0.03 * (shown.on_sale - first)
        rows = timeline_rows(shown.slots, self.ROWS)
        step = min(1 / len(rows), 1 / 9)
        boxes, early, waits = [], [], []

        def box(low, high, n, share):
            y, half = (n + 0.5) * step, share * step / 2
            return (low - first) / (last - first), y - half, (high - first) / (last - first), y + half

        for n, (_, slots) in enumerate(rows):
            for slot in slots:
                boxes.append(box(slot.start, slot.end, n, 0.7))
                if slot.start_low < slot.start:
                    early.append(box(slot.start_low, slot.start, n, 0.7))
                if slot.wait >= 1:
                    waits.append(box(slot.end, slot.end + slot.wait, n, 0.3))
        for patch, given in ((self.bars, boxes), (self.early, early), (self.waits, waits)):
            marks.boxes(patch, given)
        starts = [clock(min(slot.start for slot in slots))[:5] for _, slots in rows]
        names = [f"{begin}  {name}" for begin, (name, _) in zip(starts, rows, strict=True)]
        marks.fill(self.names, [(-0.425, (n + 0.5) * step, name) for n, name in enumerate(names)])
        hours = next(h for h in (1, 2, 3, 4, 6, 12, 24) if (last - first) / 60 / h <= 9)
        at = np.arange(np.ceil(first / (60 * hours)) * 60 * hours, last + 1, 60 * hours)
        x = (at - first) / (last - first)
        marks.strokes(self.grid, np.column_stack([x, x]), np.tile([0.0, 1.0], (len(x), 1)))
        marks.fill(self.ticks, [(place, 1.015, clock(hour)[:5]) for place, hour in zip(x, at, strict=True)])
        midnight, sale = ((minutes - first) / (last - first) for minutes in (0, shown.on_sale))
        for line, place in ((self.midnight, midnight), (self.sale, sale)):
            marks.trace(line, [place, place], [0, 1])
        marks.place(self.before, midnight, 1.0)
        for artist in (self.midnight, self.before):
            marks.visible(artist, 0 < midnight < 1)
        marks.place(self.say_sale, sale - 0.015, 0.02, f"on sale {clock(shown.on_sale)}")
        stages = "; ".join(f"{row[0]} {row[4]} to {row[5]}" for row in shown.frame_rows())
        return f"The day on the clock: {stages}; on sale at {clock(shown.on_sale)}; {shown.trays}."


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
