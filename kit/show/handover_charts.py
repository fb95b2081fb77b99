"""The chart of what a piece costs: a row an ingredient, the baseline hollow, the variant filled."""

import math

from ..handover.prices import each
from .reformulate_charts import Row, Rows

ROOM = 8  # rows of the chart
REST = "all else"


class CostRows(Rows):
    """What each ingredient costs in a piece, by a CostChange; what was cheapest before has one row together."""

    title = "Cost of a piece by ingredient"

    @property
    def x(self):
        """What a figure is in; a dollar sign is text, no equation."""
        return f"{self.value.after.currency} a piece".strip().replace("$", r"\$")

    def reach(self, **beside):
        """Return the ends of the axis [currency a piece]."""
        return 0, 1.8 * max(max(pair) for pair in self.value.lines.values()) or 1.0

    def rows(self, value, room=ROOM, **beside):
        """Return a Row an ingredient, the costliest of the baseline first."""
        lines = dict(sorted(value.lines.items(), key=lambda entry: -entry[1][0]))
        named = list(lines)[: room if len(lines) <= room else room - 1]
        rest = [lines.pop(name) for name in list(lines) if name not in named]
        if rest:
            lines[REST] = tuple(map(math.fsum, zip(*rest, strict=True)))
        unpriced = {name for cost in (value.before, value.after) for name, _ in cost.missing}

        def words(name, pair):
            a, b = (each(side, like=value.before.per_piece) for side in pair)
            return "no price" if name in unpriced else b if a == b else f"{a} → {b}"

        return [Row(name, *pair, words(name, pair)) for name, pair in lines.items()]
