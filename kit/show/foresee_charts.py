"""The charts of what a formula will do: each is `chart(ax, value)` and returns a handle with `.update(value)`."""

import numpy as np
from matplotlib.patches import Polygon, Rectangle

from ..process import recommended_dough_temperatures
from ..process.day import clock
from ..words import figure, plural, signed
from . import look, marks
from .look import ACCENT, ACCENT_LIGHT, BASELINE, COLOURS, CRUST_EDGE, HAIR, INK, ON_DARK, QUIET, thing
from .overlay import moving


class RatioChart:
    """Topping-to-dough ratio against piece mass for a topping of one thickness: it falls as the piece grows."""

    def __init__(self, ax, fit, before, largest):
        title = f"Topping to dough at one thickness, up to {figure(largest, 0)} g"
        look.frame(ax, title, "piece of dough, g", "g per g", grid="y")
        ax.set_xlim(0, largest)
        self.largest, self.highest = largest, max(0.8, 1.6 * float(before.ratio))
        self.pieces = np.linspace(10.0, largest, 57)
        ax.set_ylim(0, self.highest)
        ax.locator_params(axis="y", nbins=4)
        self.before = marks.line(ax, BASELINE, linewidth=1.2, dashes=(4, 2.5), zorder=3)
        self.line = marks.line(ax, ACCENT, linewidth=1.6, zorder=4)
        self.base, self.now = marks.dot(ax, False), marks.dot(ax, True)
        self.say_before = marks.text(ax, "", 8.5, QUIET)
        self.word = marks.text(ax, "", 9.5, ACCENT, fontweight="bold", zorder=10)
        self.update(fit, before)

    def update(self, fit, before):
        """Move both curves and both marks."""
        top, ends = self.highest, []
        for one, line, dot in ((before, self.before, self.base), (fit, self.line, self.now)):
            ratios = one.ratio * np.cbrt(one.piece / self.pieces)  # as `ToppingFit.topping_for` has it
            marks.trace(line, self.pieces, np.minimum(ratios, 1.02 * top))
            marks.trace(dot, [min(one.piece, self.largest)], [min(one.ratio, top)])
            ends.append(ratios[-1])
        apart = ends[1] - ends[0]
        y = ends[0] + (0.04 if apart < 0 else -0.16) * top
        marks.beside(self.say_before, self.largest, y, f"baseline, {figure(10 * before.thickness)} mm", 0, False)
        for artist in (self.before, self.say_before):
            marks.visible(artist, abs(apart) > 0.004)
        y = max(min(fit.ratio, 0.85 * top) + (-0.2 if apart < -0.004 else 0.06) * top, 0.01 * top)
        words, right = f"{figure(fit.ratio, 2)} at {figure(10 * fit.thickness)} mm", fit.piece < 0.6 * self.largest
        marks.beside(self.word, min(fit.piece, self.largest), y, words, 0.02 * self.largest, right)
        self.alt = (
            f"the topping-to-dough ratio that keeps {figure(10 * fit.thickness)} mm falls as the piece grows: "
            f"{figure(fit.ratio, 2)} at {figure(fit.piece, 0)} g."
        )


class Waterfall:
    """Named causes as bars that lead from one number to another, each labelled above its bar.

    update(first, causes, last): (words, value) each, causes [(words, change)]; first + changes = last. When they are
    more than there are rows, the smallest stand together in one.
    """

    def __init__(self, ax, title, unit, rows, least):
        self.unit, self.rows, self.least = unit, rows, least
        ax.set_xlim(0, 1)
        ax.set_ylim(rows + 2, 0)
        ax.set_axis_off()
        look.title(ax, title)
        self.more, self.less = (
            marks.shape(ax, fill, ACCENT, linewidth=0.9, zorder=3) for fill in (ACCENT, ACCENT_LIGHT)
        )
        self.joints = marks.line(ax, BASELINE, linewidth=0.8, zorder=2)
        self.base, self.now = marks.dot(ax, False), marks.dot(ax, True)
        self.names = [marks.text(ax, va="center") for _ in range(rows + 2)]
        self.values = [marks.text(ax, va="center") for _ in range(rows)]
        bold = {"size": 9.5, "va": "center", "fontweight": "bold"}
        self.ends = [marks.text(ax, colour=colour, **bold) for colour in (QUIET, ACCENT)]

    def update(self, first, causes, last):
        """Move bars, joints and words; rows that are not needed are left out."""
        causes = _largest(causes, self.rows)
        steps = np.concatenate([[first[1]], first[1] + np.cumsum([change for _, change in causes])])
        low, high = steps.min(), steps.max()
        spare = max(self.least - (high - low), 0.0) / 2
        low, high = low - spare, high + spare
        at = 0.06 + 0.7 * (steps - low) / (high - low)
        rows = np.arange(len(causes)) + 1.0
        bars = list(zip(at[:-1], rows + 0.5, at[1:], rows + 0.86, strict=True))
        marks.boxes(self.more, [bar for bar in bars if bar[2] >= bar[0]])
        marks.boxes(self.less, [bar for bar in bars if bar[2] < bar[0]])
        ends = np.concatenate([rows + 0.5, [len(causes) + 1.68]])
        starts = np.concatenate([[0.68], rows + 0.86])
        marks.strokes(self.joints, np.column_stack([at, at]), np.column_stack([starts, ends]))
        final = len(causes) + 1
        marks.trace(self.base, [at[0]], [0.68])
        marks.trace(self.now, [at[-1]], [final + 0.68])
        words = [first[0], *(name for name, _ in causes), last[0]]
        marks.fill(self.names, [(0.0, n + 0.24, name) for n, name in enumerate(words)])
        changes = [f"{signed(change)} {self.unit}" for _, change in causes]
        marks.fill(
            self.values,
            [(max(a, b) + 0.015, low + 0.18, words) for (a, low, b, _), words in zip(bars, changes, strict=True)],
        )
        marks.place(self.ends[0], at[0] + 0.022, 0.68, f"{figure(first[1])} {self.unit}")
        marks.place(self.ends[1], at[-1] + 0.022, final + 0.68, f"{figure(last[1])} {self.unit}")


def _largest(causes, rows):
    """Return the causes in their order, the smallest together as the last when there are more than rows."""
    if len(causes) <= rows:
        return list(causes)
    kept = set(sorted(range(len(causes)), key=lambda n: -abs(causes[n][1]))[: rows - 1])
    rest = sum(change for n, (_, change) in enumerate(causes) if n not in kept)
    return [causes[n] for n in sorted(kept)] + [(f"{len(causes) - len(kept)} smaller ones together", rest)]


_SPANS = (120, 240, 480, 960, 1920, 5760)  # min that the rise chart may reach to


def span_of(*minutes):
    """Return how far the time axis must reach [min] to show these, the endless ones left out.

    >>> span_of(72, 112), span_of(500, float("inf"))
    (120, 960)
    """
    longest = max((m for m in minutes if np.isfinite(m)), default=0.0)
    return next((span for span in _SPANS if span >= longest), _SPANS[-1])


class RiseChart:
    """Volume against time with its band; the baseline's curve grey, the time to the wanted volume marked."""

    def __init__(self, ax, rise, before=None):
        x, y = "time, min (or h where written)", "volume, times that at the start"
        look.frame(ax, "How far it has risen", x, y, grid="y")
        ax.set_xlim(0, 1)
        ax.set_ylim(1, 3)
        ax.set_xticks([0, 0.25, 0.5, 0.75, 1], [""] * 5)
        ax.set_yticks([1, 1.5, 2, 2.5, 3])
        ax.xaxis.labelpad = 15
        self.ticks = [marks.text(ax, "", 8.5, QUIET, None, ha="center", va="top") for _ in range(5)]
        self.band = moving(ax.add_patch(Polygon([(0, 0)], facecolor=ACCENT_LIGHT, edgecolor="none", zorder=1)))
        self.before = marks.line(ax, BASELINE, linewidth=1.6, dashes=(4, 2.5), zorder=3)
        self.line = marks.line(ax, ACCENT, linewidth=2, zorder=4)
        self.ready = marks.line(ax, ACCENT, linewidth=1, marker="|", markersize=10, zorder=7)
        self.base, self.now = marks.dot(ax, False), marks.dot(ax, True)
        self.say_base = marks.text(ax, "", 8.5, QUIET, va="top")
        self.say_now = marks.text(ax, "", 11, ACCENT, fontweight="bold", zorder=10)
        self.say_band = marks.text(ax, "", 8.5, ACCENT, va="top")
        self.update(rise, before)

    def update(self, now, before=None):
        """Move both curves, the band and the marks."""
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
        marks.place(self.say_band, x, now.until - 0.06, f"80 %: {ends}")
        at = before.minutes / span
        left, words = at < now.minutes / span, f"baseline {minutes_in_words(before.minutes)}"
        x = at - 0.025 if left else min(at, 0.6) + 0.025
        marks.place(self.say_base, x, before.until + (0.12 if left else -0.18), words)
        marks.align(self.say_base, "right" if left and at > 0.35 else "left")
        for artist in (self.before, self.say_base):
            marks.visible(artist, not abs(now.minutes - before.minutes) <= 0.05)  # nor where one of them never rises
        self.alt = (
            f"{now.stage.capitalize()}: volume against time; doubled after {minutes_in_words(now.minutes)}, 80 % band "
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


class RiseBars:
    """What each change does to the time, from the baseline's minutes to the ones foreseen: a RiseCauses."""

    def __init__(self, ax, causes):
        self.bars = Waterfall(ax, "What each change does to the time", "min", 7, 8.0)
        self.none = marks.text(ax, "", 9.5, QUIET, va="top")
        self.update(causes)

    def update(self, causes):
        """Move the bars."""
        bars, both = [(cause, m) for cause, m in causes.minutes if abs(m) >= 0.05], np.isfinite(causes.total)
        small = causes.total - sum(m for _, m in bars)
        if both and abs(small) >= 0.05:
            bars.append(("what is below 0.05 min", small))
        first = causes.before if np.isfinite(causes.before) else 0.0
        self.bars.update(("baseline", first), bars, ("as foreseen", first + sum(m for _, m in bars)))
        words = "move a dial: each change is a bar" if both else "one of the two never doubles: nothing to compare"
        marks.place(self.none, 0.0, 2.5, "" if bars else words)
        said = "; ".join(f"{cause} {signed(minutes)} min" for cause, minutes in causes.minutes)
        ends = [minutes_in_words(minutes) for minutes in (causes.before, causes.after)]
        self.alt = f"From the baseline's {' to '.join(ends)}: {said or 'no bars'}."


class WaterBars:
    """From the factor rule's answer by named terms to the balance's, in degrees of the water."""

    def __init__(self, ax, now):
        self.bars = Waterfall(ax, f"From rule to balance, degC of the {now.liquid}", "degC", 10, 6.0)
        self.update(now)

    def update(self, now):
        """Move the bars."""
        self.bars.update(("factor rule", now.rule), now.terms, ("balance of heat", now.balance))
        terms = "; ".join(f"{name} {signed(value)}" for name, value in now.terms)
        ends = f"From the factor rule's {figure(now.rule)} degC to the balance's {figure(now.balance)} degC"
        self.alt = f"{ends}: {terms}."


def heat_shares(ax, now):
    """Draw which share of the dough's heat each ingredient carries [%]; it stays as the formula stays."""
    kinds = {row["name"]: row["kind"] for row in now.formula.ingredients.rows}
    ax.set_axis_off()
    look.title(ax, "Who carries the dough's heat, %")
    ax.set_xlim(-0.4, 100.4)
    ax.set_ylim(-1, 1)
    pixels = ax.get_position().width * ax.figure.bbox.width
    left, narrow = 0.0, []
    for name, share in sorted(now.heat_shares, key=lambda entry: (entry[0] == now.liquid, -entry[1])):
        what = thing(kinds.get(name, "flour"))
        strong = {"edgecolor": ACCENT, "linewidth": 2.2, "zorder": 4} if name == now.liquid else {}
        ax.add_patch(Rectangle((left, -0.2), share, 1.1, **look.filled(what) | strong))
        words = f"{name}\n{figure(share, 0)}"
        if share / 100 * pixels > 5.9 * max(map(len, name.split())) + 4:
            words = words.replace(" ", "\n")
            ax.text(
                left + share / 2,
                0.35,
                words,
                fontsize=8.3,
                ha="center",
                va="center",
                linespacing=1.05,
                zorder=6,
                color="white" if what in ON_DARK else INK,
                path_effects=marks.halo(COLOURS[what]),
            )
        elif share >= 1:
            narrow.append(f"{name} {figure(share, 0)}")
        left += share
    ax.text(0, -0.4, f"narrow: {', '.join(narrow)}" if narrow else "", fontsize=8.3, color=QUIET, va="top")


class DoughTemperatures:
    """Recommended temperatures of finished doughs, which disagree, and the one aimed at [degC]."""

    def __init__(self, ax, now):
        rows = recommended_dough_temperatures()
        look.frame(ax, "Recommended for finished doughs: sources disagree", "dough, degC", bare="y")
        self.low, self.high = 20.0, 32.0
        ax.set_xlim(self.low, self.high)
        ax.set_ylim(len(rows), -0.55)
        for n, row in enumerate(rows.itertuples()):
            low, high, _, source, provenance = row[1:6]
            ax.add_patch(Rectangle((low, n + 0.56), high - low, 0.26, facecolor=COLOURS["rest"], edgecolor=QUIET))
            who = provenance if provenance == "from memory" else source.split(",")[0].split(" for ")[0]
            ax.text(self.low, n + 0.28, f"{row[0]}: {who}", fontsize=8.3, color=INK, va="center")
        self.aim = marks.line(ax, ACCENT, linewidth=2.2, zorder=7)
        self.word = marks.text(ax, "", 9.5, ACCENT, fontweight="bold", va="center")
        self.rows = len(rows)
        self.update(now)

    def update(self, now):
        """Move the line of the temperature aimed at."""
        at = min(max(now.dough_temperature, self.low), self.high)
        rows = np.arange(self.rows)[:, None] + [0.5, 0.88]  # across the ranges, not across their names
        marks.strokes(self.aim, np.full(rows.shape, at), rows)
        words, right = f"aimed at {figure(now.dough_temperature)}", at < 0.5 * (self.low + self.high) + 1.5
        marks.beside(self.word, at, -0.25, words, 0.12, right)
        self.alt = f"recommended dough temperatures beside the {figure(now.dough_temperature)} degC aimed at."


class Timeline:
    """The day on the clock: a row for each stage of each mix and oven load, pale where it may have to start earlier."""

    ROWS = 26  # what the chart has room for; more loads share a row

    def __init__(self, ax, shown):
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
        self.names = [marks.text(ax, va="center", behind=None) for _ in range(self.ROWS)]
        self.ticks = [marks.text(ax, "", 8.5, QUIET, None, ha="center", va="top") for _ in range(10)]
        self.before = marks.text(ax, " ← the day before", 8.5, QUIET, va="bottom")
        self.say_sale = marks.text(ax, "", 8.5, ACCENT, fontweight="bold", ha="right", va="top")
        self.update(shown)

    def update(self, shown):
        """Move bars, bands, waits, names and the clock."""
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
        marks.fill(self.names, [(-0.47, (n + 0.5) * step, name) for n, name in enumerate(names)])
        hours = next(h for h in (1, 2, 3, 4, 6, 12, 24) if (last - first) / 60 / h <= 9)
        at = np.arange(np.ceil(first / (60 * hours)) * 60 * hours, last + 1, 60 * hours)
        x = (at - first) / (last - first)
        marks.strokes(self.grid, np.column_stack([x, x]), np.tile([0.0, 1.0], (len(x), 1)))
        marks.fill(self.ticks, [(place, 1.015, clock(hour)[:5]) for place, hour in zip(x, at, strict=True)])
        midnight = -first / (last - first)
        marks.trace(self.midnight, [midnight, midnight], [0, 1])
        marks.place(self.before, midnight, 1.0)
        for artist in (self.midnight, self.before):
            marks.visible(artist, 0 < midnight < 1)
        sale = (shown.on_sale - first) / (last - first)
        marks.trace(self.sale, [sale, sale], [0, 1])
        marks.place(self.say_sale, sale - 0.015, 0.02, f"on sale {clock(shown.on_sale)}")
        stages = "; ".join(f"{row[0]} {row[4]} to {row[5]}" for row in shown.to_frame().itertuples())
        self.alt = f"The day on the clock: {stages}; on sale at {clock(shown.on_sale)}."


def timeline_rows(slots, most):
    """Return [(name, slots)]: a row for each slot, or for each stage of a mix, or for each stage, as there is room."""
    mixes = len({slot.mix for slot in slots})
    for share in (lambda s: (s.stage, s.mix, s.load), lambda s: (s.stage, s.mix), lambda s: (s.stage,)):
        rows = {}
        for slot in slots:
            rows.setdefault(share(slot), []).append(slot)
        if len(rows) <= most:
            break
    named = []
    for key, held in rows.items():
        words = [key[0]]
        if len(key) > 1 and mixes > 1:
            words.append(f"mix {key[1]}")
        if len(key) > 2 and key[2]:
            words.append(f"load {key[2]}")
        named.append((", ".join(words) + (f" x {len(held)}" if len(held) > 1 else ""), held))
    return named[:most]


class TrayView:
    """One full tray seen from above, its proofed pieces to scale [cm]."""

    def __init__(self, ax, shown):
        look.frame(ax, "One tray of proofed pieces, to scale", "cm", "cm")
        tins = shown.trays
        ax.set_aspect("equal")
        ax.set_xlim(-0.5, tins.length + 0.5)
        ax.set_ylim(-0.5, tins.width + 0.5)
        ax.add_patch(Rectangle((0, 0), tins.length, tins.width, facecolor="white", edgecolor=QUIET, linewidth=1.4))
        self.pieces = marks.shape(ax, COLOURS["flour"], CRUST_EDGE, linewidth=1.0, zorder=3)
        self.says = marks.text(ax, va="top", behind=None, transform=ax.transAxes, linespacing=1.45)
        self.update(shown)

    def update(self, shown):
        """Lay the pieces out, and say how many trays and loads they make."""
        tins = shown.trays
        turn = np.linspace(0, 2 * np.pi, 37)
        ring = tins.diameter / 2 * np.column_stack([np.cos(turn), np.sin(turn)])
        marks.outlines(self.pieces, [ring + place for place in tins.positions])
        last = f", {tins.on_last} on the last" if tins.on_last < tins.per_tray else ""
        at_once = tins.per_load or tins.trays
        marks.place(
            self.says,
            0,
            -0.33,
            "\n".join(
                [
                    f"{plural(tins.per_tray, 'piece')} of {figure(tins.diameter)} cm to a tray ({tins.packing})",
                    f"{plural(tins.pieces, 'piece')}: {plural(tins.trays, 'tray')}{last}",
                    f"{plural(tins.loads, 'oven load')} of {plural(min(at_once, tins.trays), 'tray')}",
                    plural(shown.mixes, "mix", "mixes"),
                ]
            ),
        )
        self.alt = f"{tins}."
