"""What others get: what a piece costs, for the shop."""

from .changes import CostChange, cost_change
from .cost import Cost, cost, cost_per_piece
from .prices import Price, Prices, read_prices
from .selling import SellingPrice
from .stock import PiecesFromStock, pieces_from_stock

__all__ = [
    "cost", "Cost", "cost_change", "cost_per_piece", "CostChange", "pieces_from_stock", "PiecesFromStock", "Price",
    "Prices", "read_prices", "SellingPrice",
]  # fmt: skip
