"""What you see: charts, panels and stills."""

from .charts import ClassMap, baked_mass, made_of, pieces, sweetness, water_sources
from .compared import Compared, compare
from .foresee_panels import DayPanel, RisePanel, ToppingPanel, WaterPanel
from .formula_panel import FormulaPanel
from .lesson_panels import (
    DiscReachesSides,
    ExerciseCard,
    FlourIs100,
    MilkForEgg,
    ProgressView,
    SpongeFoldedIn,
    WaterHides,
)
from .overlay import Overlay, moving
from .reformulate_charts import SensitivityBars, sensitivity_charts
from .reformulate_panels import SolvePanel, SubstitutePanel
from .trial_charts import picture_of
from .trial_panels import EntryPanel, SideBySidePanel

__all__ = [
    "ClassMap", "Compared", "DayPanel", "DiscReachesSides", "EntryPanel", "ExerciseCard", "FlourIs100", "FormulaPanel",
    "MilkForEgg", "Overlay", "ProgressView", "RisePanel", "SensitivityBars", "SideBySidePanel", "SolvePanel",
    "SpongeFoldedIn", "SubstitutePanel", "ToppingPanel", "WaterHides", "WaterPanel", "baked_mass", "compare",
    "made_of", "moving", "picture_of", "pieces", "sensitivity_charts", "sweetness", "water_sources",
]  # fmt: skip
