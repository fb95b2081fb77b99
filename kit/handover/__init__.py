"""What others get: the draft of a label."""

from .label import Item, Label, LabelChanges, label
from .nutrition import Nutrient, Quid, declare, energy, quid

__all__ = ["declare", "energy", "Item", "Label", "label", "LabelChanges", "Nutrient", "Quid", "quid"]
