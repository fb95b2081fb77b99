"""What a formula is made of: components, hydration, enrichment, topping, dough class, and what moved."""

from .accounts import ACCOUNTS, Components, components
from .bands import Band, hydration_band
from .classes import DoughClass, MixingMethod, class_codes, dough_class, mixing_lines, mixing_method, own_steps, schemes
from .moved import Moved, what_moved
from .quantities import (
    QUANTITIES,
    EnrichmentRatio,
    SweetnessSplit,
    at_least,
    enrichment_as_weighed,
    enrichment_ratio,
    hydration,
    measure,
    prefermented_flour,
    sweetness_split,
    topping_to_dough_ratio,
    total_hydration,
    total_percentage,
)
from .softness import Softness, softness
