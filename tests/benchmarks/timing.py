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
    panel._live.send = lambda message: sizes.append(sum(map(len, message.get("parts", {}).values())))
    return sizes


def timed(step, steps, clock=time.process_time):
    """Return the median CPU time [ms] of so many calls, or of one with each of these values, and what they made.

    CPU time: on a busy machine the clock on the wall, time.perf_counter, tells how busy it is.
    """
    made, times = [], []
    for value in range(steps) if isinstance(steps, int) else steps:
        start = clock()
        made.append(step(value))
        times.append(1000 * (clock() - start))
    return float(np.median(times)), made


def compared(title, ways, steps, beside, clock=time.process_time):
    """Print how long each way {what: its step} takes, also as times one of them, and return what each made."""
    found = {what: timed(step, steps, clock) for what, step in ways.items()}
    rows = [(what, taken, taken / found[beside][0]) for what, (taken, _) in found.items()]
    print_table(title, ("", "ms", f"times {beside}"), rows)
    return {what: made for what, (_, made) in found.items()}


def best(call, rounds, clock=time.process_time):
    """Return the least CPU time [ms] of so many calls, and what the last one gave."""
    times = []
    for _ in range(rounds):
        taken, (made,) = timed(lambda _: call(), 1, clock)
        times.append(taken)
    return min(times), made


def print_table(title, heads, rows):
    """Print rows beneath their heads: words to the left, figures to the right."""
    cells = [
        [cell if isinstance(cell, str) else f"{cell:,.3g}" if cell < 1e3 else f"{cell:,.0f}" for cell in row]
        for row in rows
    ]
    wide = [max(map(len, column)) for column in zip(heads, *cells, strict=True)]
    print(f"\n{title}")
    for row in (heads, *cells):
        words = (cell.rjust(w) if n else cell.ljust(w) for n, (cell, w) in enumerate(zip(row, wide, strict=True)))
        print("  ".join(words))
