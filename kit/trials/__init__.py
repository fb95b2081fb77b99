"""What happened: the trial book, bakes side by side, lineage, tastings, and what a kitchen's own bakes teach."""

from .bakes import bakes_of, by_plan, repeat_scatter
from .book import ConflictError, Entry, TrialBook
from .calibrating import calibrate, fits, predicted_against_measured
from .comparing import side_by_side, trend
from .effects import effects, next_change
from .exchange import fill, read_trials, write_csv
from .fields import TrialError, trial_fields
from .lineage import lineage
from .planning import Plan, plan_trials
from .ranking import ranking
from .recipes import Recipe
from .records import Trial
from .serving import Answers, ServingPlan, read_answers, serving_plan
from .tasting import tasters_needed, tasting, tasting_power
from .unsaved import Unsaved, UnsavedEntries

__all__ = [
    "Answers",
    "bakes_of",
    "by_plan",
    "calibrate",
    "ConflictError",
    "effects",
    "Entry",
    "fill",
    "fits",
    "lineage",
    "next_change",
    "Plan",
    "plan_trials",
    "predicted_against_measured",
    "ranking",
    "read_answers",
    "read_trials",
    "Recipe",
    "repeat_scatter",
    "serving_plan",
    "ServingPlan",
    "side_by_side",
    "tasters_needed",
    "tasting",
    "tasting_power",
    "trend",
    "Trial",
    "trial_fields",
    "TrialBook",
    "TrialError",
    "Unsaved",
    "UnsavedEntries",
    "write_csv",
]
