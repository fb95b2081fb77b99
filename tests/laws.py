"""How often a law is tried: on cases drawn alike in each run, so that a run says the same of the same code."""

import os

from hypothesis import settings

FULL = os.environ.get("KIT_TEST_FULL") == "1"


def drawn(cases=100):
    """Return the settings of a law tried on so many drawn cases; KIT_TEST_FULL=1: on new ones, forty times as many."""
    return settings(deadline=None, max_examples=cases * (40 if FULL else 1), derandomize=not FULL)
