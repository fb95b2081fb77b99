"""The dome of a round piece as a spherical cap, and how a scored disc's segments part upon it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple

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


def widths(disc: float, pitch: float) -> np.ndarray:
    """Return (n, 2): from where to where each segment runs on the flat disc, across the scores [cm from the middle]."""
    reach = disc / 2
    half = np.floor(reach / pitch + 0.5)  # the middle segment lies astride the middle
    edges = np.clip((np.arange(-half - 1, half + 1) + 0.5) * pitch, -reach, reach)
    edges = np.unique(edges)
    return np.column_stack([edges[:-1], edges[1:]])


class Pattern(NamedTuple):
    """How a disc is scored, and so how it parts on the dome."""

    cut: Callable[[float, float, float, float], list[np.ndarray]]  # disc, pitch [cm], stretch, creep: its segments
    scored: bool = True
    strips: bool = True  # a strip gives all that it creeps to its width, a plate half

    def widens(self, creep: Any) -> Any:
        """Return how much wider a segment gets across the scores [cm per cm]; creep [g per g of area]."""
        return creep if self.strips else np.sqrt(1 + creep) - 1


def _whole(disc, pitch, stretch, creep):
    return [_circle(disc) * np.sqrt(1 + creep)]


def _parallel(disc, pitch, stretch, creep):
    return _plates(disc, widths(disc, pitch), np.array([[-disc, disc]]), stretch, np.array([1 + creep, 1.0]))


def _crossed(disc, pitch, stretch, creep):
    across = widths(disc, pitch)
    return _plates(disc, across, across, stretch, np.full(2, np.sqrt(1 + creep)))


def _arcs(disc, pitch, stretch, creep):
    return [_arc(disc, low, high, stretch, creep) for low, high in widths(disc, pitch)]


# A segment moves with the dough under its middle and grows by its creep: strips across their length, plates both ways.
PATTERNS = {
    "parallel": Pattern(_parallel),
    "arcs": Pattern(_arcs),
    "crossed": Pattern(_crossed, strips=False),
    "unscored": Pattern(_whole, scored=False, strips=False),
}


def _circle(disc):
    turn = np.linspace(0, 2 * np.pi, 121)[:-1]
    return disc / 2 * np.column_stack([np.cos(turn), np.sin(turn)])


def _plates(disc, across, along, stretch, growth):
    """Return the outlines [cm] of a disc cut straight, across and along, each moved with the dough and grown."""
    result = []
    for low, high in across:
        strip = _cut(_cut(_circle(disc), 0, 1, low), 0, -1, high)
        for near, far in along:
            if max(low**2, high**2) + max(near**2, far**2) < disc**2 / 4:  # a whole plate
                outline = np.array([(low, near), (high, near), (high, far), (low, far)])
            else:
                outline = _cut(_cut(strip, 1, 1, near), 1, -1, far)
            if len(outline) < 3:
                continue
            outline = _finer(outline, disc / 30)
            middle = np.array([low + high, near + far]) / 2
            result.append(middle * stretch + (outline - middle) * growth)
    return result


def _arc(disc, low, high, stretch, creep):
    """A strip between two circles about a point of the rim, which moves outwards with the dough."""
    inner, outer = low + disc / 2, high + disc / 2
    middle = (inner + outer) / 2
    rows = []
    from_to = np.arccos(np.clip([inner / disc, outer / disc], -1, 1))
    for radius in disc * np.cos(np.linspace(*from_to, 9 + int(30 * (outer - inner) / disc))):  # even along the rim
        moved = middle * stretch + (radius - middle) * (1 + creep)
        opening = np.arccos(np.clip(radius / disc, -1, 1)) * (radius / moved if moved > 0 else 1)
        rows.append((moved, opening))
    ends = rows[-1], rows[0]
    outer_turn = np.linspace(-ends[0][1], ends[0][1], 31)
    inner_turn = np.linspace(ends[1][1], -ends[1][1], 31)
    radii = np.concatenate(
        [np.full(31, ends[0][0]), [r for r, _ in rows[-2:0:-1]], np.full(31, ends[1][0]), [r for r, _ in rows[1:-1]]]
    )
    turns = np.concatenate([outer_turn, [t for _, t in rows[-2:0:-1]], inner_turn, [-t for _, t in rows[1:-1]]])
    return np.column_stack([radii * np.cos(turns) - disc / 2 * stretch, radii * np.sin(turns)])


def _cut(outline, axis, side, limit):
    """Keep what lies on one side of a straight cut of a convex outline."""
    inside = side * (outline[:, axis] - limit) >= 0
    if inside.all() or not inside.any():
        return outline[inside]
    first = int(np.argmax(inside & ~np.roll(inside, 1)))  # what is kept of a convex outline is in one piece
    outline, kept = np.roll(outline, -first, axis=0), int(inside.sum())

    def crossing(one, other):
        return one + (limit - one[axis]) / (other[axis] - one[axis]) * (other - one)

    entry, leaving = crossing(outline[-1], outline[0]), crossing(outline[kept - 1], outline[kept])
    return np.vstack([entry, outline[:kept], leaving])


def _finer(outline, step):
    """Put points on long straight edges, which bend when they are laid on a dome."""
    closed = np.vstack([outline, outline[:1]])
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.union1d(run, np.arange(0.0, run[-1], step))[:-1]
    return np.column_stack([np.interp(at, run, closed[:, k]) for k in (0, 1)])
