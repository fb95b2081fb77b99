"""What must hold: solve for it, swap one ingredient for another, and see what one point of each does."""

from .sensitivities import Sensitivities, sensitivities
from .solver import Came, Demand, Impossible, Solved, solve

__all__ = ["Came", "Demand", "Impossible", "sensitivities", "Sensitivities", "solve", "Solved"]
