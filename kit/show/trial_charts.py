"""The chart of bakes laid side by side, where a column has several: the table has their means alone.

The first column is hollow and grey, what is compared with it filled; pale is what the kitchen's own repeats differ by.
"""

from matplotlib.patches import Rectangle

from ..words import capital, figure, listing, plural
from . import look
from .chart import Chart, halo
from .look import ACCENT, ACCENT_LIGHT, BASELINE, INK, QUIET, SMALL


def response_of(side, name):
    """Return a Response of a SideBySide by its name or words; its first when there is none of that name."""
    return next((r for r in side.responses if name in (r.name, r.what)), side.responses[0] if side.responses else None)


class ResponseDots(Chart):
    """One response of a SideBySide: a dot a bake, the range, the mean, and the repeats' band about the first's mean."""

    edges = (0.06, 66, 0.9, 96)

    @property
    def size(self):
        """As high as its columns need."""
        return 410, 100 + 46.0 * len(self.value.names)

    def _move(self, side, response="height"):
        """Draw it whole, for it is chosen and not dragged."""
        ax, row = self.ax, response_of(side, response)
        ax.clear()
        if row is None:
            words = "Nothing was measured yet: enter heights, masses or scores."
            ax.set_axis_off()
            ax.text(0.5, 0.5, words, fontsize=9.5, color=QUIET, ha="center", transform=ax.transAxes)
            return words
        unit = "points" if " to " in row.unit else row.unit
        look.frame(ax, f"{capital(row.what)}: a dot a bake, a bar their mean", f"{row.what}, {row.unit}", bare="y")
        ax.set_ylim(len(side.names) - 0.35, -0.75)
        first, said = row.means[0], []
        columns = zip(side.names, row.bakes, row.readings, row.means, row.against, strict=True)
        for n, (column, bakes, readings, mean, against) in enumerate(columns):
            if against.limit is not None:
                corner, wide = (first - against.limit, n - 0.2), 2 * against.limit
                ax.add_patch(Rectangle(corner, wide, 0.4, color=ACCENT_LIGHT, zorder=1))
            colour = ACCENT if n else BASELINE
            fill = {"color": colour, "markerfacecolor": colour if n else "white", "markeredgewidth": 1.6}
            if bakes:
                ax.plot([min(bakes), max(bakes)], [n, n], color=colour, linewidth=1.2)
            ax.plot(bakes, [n] * len(bakes), "o", markersize=6.5, zorder=4, **fill)
            if len(bakes) > 1:
                ax.plot([mean] * 2, [n - 0.2, n + 0.2], color=colour, linewidth=2.4, zorder=5)
            words = f"{figure(mean, row.digits)} {unit}" if bakes else "not measured"
            said.append(f"{column} {words}")
            counted = f"; {plural(len(bakes), 'bake')}, {plural(readings, 'reading')}" if bakes else ""
            place = {"va": "center", "transform": ax.get_yaxis_transform(), "path_effects": halo()}
            ax.text(0, n - 0.4, f"{column}: {words}{counted}", fontsize=SMALL, color=INK if n else QUIET, **place)
        if first is not None:
            ax.axvline(first, color=BASELINE, linewidth=1, dashes=(4, 3), zorder=2)
        ax.margins(x=0.12)
        if any(each.limit is not None for each in row.against):
            look.note(ax, "pale: means no farther from the first's than repeats differ", 38, "top")
        look.as_written(ax)
        return f"{capital(row.what)} of {listing(said)}."
