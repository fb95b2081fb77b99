"""What is written down: ingredients, parts, percentages, method, scaling and files; one formula or many."""

from .amounts import weigh
from .files import keep, read, save
from .formula import Bake, Formula, Formulas, Part, Pieces, Step
from .losses import Loss, expected_losses
from .scaling import Batch, round_to_scale, scale, to_weigh
from .spreadsheets import read_spreadsheet, write_spreadsheet
from .usual import check_usual, doubts
from .varying import swap, vary, with_part, with_preferment

__all__ = [
    "Bake", "Batch", "check_usual", "doubts", "expected_losses", "Formula", "Formulas", "keep", "Loss", "Part",
    "Pieces", "read", "read_spreadsheet", "round_to_scale", "save", "scale", "Step", "swap", "to_weigh", "vary",
    "weigh", "with_part", "with_preferment", "write_spreadsheet",
]  # fmt: skip
