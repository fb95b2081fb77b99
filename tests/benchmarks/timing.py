"""How the benchmarks take their times."""

import io
import time

import numpy as np


def png_of(figure):
    """Return a pyplot figure whole as PNG, as a callback of `interact` would, and close it."""
    from matplotlib import pyplot

    for artist in figure.findobj():
        artist.set_animated(False)  # which would leave it out of the picture
    out = io.BytesIO()
    figure.savefig(out, format="png")
    pyplot.close(figure)
    return out.getvalue()


def sizes_sent(panel):
    """Return a list to which each message of a panel's picture to the page adds its size [letters]."""
    sizes = []
    panel._live.send = lambda message: sizes.append(sum(map(len, message["parts"].values())))
    return sizes


def timed(step, steps):
    """Return the median time [ms] and what was made in so many calls, or with each of these values."""
    made, times = [], []
    for value in range(steps) if isinstance(steps, int) else steps:
        start = time.perf_counter()
        made.append(step(value))
        times.append(1000 * (time.perf_counter() - start))
    return np.median(times), made
