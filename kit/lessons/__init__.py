"""What apprentices practise: exercises from a seed, answers that teach, progress, and sheets to print."""

from .asking import Exercise, exercise, exercises
from .bench import BenchTask, bench_task
from .class_page import ClassPage, class_page
from .marking import Mark, mark
from .progress import Progress, learners, next_exercise, open_learner, read_progress
from .sheets import ClassSheet, class_sheet
