"""What others get: the crew's production sheet."""

from .sheet import ProductionSheet, SheetChanges, production_sheet

__all__ = ["production_sheet", "ProductionSheet", "SheetChanges"]
