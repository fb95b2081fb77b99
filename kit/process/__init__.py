"""What a formula will do: pieces, masses and losses."""

from .calibration import Calibration, Estimate
from .yields import Yield, predict_yield

__all__ = ["Calibration", "Estimate", "Yield", "predict_yield"]
