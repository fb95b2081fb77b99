"""How warm the water must be: the trade's factor rule beside a balance of heat, and why they differ."""

import functools
import math
from dataclasses import dataclass, field

import numpy as np

from .. import page, units
from ..balance.bands import reach, spread_of
from ..balance.quantities import total_hydration
from ..errors import AmountError, FormulaError, must
from ..formula import expected_losses
from ..formula.parts import only_one
from ..formula.scaling import batch_of, make
from ..tables import COLUMNS, source, table
from ..units import read
from ..words import figure, listing, signed
from .calibration import Calibration, standard_deviation

COLDEST, WARMEST = 0.0, 50.0  # of a dough, degC
_AT = 20.0  # degC at which specific heats are taken: from 0 to 40 they move by less than 3 %
_CHILLED = ("flour", "egg", "yolk", "white", "milk", "cream", "butter")


@functools.cache
def constant(what):
    """Return (value, standard deviation) of a row of thermal_constants.csv, in the unit it names."""
    row = table("thermal_constants").row(what=what)
    return float(row["value"]), standard_deviation(row)


@functools.lru_cache(maxsize=64)
def specific_heats(known):
    """Return (I,) specific heat of every ingredient [kJ per kg K] from what it is made of; known: Ingredients.

    c = sum of mass share x c of each component at 20 degC, Choi and Okos 1986, -40 to 150 degC; for water the
    accepted value. Figures that are unknown are taken as carbohydrate.
    """
    of = {
        r["component"]: float(r["a"]) + float(r["b"]) * _AT + float(r["c"]) * _AT**2
        for r in table("specific_heats").rows
    }
    of["water"] = constant("specific heat of water")[0]
    share = {name: known.composition[:, COLUMNS.index(name)] / 100 for name in COLUMNS}
    share["carbohydrate"] = np.maximum(share["carbohydrate"] - share["fibre"], 0.0)
    parts = ("water", "protein", "fat", "carbohydrate", "fibre", "ash", "alcohol")
    whole = sum(share[name] for name in parts)
    rest = np.maximum(1 - whole, 0.0)
    return (sum(share[name] * of[name] for name in parts) + rest * of["carbohydrate"]) / (whole + rest)


# the trade's rule


def factor_rule(dough_temperature, flour, room, friction, preferment=None):
    """Return the water temperature of the factor rule [degC].

    dough_temperature, flour, room, preferment [degC or text]; friction [difference in degC or text]: the friction
    factor. Tw = 3 Td - (Tf + Tr + F), or 4 Td - (Tf + Tr + Tp + F) with a preferment; trade, Gisslen, Hamelman 2004.

    >>> round(factor_rule("80 degF", "65 degF", "75 degF", "35 degF") * 9 / 5 + 32, 6)
    65.0
    """
    given = [read(flour, "temperature", "flour"), read(room, "temperature", "room")]
    if preferment is not None:
        given.append(read(preferment, "temperature", "preferment"))
    aim = read(dough_temperature, "temperature", "dough temperature")
    return (len(given) + 1) * aim - sum(given) - units.temperature_difference(friction, "friction")


def recommended_dough_temperatures():
    """Return a DataFrame of recommended temperatures of finished doughs, as printed and in degC; they disagree.

    >>> float(recommended_dough_temperatures().loc["enriched", "low, degC"].round(1))
    27.8
    """
    rows = []
    for row in table("dough_temperatures").rows:
        ends = [read(f"{row[end]} {row['unit']}", "temperature") for end in ("low", "high")]
        printed = f"{row['low']} to {row['high']} {row['unit']}"
        rows.append((row["dough"], *ends, printed, source(row["source"]), row["provenance"], row["note"]))
    columns = ["dough", "low, degC", "high, degC", "as printed", "source", "provenance", "note"]
    return page.frame(columns, rows, index=True)


# ice


def ice_in(water, tap, wanted, latent=None, heat_of_water=None):
    """Return the ice [g] that brings water with it to a temperature, ice at 0 degC counted in the water's mass.

    water [g]; tap, wanted [degC], wanted from 0 to tap; latent [kJ per kg], heat_of_water [kJ per kg K], else
    thermal_constants.csv. ice = W c (Tt - Tw) / (L + c Tt), exact.

    >>> round(ice_in(40_000, 20, 10, latent=334.6, heat_of_water=4.186))
    4003
    """
    latent = constant("latent heat of ice")[0] if latent is None else latent
    c = constant("specific heat of water")[0] if heat_of_water is None else heat_of_water
    return water * c * (tap - wanted) / (latent + c * tap)


def trade_ice(water, tap, wanted):
    """Return the ice [g] by the trade's rule, W (tap - wanted) / (tap + 80), degC: it rounds the latent heat."""
    return water * (tap - wanted) / (tap + 80)


# the balance


def _solid_fat(temperature, which="solid_percent"):
    rows = table("milk_fat_solid")
    return np.interp(temperature, rows.numbers("temperature_degC"), rows.numbers(which)) / 100


@dataclass(frozen=True, eq=False)
class _Bowl:
    """What goes into the mixer, heat capacities [kJ per K on 100 g of total flour, so x 1000], temperatures [degC]."""

    names: tuple
    kinds: tuple
    capacities: np.ndarray  # (..., N)
    temperatures: np.ndarray  # (N,)
    masses: np.ndarray  # (..., N), g
    liquid: int
    liquid_at: float  # as it comes
    flour: object  # g that wets for the first time
    butterfat: object  # g, and how warm it goes in
    butter_at: float


def _bowl(formula, room, flour, preferment, given, liquid):
    known = formula.ingredients
    heats = specific_heats(known)
    final = formula.part("dough")
    first = [part for part in formula.bowls if part.kind != "dough"]
    own = {known.find(name): read(value, "temperature", name) for name, value in (given or {}).items()}
    named = {known[key]["name"]: value for key, value in own.items()}
    names, kinds, capacities, temperatures, masses = [], [], [], [], []

    def put(name, kind, capacity, mass, temperature):
        for entry, value in zip(
            (names, kinds, capacities, masses, temperatures), (name, kind, capacity, mass, temperature), strict=True
        ):
            entry.append(value)

    for key, value in zip(final.keys, final.percentages, strict=True):
        kind = known[key]["kind"]
        at = own.pop(key, flour if kind == "flour" else room)
        put(known[key]["name"], kind, value * heats[known.row(key)] / 1000, value, at)
    for part in first:
        capacity = sum(v * heats[known.row(k)] for k, v in zip(part.keys, part.percentages, strict=True)) / 1000
        put(part.name, "preferment", capacity, part.mass, room if preferment is None else preferment)
    if own:
        missing = listing(known[key]["name"] for key in own)
        do = f"the final dough holds {listing(names)}; a preferment has its own argument"
        raise FormulaError(must("ingredients", "in the final dough", missing, do))
    poured = [n for n, name in enumerate(names) if kinds[n] == "water"] or [
        n for n, key in enumerate(final.keys) if known[key]["counts_as_liquid"] == "yes"
    ]
    if liquid is not None:
        wanted = known[known.find(liquid)]["name"]
        poured = [n for n, name in enumerate(names) if name == wanted]
    if not poured or np.any(np.asarray(masses[poured[0]]) <= 0):
        do = "the final dough needs water or milk whose warmth can be chosen"
        raise FormulaError(must(liquid or "water", "in the final dough", "0 %", do))
    usual = constant("water as it comes")[0] if kinds[poured[0]] == "water" else room
    fat, at = 0.0, room
    for n, key in enumerate(final.keys):
        if kinds[n] in ("butter", "clarified butter"):
            fat = fat + masses[n] * known.composition[known.row(key), COLUMNS.index("fat")] / 100
            at = temperatures[n]
    shape = formula.shape
    return _Bowl(
        tuple(names),
        tuple(kinds),
        np.stack([np.broadcast_to(c, shape) for c in capacities], -1),
        np.array(temperatures, float),
        np.stack([np.broadcast_to(m, shape) for m in masses], -1),
        poured[0],
        named.get(names[poured[0]], usual),
        formula.flour_in(final),
        fat,
        at,
    )


@dataclass(frozen=True, eq=False)
class WaterTemperature(page.Result):
    """How warm the water must be by rule and by balance [degC], and what parts them; floats or arrays."""

    rule: object  # factor rule [degC]
    balance: object  # balance of heat [degC]; below 0 only ice gives it
    low: object  # 80 % band of the balance [degC]
    high: object
    dough_low: object  # 80 % band of the dough itself with the balance's water [degC]
    dough_high: object
    terms: tuple  # (what, degC), which add up to balance - rule
    dough_temperature: float
    liquid: str
    tap: float  # of the liquid as it comes [degC]
    liquid_mass: object  # in the batch [g]
    ice: object  # of it as ice, by the balance [g]
    rule_ice: object  # of it as ice, by factor rule and the trade's ice rule [g]
    water_share: object  # of the dough's heat that the liquid carries [%]
    if_of_dough: object  # the balance were the heat of hydration of each kg of flour and water [degC]
    ice_if_of_dough: object  # and the ice [g]
    heat_shares: tuple = field(repr=False)  # (ingredient of the mixer, % of the dough's heat that it carries)
    chill: tuple  # (ingredient, from, to [degC], enough) each alone, where the liquid cannot do it without ice
    friction: float  # friction factor used [degC]
    mixing_rise: float  # that mixing gives the dough in the balance [degC]
    notes: tuple = field(default=(), repr=False)
    formula: object = field(default=None, repr=False)
    columns = ("what", "degC")

    def frame_rows(self):
        """Return the way from the rule's answer by named terms to the balance's [degC]."""
        only_one(self.formula, "for its terms")
        return [("factor rule", self.rule), *self.terms, ("balance of heat", self.balance)]

    def sources(self):
        """Return what rule and balance rest on."""
        keys = (
            "gisslen_professional_baking",
            "hamelman_2004",
            "choi_okos_1986",
            "cengel_boles",
            "trade_magazine_dough_temperature",
        )
        return [source(key) for key in keys]

    @property
    def words(self):
        """The water by rule and balance, and what to mind of one dough."""
        if np.ndim(self.balance):
            return (
                f"water for {np.shape(self.balance)} doughs: rule {figure(np.min(self.rule))} to "
                f"{figure(np.max(self.rule))} degC, balance {figure(np.min(self.balance))} to "
                f"{figure(np.max(self.balance))} degC"
            )
        text = (
            f"{self.liquid} for a dough of {figure(self.dough_temperature)} degC: rule {figure(self.rule)} degC, "
            f"balance {figure(self.balance)} degC (80 % band {figure(self.low)} to {figure(self.high)}); "
            f"it carries {figure(self.water_share, 0)} % of the dough's heat, and the dough may come out at "
            f"{figure(self.dough_low)} to {figure(self.dough_high)} degC"
        )
        return "; ".join([text, *self.notes])

    @property
    def lead(self):
        """The words of many doughs; one has its table."""
        return self.words if np.ndim(self.balance) else ""

    def tables(self):
        """Return the table of one dough's terms."""
        if np.ndim(self.balance):
            return []
        (rule, first), *terms, (balance, last) = self.frame_rows()
        rows = [[rule, figure(first)], *([what, signed(value)] for what, value in terms), [balance, figure(last)]]
        return [([f"{self.liquid}, degC", ""], rows, "", (0, len(rows) - 1))]


def water_temperature(
    formula,
    dough_temperature,
    room,
    flour=None,
    preferment=None,
    ingredients=None,
    friction=None,
    mixing_rise=None,
    minutes=None,
    hydration=None,
    butter_melts=True,
    tap=None,
    batch=None,
    liquid=None,
    calibration=None,
):
    """Return the WaterTemperature that brings a dough to its temperature, by factor rule and by balance of heat.

    dough_temperature, room, flour, preferment, tap [degC or text], each ingredient's own in ingredients {name:
    degC}; what is not given is as warm as the room, water 15 degC. Mixing: friction [difference in degC or text],
    the rule's factor, 3 or 4 times the rise of the dough; or mixing_rise of the dough [degC], best by
    `mixing_rise_of`; or minutes of mixing, else the formula's own steps, with `calibration`. hydration [kJ per kg of
    flour], else 15.12, with a band that also holds 15 per kg of flour and water. butter_melts: melting of its fat
    counts. batch [g of dough]; liquid: what is warmed or cooled, else water. Sum m c (Td - T) = m_flour h + C_dough
    rise - melting; 0 to 50 degC. Raises FormulaError, AmountError.

    >>> from kit.formula import Formula
    >>> dough = Formula.from_weights("dough", {"flour": 2000, "water": 1000})
    >>> made = water_temperature(dough, 15, 15, mixing_rise=0, hydration=15)
    >>> round(made.balance, 1), round(made.rule, 1)
    (7.8, 15.0)
    """
    aim = read(dough_temperature, "temperature", "dough temperature")
    if not COLDEST <= aim <= WARMEST:
        do = "a rich dough comes out at 24 to 28 degC"
        raise AmountError(must("dough temperature", "0 to 50 degC", f"{figure(aim)} degC", do))
    room = read(room, "temperature", "room")
    flour = room if flour is None else read(flour, "temperature", "flour")
    has_first = any(part.kind != "dough" for part in formula.bowls)
    if preferment is not None and not has_first:
        raise FormulaError(must("preferment", "a part of the formula", "none", "leave its temperature out"))
    preferment = read(preferment, "temperature", "preferment") if preferment is not None else room
    bowl = _bowl(formula, room, flour, preferment, ingredients, liquid)
    count = 4 if has_first else 3
    calibration = calibration or Calibration()
    factor, rise, rises, words = _mixing(formula, friction, mixing_rise, minutes, count, calibration)
    w = bowl.liquid
    warm = bowl.liquid_at if tap is None else read(tap, "temperature", "tap")
    capacity, whole = bowl.capacities[..., w], bowl.capacities.sum(-1)
    flours = np.array([kind == "flour" for kind in bowl.kinds])
    heat = bowl.capacities * (aim - bowl.temperatures)  # each ingredient's, kJ on 100 g of flour
    wetting, other_wetting = _wetting(bowl, formula, hydration)
    melting = 0.0
    if butter_melts:
        melting = bowl.butterfat / 1000 * constant("latent heat of milk fat")[0] * _melted(bowl.butter_at, aim)
    others = [n for n in range(len(bowl.names)) if n != w]
    balance = aim + (heat[..., others].sum(-1) - wetting - whole * rise + melting) / capacity
    rule = factor_rule(aim, flour, room, factor, preferment if has_first else None) + 0 * balance
    # The difference is a sum of heats over the liquid's capacity, so each has its own share of it.
    mass = bowl.masses[..., flours].sum(-1) / bowl.masses[..., w]
    mean_flour = bowl.capacities[..., flours].sum(-1) / capacity
    terms = []
    at_flour = np.all(bowl.temperatures[flours] == flour)
    if at_flour:
        terms.append(("flour: heavier than the water", (mass - 1) * (aim - flour)))
        terms.append(("flour: its specific heat", (mean_flour - mass) * (aim - flour)))
    else:
        own = heat[..., flours].sum(-1) / capacity
        terms.append(("flour: its weight, specific heat and own temperatures", own - (aim - flour)))
    terms.append(("room: the rule mixes it in", 0 * balance - (aim - room)))
    for n in others:
        if flours[n]:
            continue
        share = heat[..., n] / capacity
        if bowl.kinds[n] == "preferment":
            terms.append((f"{bowl.names[n]}: its weight", share))
        else:
            terms.append((bowl.names[n], share))
    if has_first:
        terms.append(("preferment: the rule counts it once", 0 * balance - (aim - preferment)))
    terms.append(("heat of hydration of flour", -wetting / capacity))
    terms.append(("friction: a factor of the rule, heat of the whole dough", factor - whole * rise / capacity))
    terms.append(("melting of butter", melting / capacity + 0 * balance))
    terms = tuple((name, value if np.ndim(value) else float(value)) for name, value in terms if np.any(value))
    # heat [kJ], each side on its own; the other reading of the heat of hydration only ever warms
    other = reach() * _heat_spread(bowl, aim, wetting, butter_melts)
    cooler, warmer = (np.hypot(whole * (end - rise), other) for end in rises)
    warmer = np.hypot(warmer, other_wetting - wetting)
    grams = _batch(formula, batch) * bowl.masses[..., w] / formula.dough_percentages.sum(-1)
    if_of_dough = balance - (other_wetting - wetting) / capacity
    ice, other_ice = (ice_in(grams, warm, np.minimum(wanted, warm)) for wanted in (balance, if_of_dough))
    rule_ice = np.where(rule < warm, trade_ice(grams, warm, rule), 0.0)
    result = {
        "rule": rule,
        "balance": balance,
        "low": balance - warmer / capacity,
        "high": balance + cooler / capacity,
        "dough_low": aim - cooler / whole,
        "dough_high": aim + warmer / whole,
        "liquid_mass": grams,
        "ice": ice,
        "rule_ice": rule_ice,
        "water_share": 100 * capacity / whole,
        "if_of_dough": if_of_dough,
        "ice_if_of_dough": other_ice,
    }
    shares = [100 * bowl.capacities[..., n] / whole for n in range(len(bowl.names))]
    notes, chill = [words, _say_wetting(hydration)], ()
    if not formula.shape:
        result = {name: float(value) for name, value in result.items()}
        shares = [float(value) for value in shares]
        found, chill = _advice(bowl, warm, result, float(capacity), float(whole))
        if hydration is None:
            notes[1] += _say_other(bowl, warm, result)
        notes += found
    return WaterTemperature(
        **result,
        heat_shares=tuple(zip(bowl.names, shares, strict=True)),
        terms=terms,
        dough_temperature=aim,
        liquid=bowl.names[w],
        tap=warm,
        chill=chill,
        friction=factor,
        mixing_rise=rise,
        notes=tuple(notes),
        formula=formula,
    )


def _mixing(formula, friction, mixing_rise, minutes, count, calibration):
    """Return friction factor, `count` times the rise, and rise of the dough [degC], its 80 % band, and words.

    A rise that is given is taken as known within a tenth, assumed here.
    """
    given = [
        n for n, v in (("friction", friction), ("mixing_rise", mixing_rise), ("minutes", minutes)) if v is not None
    ]
    if len(given) > 1:
        raise AmountError(must("mixing", "given once", listing(given), "leave the others out"))
    per_minute = calibration.friction_rise
    if friction is not None:
        factor = units.temperature_difference(friction, "friction")
        rise = factor / count
        words = (
            f"friction factor {figure(factor)} degC of {count} temperatures, taken as {figure(rise)} degC of dough; a "
            "past mix's factor also holds what the rule leaves out: mixing_rise_of gives the mixing alone"
        )
        return factor, rise, (0.9 * rise, 1.1 * rise), words
    if mixing_rise is not None:
        rise = units.temperature_difference(mixing_rise, "mixing rise")
        words = f"mixing warms the dough by {figure(rise)} degC, as given"
        return rise * count, rise, (0.9 * rise, 1.1 * rise), words
    if minutes is None:
        minutes = sum(s.minutes or 0.0 for s in formula.steps if s.speed)
        if not minutes:
            minutes = 10.0
    else:
        minutes = units.read_above(minutes, "time", "minutes", "give the time in the mixer", zero=True)
    rise = minutes * per_minute.value
    words = (
        f"{figure(minutes, 0)} min of mixing at {figure(per_minute.value, 2)} degC a minute, {per_minute.rests_on}: "
        f"{figure(rise)} degC of dough, friction factor {figure(rise * count)} degC"
    )
    return rise * count, rise, tuple(minutes * end for end in per_minute.band()), words


def _melted(start, end):
    """Return the share of milk fat that melts between two temperatures; negative where it sets."""
    return float(_solid_fat(start) - _solid_fat(end))


def _wetting(bowl, formula, hydration):
    """Return the heat that flour gives as it wets, as printed of flour and as it may be read [kJ on 100 g of flour].

    hydration [kJ per kg of flour] when it is given: then there is nothing to read otherwise.
    """
    if hydration is not None:
        return (bowl.flour / 1000 * hydration,) * 2
    of_flour, of_dough = (constant(f"heat of hydration of {what}")[0] for what in ("flour", "flour and water"))
    dough = 1 + total_hydration(formula) / 100  # kg of flour and water with each kg of flour
    return bowl.flour / 1000 * of_flour, bowl.flour / 1000 * np.maximum(of_dough * dough, of_flour)


def _say_wetting(hydration):
    if hydration is not None:
        return f"flour that wets gives {figure(hydration)} kJ per kg of flour, as given"
    row = table("thermal_constants").row(what="heat of hydration of flour")
    return f"flour that wets gives {figure(float(row['value']))} kJ per kg of flour: {row['note']}"


def _say_other(bowl, warm, result):
    """Return in words what water or ice the other reading of the heat of hydration asks for."""
    needs = f"{bowl.names[bowl.liquid]} at {figure(result['if_of_dough'])} degC"
    if bowl.kinds[bowl.liquid] == "water" and result["if_of_dough"] < warm:
        needs = f"{figure(result['ice_if_of_dough'], 0)} g of ice for {figure(result['ice'], 0)}"
    of_dough = constant("heat of hydration of flour and water")[0]
    read_so = f"a textbook's {figure(of_dough, 0)} kJ may be read as of each kg of flour and water"
    return f"; {read_so}: {needs}; the band holds both"


def _heat_spread(bowl, aim, wetting, butter_melts):
    """Return the standard deviation of the heat of hydration and melting on 100 g of flour [kJ]."""
    usual, of_usual = constant("heat of hydration of flour")
    of_wetting = wetting * of_usual / usual
    of_melting = 0.0
    if butter_melts:
        latent, of_latent = constant("latent heat of milk fat")
        of_solid = spread_of(*(_solid_fat(bowl.butter_at, f"{end}_percent") for end in ("low", "high")))
        share = _melted(bowl.butter_at, aim)
        of_melting = bowl.butterfat / 1000 * math.hypot(of_latent * share, latent * of_solid)
    return np.hypot(of_wetting, of_melting)


def _batch(formula, batch):
    if batch is not None:
        return units.read_above(batch, "mass", "batch", "say how much dough is mixed")
    made = make(formula, batch_of(formula, usual_flour=1000.0), expected_losses(formula))
    return made.flour / 100 * formula.dough_percentages.sum(-1)


def _advice(bowl, warm, result, capacity, whole):
    """Return (words, what to chill): how the balance's answer is reached, one dough."""
    balance, grams, ice, liquid = result["balance"], result["liquid_mass"], result["ice"], bowl.names[bowl.liquid]
    said, chill = [], ()
    hottest, fridge = constant("warmest water on yeast")[0], constant("refrigerator")[0]
    poured = bowl.kinds[bowl.liquid] == "water"
    if balance > hottest:
        said.append(
            f"above {figure(hottest, 0)} degC it harms yeast: keep it there and warm the flour or the milk instead"
        )
    elif balance < warm:
        lacking = capacity * (warm - balance)  # kJ on 100 g of flour, that the liquid as it comes leaves in the dough
        frozen = poured and ice <= grams
        if frozen:
            said.append(f"{figure(ice, 0)} g of the {figure(grams, 0)} g of water as ice")
        elif poured:
            most = constant("latent heat of ice")[0] + constant("specific heat of water")[0] * warm
            lacking -= float(bowl.masses[bowl.liquid]) / 1000 * most
            said.append("not even all of the water as ice is cold enough")
        else:
            said.append(f"cool the {liquid}; it is poured at {figure(warm)} degC otherwise")
        chill = _chill(bowl, lacking, fridge)
        can = [f"{name} from {figure(a)} to {figure(b)} degC" for name, a, b, enough in chill if enough]
        instead = "instead of ice, chill" if frozen else "chill"
        if can:
            said.append(f"{instead} {listing(can, 'or')}")
        elif chill:
            together = sum(bowl.capacities[n] * max(bowl.temperatures[n] - fridge, 0.0) for n in _chillable(bowl))
            names = listing(name for name, *_ in chill)
            if together >= lacking:
                said.append(f"{instead} {names} together: no one of them is enough down to {figure(fridge)} degC")
            else:
                left = (lacking - together) / whole
                said.append(
                    f"with {names} all at {figure(fridge)} degC the dough still comes out {figure(left)} degC too "
                    "warm: mix less, or in a colder room"
                )
    return said, chill


def _chillable(bowl):
    return [n for n, kind in enumerate(bowl.kinds) if kind in _CHILLED and n != bowl.liquid and bowl.masses[n] > 0]


def _chill(bowl, lacking, fridge):
    """Return ((ingredient, from, to [degC], enough), ...): each alone, the one that moves least first."""
    found = []
    for n in _chillable(bowl):
        start = float(bowl.temperatures[n])
        to = start - float(lacking) / float(bowl.capacities[n])
        found.append((bowl.names[n], start, to, bool(to >= fridge)))
    return tuple(sorted(found, key=lambda entry: -entry[2]))


def mixed_temperature(
    formula,
    water,
    room,
    ice=0.0,
    flour=None,
    preferment=None,
    ingredients=None,
    mixing_rise=0.0,
    hydration=None,
    butter_melts=True,
    batch=None,
    liquid=None,
):
    """Return how warm a dough comes out [degC]: the balance of `water_temperature` the other way round.

    water: temperature of the water [degC or text]; ice [g or any mass] of it in the batch, at 0 degC; the rest as
    there. Float or array. Raises FormulaError, AmountError.

    >>> from kit.formula import Formula
    >>> dough = Formula.from_weights("dough", {"flour": 1000, "water": 600, "butter": 200})
    >>> wanted = water_temperature(dough, 25, 22, mixing_rise=4)
    >>> round(mixed_temperature(dough, wanted.balance, 22, mixing_rise=4), 6)
    25.0
    """
    room = read(room, "temperature", "room")
    flour = room if flour is None else read(flour, "temperature", "flour")
    preferment = room if preferment is None else read(preferment, "temperature", "preferment")
    bowl = _bowl(formula, room, flour, preferment, ingredients, liquid)
    w = bowl.liquid
    poured = np.asarray(water, float) if np.ndim(water) else read(water, "temperature", "water")
    grams = _batch(formula, batch) * bowl.masses[..., w] / formula.dough_percentages.sum(-1)
    frozen = read(ice, "mass", "ice") / grams
    if np.any((frozen < 0) | (frozen > 1)):
        raise AmountError(must("ice", "at most the water's mass", f"{read(ice, 'mass'):g} g", "use less ice"))
    capacity, whole = bowl.capacities[..., w], bowl.capacities.sum(-1)
    rise = units.temperature_difference(mixing_rise, "mixing rise")
    others = [n for n in range(len(bowl.names)) if n != w]
    heat = (bowl.capacities * bowl.temperatures)[..., others].sum(-1) + capacity * (1 - frozen) * poured
    heat = heat - bowl.masses[..., w] / 1000 * frozen * constant("latent heat of ice")[0]
    heat = heat + _wetting(bowl, formula, hydration)[0] + whole * rise
    aim = heat / whole
    if butter_melts:
        latent = bowl.butterfat / 1000 * constant("latent heat of milk fat")[0]
        for _ in range(60):  # the fat's melting moves the temperature little, so this closes fast
            aim = (heat - latent * (_solid_fat(bowl.butter_at) - _solid_fat(aim))) / whole
    return aim if np.ndim(aim) else float(aim)


def mixing_rise_of(formula, actual, water, room, **given):
    """Return by how much mixing warmed a past dough [degC], by the balance: feed it to a Calibration.

    actual: the dough as it came out [degC or text]; water, room and the rest as for `mixed_temperature`.

    >>> from kit.formula import Formula
    >>> dough = Formula.from_weights("dough", {"flour": 1000, "water": 600})
    >>> round(mixing_rise_of(dough, mixed_temperature(dough, 10, 22, mixing_rise=5), 10, 22), 6)
    5.0
    """
    aim = read(actual, "temperature", "actual")
    low, high = 0.0, 1.0
    ends = [mixed_temperature(formula, water, room, mixing_rise=rise, **given) for rise in (low, high)]
    rise = (aim - ends[0]) / (ends[1] - ends[0])
    for _ in range(40):  # only the fat's melting bends the line: a few rounds close it
        off = aim - mixed_temperature(formula, water, room, mixing_rise=rise, **given)
        rise += off
        if abs(off) < 1e-9:
            break
    return float(rise)
