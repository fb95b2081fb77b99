"""A kitchen's own figure out of its bakes, without a trial book."""

import numpy as np

from kit.process import Estimate


def of_bakes(values, unit="", log=False):
    """Mean and standard deviation of some bakes, of their logarithms when log."""
    used = np.log(values) if log else np.asarray(values, float)
    middle = np.exp(used.mean()) if log else used.mean()
    rests_on = f"{len(used)} bakes of this kitchen"
    return Estimate(float(middle), float(used.std(ddof=1)), unit, rests_on, len(used), log)
