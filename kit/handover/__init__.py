"""What others get: the crew's production sheet, the shop's cost, the draft of a label."""

from .cost import Cost, CostChange, cost
from .label import Item, Label, label
from .nutrition import Nutrient, declare, energy, quid
from .prices import Price, Prices, read_prices
from .printed import Changes
from .sheet import ProductionSheet, production_sheet
