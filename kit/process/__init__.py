"""What a formula will do: pieces, masses and losses."""

from .yields import Yield, predict_yield

__all__ = ["Yield", "predict_yield"]
