"""The chart of what a piece costs: a bar an ingredient, the baseline's hollow, the variant's filled."""

import math

from ..handover.money import each
from . import look, marks
from .reformulate_charts import Row, Rows

ROOM = 8  # rows of the chart
ROW_HIGH = 33  # px
REST = "all else"


class CostBars(Rows):
    """Bars from nought, each with its name and figures above it; chart(ax, rows, currency, reach of the axis)."""

    def __init__(self, ax, rows, currency, reach):
        unit = f"{currency} a piece".strip().replace("$", r"\$")  # text, no equation
        super().__init__(ax, "Cost of a piece by ingredient", unit, 0, reach, len(rows))
        for dots in (self.base, self.now, self.joints):
            marks.visible(dots, False)
        self.after = marks.shape(ax, look.ACCENT, zorder=3)
        self.before = marks.shape(ax, "none", look.BASELINE, linewidth=1.6, zorder=4)
        self.update(rows)

    def update(self, rows):
        """Move bars and words."""
        super().update(rows)
        for bar, side, half in ((self.after, "after", 0.12), (self.before, "before", 0.2)):
            ends = [(min(getattr(row, side), self.high), n + 0.79) for n, row in enumerate(rows)]
            marks.boxes(bar, [(0, y - half, x, y + half) for x, y in ends if x])


def costliest(before, far):
    """Return the names of the rows, the costliest first, and how far they reach [currency], from two Costs.

    far: the dials at their ends, so that what they bring has a row and room. What is cheapest has one row together.
    """
    now, then = before.by_ingredient, far.by_ingredient
    most = sorted({**now, **then}, key=lambda name: -max(now.get(name, 0.0), then.get(name, 0.0)))
    named = most if len(most) <= ROOM else most[: ROOM - 1]
    names = sorted(named, key=lambda name: -now.get(name, 0.0)) + [REST] * (len(most) > len(named))
    return names, 1.06 * max(*now.values(), *then.values()) or 1.0


def cost_rows(before, after, names):
    """Return Rows of what each ingredient costs in a piece, before and after; all that is not named in the last."""
    sides, rows = [cost.by_ingredient for cost in (before, after)], []
    unpriced = {name for cost in (before, after) for name, _ in cost.missing}
    for name in names:
        pair = [side.get(name, 0.0) for side in sides]
        if name == REST:
            pair = [math.fsum(value for other, value in side.items() if other not in names) for side in sides]
        a, b = (each(value, like=before.per_piece) for value in pair)
        rows.append(Row(name, *pair, "no price" if name in unpriced else b if a == b else f"{a} → {b}"))
    return rows
