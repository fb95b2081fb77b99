"""What is lost on the way: the formula's own figures, else the house defaults of losses.csv."""

import functools
import math
from dataclasses import dataclass

from ..errors import FormulaError, must
from ..tables import ground, table
from ..units import read
from ..words import one_of, plain

BEFORE = ("mixing", "fermenting", "dividing")  # before the scale
STAGES = (*BEFORE, "baking")


@dataclass(frozen=True)
class Loss:
    """What a stage takes from a part: percent [% of what enters], a band of it, and what that rests on."""

    percent: float
    low: float
    high: float
    rests_on: str
    printed: tuple = ()  # what is in print beside it, in words


def expected_losses(formula, given=None):
    """Return {(part, stage): Loss} for the dough and topping.

    given {stage: %, "topping baking": % ...} over the formula's own. Where any of mixing, fermenting and dividing
    is given for a part, it stands for all three: the others are 0. Where it is given for the dough and not for the
    topping, the topping has none; the house's defaults hold where neither is. Raises UnknownName, FormulaError.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 60}, losses={"dividing": 2})
    >>> expected_losses(bun)["dough", "dividing"].percent, expected_losses(bun)["dough", "mixing"].percent
    (2.0, 0.0)
    """
    return dict(_expected(tuple((formula.losses | read_losses(given or {})).items())))


@functools.lru_cache(maxsize=64)
def _expected(given):
    stated, result = {}, {}
    for name, value in given:
        part, _, stage = plain(name).rpartition(" ")
        stated[part or "dough", stage] = value
    for (part, stage), usual in _usual().items():
        if (part, stage) in stated:
            # the band of a kitchen's own figure keeps the width of the default's until trials narrow it
            own_figure = stated[part, stage]
            scale = own_figure / usual.percent if usual.percent else 1.0
            low = own_figure - (usual.percent - usual.low) * scale
            high = min(own_figure + (usual.high - usual.percent) * scale, 100.0)
            rests_on = f"the formula's own figure, band as wide in proportion as the usual one, {usual.rests_on}"
            result[part, stage] = Loss(own_figure, low, high, rests_on, usual.printed)
        elif stage in BEFORE and any((named, other) in stated for named in (part, "dough") for other in BEFORE):
            rests_on = "counted in the stage that the formula names"
            if not any((part, other) in stated for other in BEFORE):
                rests_on = "none, since the formula states the dough's alone"
            result[part, stage] = Loss(0.0, 0.0, 0.0, rests_on, usual.printed)
        else:
            result[part, stage] = usual
    return result


@functools.cache
def _usual():
    """The house defaults {(part, stage): Loss} of losses.csv, with what is in print beside them."""
    rows, printed = table("losses").rows, {}
    for row in rows:
        if row.use == "printed":
            ends = [row[name] for name in ("low_percent", "high_percent") if row[name]] or [row["default_percent"]]
            said = f"{' to '.join(ends)} % of {row.of} ({ground(row)})"
            printed[row.part, row.stage] = (*printed.get((row.part, row.stage), ()), said)
    return {
        at: Loss(row.default_percent, row.low_percent, row.high_percent, ground(row), printed.get(at, ()))
        for row in rows
        if row.use == "default" and (at := (row.part, row.stage))
    }


def read_losses(losses):
    """Return {stage: % of what enters it} from what a baker writes. Raises UnknownName, AmountError, FormulaError."""
    known = [f"{part}{stage}" for part in ("", "dough ", "topping ") for stage in STAGES]
    result = {}
    for name, value in losses.items():
        one_of("loss", name, known)
        result[name] = read(value, "percentage", f"loss {name}")
        if not 0 <= result[name] < 100:
            do = "a loss is a share of what goes in"
            raise FormulaError(must(f"loss {name}", "0 to less than 100 %", f"{result[name]:g} %", do))
    return result


def kept_before_scaling(losses, part="dough"):
    """Return the share [g per g] of a part mixed that reaches the scale; a wash or filling has no loss known."""
    return math.prod((1 - losses[part, stage].percent / 100 for stage in BEFORE if (part, stage) in losses), start=1.0)
