"""What you see: panels, and the picture of a result; each is loaded when first used."""

from ..lazy import offer

_WORDS = {
    "kit.show.formula_panel": "FormulaPanel",
    "kit.show.foresee_panels": "WaterPanel RisePanel ToppingPanel DayPanel",
    "kit.show.reformulate_panels": "SolvePanel SubstitutePanel",
    "kit.show.handover_panel": "HandoverPanel",
    "kit.show.entry_panel": "EntryPanel",
    "kit.show.trial_panels": "PlanPanel SideBySidePanel TastingPanel",
    "kit.show.lesson_panels": "ExerciseCard BenchCard",
    "kit.show.lesson_pictures": "LessonPicture",
    "kit.show.pictures": "picture_of",
}
__getattr__, __dir__, __all__ = offer(__name__, globals(), _WORDS)
