"""What a formula will do: how warm, how fast it rises, pieces, masses and losses."""

from .activity import water_activity
from .calibration import Calibration, Estimate
from .day import Day, day, stages_in
from .declared import ScalingScatter, ToScale, scaling_scatter, what_to_scale
from .dome import Dome
from .gassing import cardinal_rate
from .rise import Rise, final_proof, rise, rise_in
from .rise_causes import RiseCauses, rise_causes
from .topping import ToppingFit, piece_domes, topping_fit, topping_mass
from .trays import Trays, trays
from .water import (
    WaterTemperature,
    factor_rule,
    mixed_temperature,
    mixing_rise_of,
    recommended_dough_temperatures,
    water_temperature,
)
from .yields import Yield, predict_yield
