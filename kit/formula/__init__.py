"""What is written down: ingredients, parts, percentages, method, scaling and files; one formula or many."""

from .amounts import weigh
from .formula import Formula, Formulas
from .losses import Loss, expected_losses
from .parts import Bake, Part, Pieces, Step
from .scaling import Batch, round_to_scale, scale, to_weigh
from .spreadsheets import read_spreadsheet, write_spreadsheet
from .usual import check_usual, doubts

__all__ = [
    "Bake", "Batch", "check_usual", "doubts", "expected_losses", "Formula", "Formulas", "Loss", "Part", "Pieces",
    "read_spreadsheet", "round_to_scale", "scale", "Step", "to_weigh", "weigh", "write_spreadsheet",
]  # fmt: skip
