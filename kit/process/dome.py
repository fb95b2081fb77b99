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
    return _crossed(disc, 2 * disc, stretch, creep)


def _parallel(disc, pitch, stretch, creep):
    return _plates(disc, widths(disc, pitch), widths(disc, 2 * disc), stretch, np.array([1 + creep, 1.0]))


def _crossed(disc, pitch, stretch, creep):
    across = widths(disc, pitch)
    return _plates(disc, across, across, stretch, np.full(2, np.sqrt(1 + creep)))


def _arcs(disc, pitch, stretch, creep):
    """Strips between two circles about a point of the rim, which moves outwards with the dough."""
    found = []
    for inner, outer in widths(disc, pitch) + disc / 2:
        radius = disc * np.cos(_even(*np.arccos(np.clip([inner / disc, outer / disc], -1, 1)), np.pi / 90))
        middle = (inner + outer) / 2
        moved = middle * stretch + (radius - middle) * (1 + creep)
        opening = np.arccos(np.clip(radius / disc, -1, 1)) * radius / np.where(moved > 0, moved, 1.0)
        out, turn = _around(moved, -opening, opening, np.pi / 90).T
        found.append(np.column_stack([out * np.cos(turn) - disc / 2 * stretch, out * np.sin(turn)]))
    return found


# A segment moves with the dough under its middle and grows by its creep: strips across their length, plates both ways.
PATTERNS = {
    "parallel": Pattern(_parallel),
    "arcs": Pattern(_arcs),
    "crossed": Pattern(_crossed, strips=False),
    "unscored": Pattern(_whole, scored=False, strips=False),
}


def _plates(disc, across, along, stretch, growth):
    """Return the outlines [cm] of a disc cut straight, across and along, each moved with the dough and grown."""
    result = []
    for low, high in across:
        for near, far in along:
            edge = np.sqrt(np.maximum((disc / 2) ** 2 - np.array([near, far, max(near, min(far, 0.0))]) ** 2, 0.0))
            ends = max(low, -edge[2]), min(high, edge[2])  # as far as the disc reaches in this row
            if ends[0] >= ends[1]:
                continue
            even = disc / 2 * np.sin(_even(*np.arcsin(np.array(ends) * 2 / disc), np.pi / 30))  # along the rim
            x = np.union1d(even, np.clip([edge[:2], -edge[:2]], *ends))  # and where the rim meets a cut
            half = np.sqrt(np.maximum((disc / 2) ** 2 - x**2, 0.0))
            outline = _around(x, *np.clip([-half, half], near, far), disc / 30)
            middle = np.array([low + high, near + far]) / 2
            result.append(middle * stretch + (outline - middle) * growth)
    return result


def _even(low, high, step):
    """Return points from low to high, no further apart than a step."""
    return np.linspace(low, high, 2 + int(abs(high - low) / step))


def _around(x, low, high, step):
    """Return the outline (n, 2) of what lies between two lines over x; its ends in steps, since they bend on a dome."""
    right, left = _even(low[-1], high[-1], step), _even(high[0], low[0], step)
    along = np.concatenate([x, np.full(len(right), x[-1]), x[::-1], np.full(len(left), x[0])])
    return np.column_stack([along, np.concatenate([low, right, high[::-1], left])])
