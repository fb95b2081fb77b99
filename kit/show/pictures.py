"""The picture of a result: which charts show which kind of value."""

from ..errors import AmountError, must
from ..formula import Formula
from ..process import Rise, RiseCauses, ToppingFit, WaterTemperature
from ..process.day import Day
from ..reformulate import Solved
from ..trials.comparing import SideBySide
from .charts import ClassMap, WaterSources
from .drawings import SideView, TopView
from .foresee_charts import RiseBars, RiseChart, Timeline, WaterBars
from .panel import Still
from .reformulate_charts import QuantityRows
from .trial_charts import ResponseDots

CHARTS = {
    Formula: (ClassMap, WaterSources),
    Rise: (RiseChart,),
    RiseCauses: (RiseBars,),
    ToppingFit: (TopView, SideView),
    WaterTemperature: (WaterBars,),
    Day: (Timeline,),
    Solved: (QuantityRows,),
    SideBySide: (ResponseDots,),
}


def charts_of(value, **beside):
    """Return the charts that show a value. Raises AmountError where no kind of chart does."""
    kinds = next((charts for kind, charts in CHARTS.items() if isinstance(value, kind)), None)
    if kinds is None:
        be, do = "what kit computes, plans or lays side by side", "try kit.rise(bun), or kit.side_by_side"
        raise AmountError(must("value", be, type(value).__name__, do))
    return [kind(value, **beside) for kind in kinds]


def picture_of(value, **beside):
    """Return the picture of a formula or of what kit says of one, with words for those who can't see it.

    value: a Formula, or what `rise`, `topping_fit`, `water_temperature`, `day`, `solve` or `side_by_side` returns;
    beside: what its charts can show with it, such as before=, another of its kind, or response=, the response of trials
    side by side to show bake by bake. Raises AmountError.
    """
    return Still([chart.still() for chart in charts_of(value, **beside)])
