"""What is written down: ingredients, parts, percentages, method, scaling and files; one formula or many."""

from .amounts import weigh
from .formula import Formula, Formulas
from .losses import Loss, expected_losses
from .parts import Bake, Part, Pieces, Step
from .scaling import Batch, to_weigh
from .shelf import Shelf, at_hand, put_at_hand, shelf
from .usual import check_usual, doubts
