"""What must hold: solve for it, swap one ingredient for another, and see what one point of each does."""

from .bowls import into_cooked_flour, into_preferment, into_straight
from .moving import measured
from .sensitivities import Sensitivities, sensitivities
from .solver import Came, Demand, Impossible, Solved, attempt, solve
from .substitutions import Substituted, Swap, allergens, substitute, substitutions, without
