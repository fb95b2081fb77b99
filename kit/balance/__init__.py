"""What a formula is made of: components, hydration, enrichment, topping, dough class, and what moved."""

from .accounts import ACCOUNTS
from .bands import Band, hydration_band
from .classes import DoughClass, MixingMethod, class_codes, dough_class, mixing_lines, own_steps, schemes
from .moved import Moved, what_moved
from .quantities import (
    QUANTITIES,
    EnrichmentRatio,
    at_least,
    enrichment_ratio,
    hydration,
    in_words,
    measure,
    measures,
    names_called,
    quantity_named,
    topping_to_dough_ratio,
    total_hydration,
)
from .softness import Softness, softness
