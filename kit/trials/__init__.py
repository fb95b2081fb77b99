"""What happened: the trial book, bakes side by side, lineage, tastings, and what a kitchen's own bakes teach."""

from .again import lineage
from .bakes import bakes_of, by_plan, repeat_scatter
from .book import ConflictError, Entry, TrialBook
from .calibrating import calibrate, fits
from .comparing import side_by_side
from .exchange import write_csv
from .fields import Kitchen, trial_fields
from .planning import Plan, plan_trials
from .printed import bench_page
from .reading import AskedError, Asking, TrialError
from .recipes import Recipe
from .records import Trial
from .serving import Answers, ServingPlan, serving_plan
from .tasting import ranking, tasters_needed, tasting, tasting_power
