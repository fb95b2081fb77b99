"""What you see: charts, panels and stills; each is loaded when first used."""

from ..lazy import offer

_WORDS = {
    "kit.show.charts": "ClassMap baked_mass made_of pieces sweetness water_sources",
    "kit.show.compared": "Compared compare",
    "kit.show.formula_panel": "FormulaPanel",
    "kit.show.foresee_panels": "DayPanel RisePanel ToppingPanel WaterPanel",
    "kit.show.planning_panel": "PlanPanel",
    "kit.show.reformulate_charts": "SensitivityBars sensitivity_charts",
    "kit.show.reformulate_panels": "SolvePanel SubstitutePanel",
    "kit.show.trial_charts": "picture_of",
    "kit.show.entry_panel": "EntryPanel",
    "kit.show.trial_panels": "SideBySidePanel",
    "kit.show.tasting_panel": "TastingPanel",
    "kit.show.handover_panel": "HandoverPanel",
    "kit.show.lesson_panels": "ExerciseCard ProgressView",
    "kit.show.lesson_pictures": "LessonPicture",
    "kit.show.overlay": "Overlay moving",
}
__getattr__, __dir__, __all__ = offer(__name__, globals(), _WORDS)
