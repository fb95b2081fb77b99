"""Enriched buns from formula to batch: the dozen words a baker types.

Each word is loaded when first used, so that `import kit` costs little more than numpy.
"""

import importlib

_WHERE = {
    "Formula": "kit.formula",
    "Formulas": "kit.formula",
    "scale": "kit.formula",
    "hydration": "kit.balance",
    "total_hydration": "kit.balance",
    "enrichment_ratio": "kit.balance",
    "enrichment_as_weighed": "kit.balance",
    "total_percentage": "kit.balance",
    "prefermented_flour": "kit.balance",
    "topping_to_dough_ratio": "kit.balance",
    "sweetness_split": "kit.balance",
    "components": "kit.balance",
    "dough_class": "kit.balance",
    "mixing_method": "kit.balance",
    "what_moved": "kit.balance",
    "hydration_band": "kit.balance",
    "predict_yield": "kit.process",
    "water_temperature": "kit.process",
    "rise": "kit.process",
    "rise_causes": "kit.process",
    "topping_fit": "kit.process",
    "topping_mass": "kit.process",
    "day": "kit.process",
    "trays": "kit.process",
    "what_to_scale": "kit.process",
    "chance_under": "kit.process",
    "Calibration": "kit.process",
    "water_temperature": "kit.process",
    "rise": "kit.process",
    "rise_causes": "kit.process",
    "final_proof": "kit.process",
    "Calibration": "kit.process",
    "topping_fit": "kit.process",
    "what_to_scale": "kit.process",
    "trays": "kit.process",
    "day": "kit.process",
    "read_spreadsheet": "kit.formula",
    "write_spreadsheet": "kit.formula",
    "solve": "kit.reformulate",
    "substitute": "kit.reformulate",
    "sensitivities": "kit.reformulate",
    "Trial": "kit.trials",
    "TrialBook": "kit.trials",
    "read_trials": "kit.trials",
    "side_by_side": "kit.trials",
    "calibrate": "kit.trials",
    "exercise": "kit.lessons",
    "exercises": "kit.lessons",
    "mark": "kit.lessons",
    "next_exercise": "kit.lessons",
    "read_progress": "kit.lessons",
    "class_sheet": "kit.lessons",
    "cautions_for": "kit.cautions",
    "show": "kit.show",
    "places": "kit.places",
}
__all__ = [*_WHERE, "__version__"]
__version__ = "0.1.0"


def __getattr__(name):
    if name not in _WHERE:
        raise AttributeError(f"module 'kit' has no attribute {name!r}; it offers {', '.join(sorted(_WHERE))}")
    module = importlib.import_module(_WHERE[name])
    value = module if _WHERE[name] == f"kit.{name}" and name in ("show", "places") else getattr(module, name)
    globals()[name] = value
    return value


def __dir__():
    return sorted({*globals(), *_WHERE})
