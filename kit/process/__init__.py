"""What a formula will do: how warm, how fast it rises, pieces, masses and losses."""

from .activity import solution_activity, water_activity
from .calibration import Calibration, Estimate
from .rise import (
    Rise,
    RiseCauses,
    bulk,
    cardinal_rate,
    final_proof,
    rise,
    rise_against_published,
    rise_causes,
    sponge,
)
from .yields import Yield, predict_yield

__all__ = [
    "bulk", "Calibration", "cardinal_rate", "Estimate", "final_proof", "predict_yield", "Rise", "rise",
    "rise_against_published", "rise_causes", "RiseCauses", "solution_activity", "sponge", "water_activity", "Yield",
]  # fmt: skip
