"""A band tried against a seeded simulation: causes drawn apart from the kit, ends compared within the draws' error."""

import numpy as np
import pytest
from scipy import stats

BATCHES = 20
NORMAL = stats.norm()
Z = 1.2815515655  # a normal's 90 % point, of any printed table


def drawn(seed, size, spread=NORMAL):
    """Return draws of a spread, each batch even over its whole range, so that ends need few of them."""
    random, each = np.random.default_rng(seed), size // BATCHES
    shares = (np.arange(each) + random.random((BATCHES, each))) / each
    return spread.ppf(random.permuted(shares, axis=1)).ravel()


def on_two_sides(value, low, high, z):
    """Return a figure of which 80 % lie from low to high and half to either side of its value, z drawn normal."""
    return value + z * np.where(z > 0, high - value, value - low) / Z


def assert_ends(band, found, share=80.0, bias=0.0):
    """Assert that a band holds the middle `share` [%] of what was drawn, `bias` of its width beside its own error."""
    tails = [0.5 - share / 200, 0.5 + share / 200]
    of_batches = np.quantile(np.reshape(found, (BATCHES, -1)), tails, axis=1)
    error = 4 * of_batches.std(1, ddof=1) / np.sqrt(BATCHES) + bias * np.ptp(of_batches.mean(1)) + 1e-9
    for end, middle, wide in zip(band, of_batches.mean(1), error, strict=True):
        assert float(end) == pytest.approx(float(middle), abs=float(wide))
