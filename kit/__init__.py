"""Enriched buns from formula to batch: the words a baker types.

Each word is loaded when first used, so that `import kit` costs little more than numpy.
"""

from .lazy import offer

_WORDS = {
    "kit.formula": "Formula at_hand",
    "kit.balance": "measure hydration total_hydration enrichment_ratio topping_to_dough_ratio dough_class what_moved",
    "kit.process": "predict_yield water_temperature rise topping_fit day",
    "kit.reformulate": "solve substitute sensitivities",
    "kit.trials": "TrialBook plan_trials side_by_side calibrate serving_plan",
    "kit.handover": "production_sheet label read_prices cost",
    "kit.lessons": "class_sheet class_page",
    "kit.cautions": "cautions_for",
    "kit.show": "show",
}
__version__ = "0.1.0"
__getattr__, __dir__, __all__ = offer(__name__, globals(), _WORDS)
