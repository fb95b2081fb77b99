"""What scorings are meant to be, by mensuration: how far middles lie apart [of the pitch]; strips, or plates.

A row of PATTERNS that is not told here is taken by what it says itself.
"""

from kit.process.dome import PATTERNS

MEANT = {"parallel": (1.0, True), "arcs": (1.0, True), "crossed": (1.0, False), "unscored": (0.0, False)}
SCORED = [name for name, pattern in PATTERNS.items() if pattern.scored]


def gap(fit, stretch, creep):
    """Return the gap beside the middle piece [cm]: a strip gives all that it creeps to its width, a plate half."""
    apart, strips = MEANT.get(fit.pattern) or (fit.apart / fit.pitch, PATTERNS[fit.pattern].strips)
    wider = creep if strips else (1 + creep) ** 0.5 - 1
    return apart * fit.pitch * (stretch - 1 - wider)


def drawn(fit, stage):
    """Return the gaps in the cut [cm], measured on the dome: straight distances from the top are the sheet's."""
    ends, top = fit.section(stage), fit.dome(stage).height
    slant = [x / abs(x) * (x * x + (top - z) ** 2) ** 0.5 for x, z in ends.reshape(-1, 2)]
    return [right - left for left, right in zip(slant[1:-1:2], slant[2::2], strict=True)]
