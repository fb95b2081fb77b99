"""What others get: the crew's production sheet, the shop's cost, the draft of a label."""

from .cost import Cost, CostChange, PiecesFromStock, SellingPrice, cost, cost_change, cost_per_piece, pieces_from_stock
from .label import Item, Label, LabelChanges, label
from .nutrition import Nutrient, Quid, declare, energy, quid
from .prices import Price, Prices, read_prices
from .sheet import ProductionSheet, SheetChanges, production_sheet

__all__ = [
    "cost", "Cost", "cost_change", "cost_per_piece", "CostChange", "declare", "energy", "Item", "label", "Label",
    "LabelChanges", "Nutrient", "pieces_from_stock", "PiecesFromStock", "Price", "Prices", "production_sheet",
    "ProductionSheet", "quid", "Quid", "read_prices", "SellingPrice", "SheetChanges",
]  # fmt: skip
