"""The dome of a round piece as a spherical cap, and how a scored disc's segments part upon it."""

import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np


@dataclass(frozen=True, eq=False)
class Dome:
    """A spherical cap: radius of its base and height [cm], floats or arrays."""

    radius: Any
    height: Any

    @staticmethod
    def of_volume(volume: Any, height_over_diameter: Any) -> "Dome":
        """Return the Dome of a volume [mL] and a height over base diameter [cm per cm].

        V = pi k D^3 (3/4 + k^2) / 6 with k = h / D, from V = pi h (3 a^2 + h^2) / 6 (mensuration, exact).

        >>> round(float(Dome.of_volume(261.799388, 0.5).radius), 6)  # a hemisphere of 5 cm
        5.0
        """
        k = height_over_diameter
        diameter = np.cbrt(6 * volume / (np.pi * k * (0.75 + k * k)))
        return Dome(diameter / 2, k * diameter)

    @property
    def base_diameter(self):
        """Diameter of the base [cm]."""
        return 2 * self.radius

    @property
    def sphere_radius(self):
        """Radius of the sphere that it is cut from [cm]: (a^2 + h^2) / 2h."""
        return (self.radius**2 + self.height**2) / (2 * self.height)

    @property
    def width(self):
        """Greatest diameter [cm]: the base's, the sphere's where the dome is higher than half of it."""
        return np.where(self.height > self.radius, 2 * self.sphere_radius, 2 * self.radius)[()]

    @property
    def area(self):
        """Area of the curved surface [cm2]: pi (a^2 + h^2)."""
        return np.pi * (self.radius * self.radius + self.height * self.height)

    @property
    def volume(self):
        """Volume [mL]: pi h (3 a^2 + h^2) / 6."""
        return np.pi * self.height * (3 * self.radius**2 + self.height**2) / 6

    @property
    def whole_disc(self):
        """Diameter of the flat disc of the same area [cm], twice the straight way from top to rim."""
        return 2 * np.hypot(self.radius, self.height)

    def disc_leaving(self, bare_rim: Any) -> Any:
        """Return the diameter of the disc that leaves a rim bare [cm, along the surface, above the tray].

        A cap of slant t = 2 R sin(angle / 2) has the area pi t^2 of a flat disc of radius t.
        """
        sphere = self.sphere_radius
        to_rim = 2 * np.arctan2(self.height, self.radius)  # angle from top to rim, at the sphere's centre
        return 4 * sphere * np.sin(np.maximum(to_rim - bare_rim / sphere, 0) / 2)

    def at(self, slant: Any) -> tuple[Any, Any]:
        """Return (distance from the axis, height above the tray) [cm] of a point so far [cm, straight] from the top."""
        slant = np.asarray(slant, float)
        sphere = self.sphere_radius
        share = np.clip(slant / (2 * sphere), -1, 1)
        return slant * np.sqrt(1 - share * share), self.height - 2 * sphere * share * share

    def profile(self, points: int = 61) -> tuple[Any, Any]:
        """Return (across, height) [cm] of its outline seen from the side, from rim over the top to rim."""
        slant = np.hypot(self.radius, self.height)
        return self.at(np.linspace(-slant, slant, points))

    def lay(self, flat: np.ndarray) -> np.ndarray:
        """Return (n, 3) x, y, height [cm] of points (n, 2) [cm] of a sheet laid on the dome, areas kept."""
        slant = np.hypot(flat[:, 0], flat[:, 1])
        out, height = self.at(slant)
        scale = np.where(slant > 0, out / np.where(slant > 0, slant, 1), 1)
        return np.column_stack([flat * scale[:, None], height])


@dataclass(frozen=True)
class Pattern:
    """How a disc is scored, and so how it parts on the dome."""

    cut: Callable[[float, float, float, float], list[np.ndarray]]  # disc, pitch [cm], stretch, creep: its segments
    scored: bool = True
    strips: bool = True  # a strip gives all that it creeps to its width, a plate half

    def widens(self, creep: Any) -> Any:
        """Return how much wider a segment gets across the scores [cm per cm]; creep [g per g of area]."""
        return creep if self.strips else np.sqrt(1 + creep) - 1

    def apart(self, pitches: Any) -> Any:
        """Return how far the middle segment and its neighbours lie apart, middle to middle across a score [of the
        pitch], on a disc so many pitches wide; 0 in one piece."""
        return np.interp(pitches, *self._apart)

    @functools.cached_property
    def _apart(self):
        """Discs just below and above each quarter of a pitch, where it bends or leaps, and how far apart they lie."""
        little = 1 / 128  # by how far they part; so that they stay where the cut meets them
        wide, found = np.sort(np.ravel(np.add.outer(np.arange(0.5, 4.25, 0.25), (-1e-6, 1e-6)))), []
        for ends in (across(self.cut(disc, 1.0, 1 + little, 0.0)) for disc in wide):
            middle = np.argmin(np.abs(ends.sum(1)))
            gaps = (ends[1:, 0] - ends[:-1, 1])[max(middle - 1, 0) : middle + 1]
            found.append(min(gaps, default=0.0) / little)
        return wide, found


def across(outlines: list[np.ndarray]) -> np.ndarray:
    """Return (n, 2): from where to where each segment lies on the line y = 0 [cm], in its order, of those it meets."""
    (x, y), sizes = np.vstack(outlines).T, [len(outline) for outline in outlines]
    following = np.arange(1, len(x) + 1)
    following[np.cumsum(sizes) - 1] -= sizes  # round to its first point
    met = np.flatnonzero((y > 0) != (y[following] > 0))
    first, second = y[met], y[following][met]
    at = x[met] + (x[following][met] - x[met]) * first / (first - second)
    starts = np.flatnonzero(np.diff(np.repeat(np.arange(len(sizes)), sizes)[met], prepend=-1))
    ends = np.column_stack([np.minimum.reduceat(at, starts), np.maximum.reduceat(at, starts)])
    return ends[np.argsort(ends[:, 0])]


def straight(*scores):
    """Return the cut of a Pattern of straight scores: of each set which way it runs across [degrees from the cut] and
    how far from the middle a line of it lies [of the pitch].

    A piece moves with the dough under its middle and grows by its creep: a strip across its length, a plate all round.
    """
    across = np.radians([degrees for degrees, _ in scores])
    normals = np.column_stack([np.cos(across), np.sin(across)])
    middle_of = np.linalg.pinv(normals)  # of what lies as far from the middle across each set

    def cut(disc, pitch, stretch, creep):
        pieces = [disc / 2 * _RIM]
        for normal, (_, first) in zip(normals, scores, strict=True):
            pieces = [part for piece in pieces for part in _parted(piece, piece @ normal, pitch, first * pitch)]
        strips = len(scores) == 1
        grown = np.eye(2) + creep * normals.T @ normals if strips else np.eye(2) * np.sqrt(1 + creep)
        middles = [middle_of @ _halfway(piece @ normals.T) for piece in pieces]
        return [
            middle * stretch + (_in_steps(piece, disc / 20) - middle) @ grown
            for piece, middle in zip(pieces, middles, strict=True)
        ]

    return cut


_TURN = np.radians(np.arange(0, 360, 3))
_RIM = np.column_stack([np.cos(_TURN), np.sin(_TURN)])


def _halfway(along):
    """Return the middle between the ends of each column: of a convex outline it lies within, so none leaves the rim."""
    return (along.min(0) + along.max(0)) / 2


def _parted(outline, along, pitch, first):
    """Yield the parts of a convex outline between two scores.

    along: how far across the scores each of its points lies; first: how far a score does.
    """
    corners, ends = np.arange(len(along) + 1), (np.append(along, along[0]) - first) / pitch
    begin, end = np.floor(ends.min() + 1e-9), np.ceil(ends.max() - 1e-9)
    scores = np.arange(begin + 1, end)
    edge, score = np.nonzero((ends[:-1, None] - scores) * (ends[1:, None] - scores) < 0)
    met = edge + (scores[score] - ends[edge]) / (ends[edge + 1] - ends[edge])
    at = np.union1d(corners[:-1], met)
    x, y, past = (np.interp(at, corners, each) for each in (*np.vstack([outline, outline[:1]]).T, ends))
    for low in np.arange(begin, end):
        inside = (past > low - 1e-9) & (past < low + 1 + 1e-9)
        yield np.column_stack([x[inside], y[inside]])


def _in_steps(outline, step):
    """Return an outline in steps, since straight sides bend on a dome, and with the points in which it meets y = 0."""
    ring = np.vstack([outline, outline[:1]])
    along = np.append(0.0, np.cumsum(np.hypot(*np.diff(ring, axis=0).T)))
    y = ring[:, 1]
    met = np.flatnonzero(y[:-1] * y[1:] < 0)
    meets = along[met] + (along[met + 1] - along[met]) * y[met] / (y[met] - y[met + 1])
    at = np.unique(np.concatenate([along[:-1], np.arange(0, along[-1], step), meets]))
    return np.column_stack([np.interp(at, along, each) for each in ring.T])


def _arcs(disc, pitch, stretch, creep):
    """Strips between two circles about a point of the rim, which moves outwards with the dough."""
    found, turns = [], np.radians(np.arange(-90, 91, 3))
    rim = np.column_stack([disc * np.cos(turns), disc / 2 * turns])  # seen from there: how far, and how far round
    for part in _parted(rim, rim[:, 0] - disc / 2, pitch, pitch / 2):
        (radius, round_), middle = _in_steps(part, disc / 20).T, _halfway(part[:, 0])
        moved = middle * stretch + (radius - middle) * (1 + creep)
        turn = round_ / (disc / 2) * radius / np.where(moved > 0, moved, 1.0)
        found.append(np.column_stack([moved * np.cos(turn) - disc / 2 * stretch, moved * np.sin(turn)]))
    return found


PATTERNS = {
    "parallel": Pattern(straight((0, 0.5))),
    "arcs": Pattern(_arcs),
    "crossed": Pattern(straight((0, 0.5), (90, 0.5)), strips=False),
    "unscored": Pattern(straight(), scored=False, strips=False),
}
