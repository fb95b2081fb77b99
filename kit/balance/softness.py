"""How much water practice takes off a dough that sugar and butter have made softer."""

from dataclasses import dataclass

from ..formula import Formula
from ..page import Result
from ..tables import ground, table
from ..words import figure, listing


@dataclass(frozen=True)
class Softness(Result):
    """The water to take off [points of flour] so that a dough stays as soft at one total hydration; below 0 to add."""

    points: float
    low: float
    high: float
    causes: dict[str, float]  # {kind: its share of the points}
    beyond: tuple[str, ...] = ()  # kinds beyond what anybody has printed

    @property
    def words(self):
        """What softens it, and how much water practice takes off, in a sentence; empty when nothing does."""
        if abs(self.points) < 0.05:
            return ""
        makes, softer = "makes" if len(self.causes) == 1 else "make", "softer" if self.points > 0 else "firmer"
        points, low, high = (figure(abs(value)) for value in (self.points, self.low, self.high))
        said = f"{listing(self.causes)} {makes} it {softer}: practice takes water "
        said += f"{'down' if self.points > 0 else 'up'} by {points} % of flour"
        guessed = f"; of so much {listing(self.beyond)} nothing is printed" if self.beyond else ""
        return f"{said} ({low} to {high}{guessed})"

    def sources(self):
        """What each rate rests on, {kind: source}."""
        return {row.kind: ground(row) for row in table("water_softening").rows}


def softness(before: Formula, after: Formula) -> Softness:
    """The water that practice takes off for the sugar and butter that one formula has and the other has not.

    before, after: one formula each, of equal total hydration or not: what it differs by is not counted here. Points of
    water [% of flour] = sum of rate x (percentage beyond where softening begins), by kind; rates, where they begin and
    how far they have been printed: water_softening.csv. Sources disagree, which is what low and high say. A kitchen's
    own trials know better.

    >>> from ..formula import Formula
    >>> lines = {"bread flour": 1000, "water": 500, "sugar": 100, "butter": 100}
    >>> bun = Formula.from_weights("bun", lines)
    >>> found = softness(bun, bun.vary(sugar=20, butter=15))
    >>> found.words
    'sugar and butter make it softer: practice takes water down by 7.0 % of flour (3.0 to 7.2)'
    """
    rows = table("water_softening").rows
    moved = {}
    for row in rows:
        was, now = (max(float(formula.of_kind(row.kind)) - row.from_percent, 0.0) for formula in (before, after))
        moved[row.kind] = now - was
    points, low, high = (
        sum(getattr(row, rate) * moved[row.kind] for row in rows)
        for rate in ("points_per_point", "low_points_per_point", "high_points_per_point")
    )
    causes = {row.kind: row.points_per_point * moved[row.kind] for row in rows if abs(moved[row.kind]) > 1e-9}
    beyond = tuple(row.kind for row in rows if row.kind in causes and after.of_kind(row.kind) > row.to_percent)
    return Softness(points, low, high, causes, beyond)
