"""How the benchmarks take their times."""

import time

import numpy as np


def timed(step, steps):
    """Return the median time [ms] and what was made in `steps` calls."""
    made, times = [], []
    for number in range(steps):
        start = time.perf_counter()
        made.append(step(number))
        times.append(1000 * (time.perf_counter() - start))
    return np.median(times), made
