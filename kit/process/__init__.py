"""What a formula will do: how warm, how fast it rises, pieces, masses and losses."""

from .activity import water_activity
from .calibration import Calibration, Estimate
from .causes import RiseCauses
from .day import Day, day, stages_in
from .dome import Dome
from .gassing import cardinal_rate
from .rise import Rise, rise
from .topping import ToppingFit, piece_domes, topping_fit
from .trays import Trays, trays
from .water import (
    WaterTemperature,
    factor_rule,
    mixed_temperature,
    mixing_rise_of,
    recommended_dough_temperatures,
    water_temperature,
)
from .yields import ScalingScatter, ToScale, Yield, predict_yield
