"""What must hold: solve for it, swap one ingredient for another, and see what one point of each does."""

from .moving import measured
from .search import Demand
from .sensitivities import Sensitivities, sensitivities
from .solver import Came, Impossible, Solved, solve
from .substituted import Substituted, Swap, allergens
from .substitutions import substitute, substitutions
