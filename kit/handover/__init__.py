"""What others get: the crew's production sheet, the shop's cost, the draft of a label."""

from .cost import Cost, CostChange, cost
from .label import Item, Label, LabelChanges, label
from .nutrition import Nutrient, declare, energy, quid
from .prices import Price, Prices, read_prices
from .sheet import ProductionSheet, SheetChanges, production_sheet
