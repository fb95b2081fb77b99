"""What is checked in one place: counts, and amounts above 0; how an error is worded."""

import math

import numpy as np
import pytest

from kit.errors import AmountError, FileError, FormulaError, above, whole
from kit.files import read_bytes
from kit.units import read_above


@pytest.mark.parametrize("value", [0, -1, 2.5, math.nan, math.inf, True, np.bool_(True), "3", None, 8])
def test_what_is_no_count_is_refused(value):
    with pytest.raises(AmountError, match="'days' must be a whole number from 1 to 7"):
        whole("days", value, most=7)


@pytest.mark.parametrize("value", [1, 7, 3.0, np.int64(3), np.float64(3)])
def test_a_count_is_given_back_as_one(value):
    found = whole("days", value, most=7)
    assert found == value
    assert type(found) is int


@pytest.mark.parametrize("value", [-1, math.nan, [1, -1], [1, math.nan]])
def test_what_is_not_above_nothing_is_refused(value):
    with pytest.raises(FormulaError, match="'piece' must be a mass of 0 g or more"):
        above("piece", value, "a mass", "g", zero=True, error=FormulaError)
    with pytest.raises(AmountError, match=r"'piece' must be above 0 \(got"):
        above("piece", value)


def test_nothing_is_fine_only_where_it_may_be():
    assert above("rest", 0, zero=True) == 0
    with pytest.raises(AmountError, match=r"'rest' must be a time above 0 min \(got 0 min\); time it"):
        read_above("0 h", "time", "rest", "time it")
    assert read_above("2 h", "time", "rest") == 120
    with pytest.raises(AmountError, match=r"'ratio' must be a number above 0 \(got -2\)"):
        read_above("-2", "number", "ratio")
    assert read_above("1 1/2", "number", "ratio") == 1.5


def test_a_text_given_for_the_name_of_a_file_is_not_repeated_whole():
    with pytest.raises(FileError, match=r"\.\.\. of 3,600 characters' must be a file") as told:
        read_bytes("flour = 100\n" * 300)
    assert len(str(told.value)) < 250
