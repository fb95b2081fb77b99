"""The heat of what goes into the mixer: each ingredient's own, of flour that wets, of fat that melts, of ice."""

import functools
import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..balance import total_hydration
from ..balance.bands import spread_of
from ..errors import AmountError, FormulaError, must
from ..formula import Formula
from ..tables import COLUMNS, table
from ..units import read
from ..words import figure, listing
from .calibration import standard_deviation

COLDEST, WARMEST = 0.0, 50.0  # degC: beyond them the dough freezes, or its yeast dies and its butter runs out
_AT = 20.0  # degC at which specific heats are taken: from 0 to 40 they move by less than 3 %


def warmth(value, name):
    """Return how warm a dough or its room is [degC]. Raises AmountError beyond where it freezes or its yeast dies."""
    value = read(value, "temperature", name)
    if not COLDEST <= value <= WARMEST:
        do = "below it freezes, above it yeast dies: give the dough's own temperature"
        raise AmountError(must(name, f"{COLDEST:g} to {WARMEST:g} °C", f"{figure(value)} °C", do))
    return value


@functools.cache
def constant(what):
    """Return (value, standard deviation) of a row of thermal_constants.csv, in the unit it names."""
    row = table("thermal_constants").row(what=what)
    return row.value, standard_deviation(row)


@functools.lru_cache(maxsize=64)
def specific_heats(known):
    """Return (I,) specific heat of every ingredient [kJ per kg K] from what it is made of; known: Ingredients.

    c = sum of mass share x c of each component at 20 degC, Choi and Okos 1986, -40 to 150 degC; for water the
    accepted value. Figures that are unknown are taken as carbohydrate.
    """
    of = {row.component: row.a + row.b * _AT + row.c * _AT**2 for row in table("specific_heats").rows}
    of["water"] = constant("specific heat of water")[0]
    share = {name: known.composition[:, COLUMNS.index(name)] / 100 for name in COLUMNS}
    share["carbohydrate"] = np.maximum(share["carbohydrate"] - share["fibre"], 0.0)
    parts = ("water", "protein", "fat", "carbohydrate", "fibre", "ash", "alcohol")
    whole = sum(share[name] for name in parts)
    rest = np.maximum(1 - whole, 0.0)
    return (sum(share[name] * of[name] for name in parts) + rest * of["carbohydrate"]) / (whole + rest)


def _solid_fat(temperature, which="solid_percent"):
    rows = table("milk_fat_solid")
    return np.interp(temperature, rows.numbers("temperature_degC"), rows.numbers(which)) / 100


@dataclass(frozen=True, eq=False)
class Mix:
    """What goes into the mixer, on 100 g of total flour: heats in kJ, heat capacities in kJ per K."""

    formula: Formula
    names: tuple[str, ...]
    kinds: tuple[str, ...]
    masses: np.ndarray  # (..., N), g
    capacities: np.ndarray  # (..., N)
    temperatures: np.ndarray  # (N,), degC
    liquid: int  # its place
    tap: float  # of the liquid as it comes, degC
    wetting: Any  # heat that flour gives as it wets, as printed of each kg of flour
    wetting_of_dough: Any  # the same, read as of each kg of flour and water
    butterfat: Any  # g that may melt
    butter_at: float  # degC
    room: float  # degC
    flour: float  # of the flour that has no temperature of its own
    preferment: float | None  # None where there is none

    @property
    def whole(self):
        """The heat capacity of the dough."""
        return self.capacities.sum(-1)

    @property
    def liquid_capacity(self):
        """That of the liquid."""
        return self.capacities[..., self.liquid]

    def share(self, grams):
        """Return the grams of liquid in so much dough [g]."""
        return grams * self.masses[..., self.liquid] / self.formula.dough_percentages.sum(-1)

    def heats(self, aim):
        """Return (..., N) the heat that brings each to a temperature, the liquid's left out."""
        found = self.capacities * (np.asarray(aim)[..., None] - self.temperatures)
        found[..., self.liquid] = 0.0
        return found

    def melting(self, aim):
        """Return the heat that melts the butter's fat on its way; negative where it sets."""
        melted = _solid_fat(self.butter_at) - _solid_fat(aim)
        return self.butterfat / 1000 * constant("latent heat of milk fat")[0] * melted

    def needed(self, aim, water, frozen=0.0):
        """Return the heat that brings all of it there, the liquid at a temperature [degC], a share of it as ice."""
        ice = self.masses[..., self.liquid] / 1000 * frozen * constant("latent heat of ice")[0]
        poured = self.liquid_capacity * (aim - (1 - frozen) * water)
        return poured + ice + self.heats(aim).sum(-1) + self.melting(aim)

    def spread(self, aim):
        """Return the standard deviation of the heats of wetting and melting."""
        usual, of_usual = constant("heat of hydration of flour")
        latent, of_latent = constant("latent heat of milk fat")
        of_solid = spread_of(*(_solid_fat(self.butter_at, f"{end}_percent") for end in ("low", "high")))
        melted = float(_solid_fat(self.butter_at) - _solid_fat(aim))
        of_melting = self.butterfat / 1000 * math.hypot(of_latent * melted, latent * of_solid)
        return np.hypot(self.wetting * of_usual / usual, of_melting)


def poured_into(formula):
    """Return the row of what is poured into the final dough: its water, else the first of its liquids; None without."""
    rows = [formula.ingredients[key] for key, percentage in formula.part("dough").items if np.all(percentage > 0)]
    liquids = [row for row in rows if row.counts_as_liquid == "yes"]
    return next(iter([row for row in rows if row.kind == "water"] + liquids), None)


def mix(
    formula: Formula,
    room: Any,
    flour: Any = None,
    preferment: Any = None,
    ingredients: dict | None = None,
    hydration: float | None = None,
    butter_melts: bool = True,
    tap: Any = None,
) -> Mix:
    """Return the Mix of a formula; arguments as in `water_temperature`. Raises FormulaError."""
    known, final = formula.ingredients, formula.part("dough")
    room = read(room, "temperature", "room")
    flour = room if flour is None else read(flour, "temperature", "flour")
    preferment = room if preferment is None else read(preferment, "temperature", "preferment")
    own = {known.find(name): read(value, "temperature", name) for name, value in (ingredients or {}).items()}
    if missing := [known[key].name for key in own if key not in final.keys]:
        names = listing([known[key].name for key in final.keys] + [part.name for part in formula.bowls[:-1]])
        do = f"the final dough holds {names}; a preferment has its own argument"
        raise FormulaError(must("ingredients", "in the final dough", listing(missing), do))
    heats, lines = specific_heats(known), []  # name, kind, mass, heat capacity, temperature
    for key, grams in final.items:
        row = known[key]
        at = own.get(key, flour if row.kind == "flour" else room)
        lines.append((row.name, row.kind, grams, grams * heats[known.row(key)] / 1000, at))
    for part in [part for part in formula.bowls if part.kind != "dough"]:
        capacity = sum(grams * heats[known.row(key)] for key, grams in part.items) / 1000
        lines.append((part.name, "preferment", part.mass, capacity, preferment))
    names, kinds, masses, capacities, temperatures = zip(*lines, strict=True)
    liquid = poured_into(formula)
    if liquid is None:
        do = "the final dough needs water or milk whose warmth can be chosen"
        raise FormulaError(must("water", "in the final dough", "0 %", do))
    poured = final.keys.index(liquid.key)
    usual = constant("water as it comes")[0] if liquid.kind == "water" else room
    butter = [(n, key) for n, key in enumerate(final.keys) if kinds[n] in ("butter", "clarified butter")]
    fat = sum(masses[n] * known.column("fat")[known.row(key)] / 100 for n, key in butter) if butter_melts else 0.0
    wets = formula.flour_in(final) / 1000  # kg, for the first time
    of_flour, of_dough = (constant(f"heat of hydration of {what}")[0] for what in ("flour", "flour and water"))
    as_read = np.maximum(of_dough * (1 + total_hydration(formula) / 100), of_flour)
    if hydration is not None:  # then there is nothing to read otherwise
        of_flour = as_read = hydration
    shape = formula.shape
    return Mix(
        formula,
        names,
        kinds,
        np.stack([np.broadcast_to(each, shape) for each in masses], -1),
        np.stack([np.broadcast_to(each, shape) for each in capacities], -1),
        np.array(temperatures, float),
        poured,
        own.get(liquid.key, usual) if tap is None else read(tap, "temperature", "tap"),
        wets * of_flour,
        wets * as_read,
        fat,
        temperatures[butter[-1][0]] if butter else room,
        room,
        flour,
        preferment if len(formula.bowls) > 1 else None,
    )
