"""How warm the water must be: the trade's factor rule beside a balance of heat, and why they differ."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from .. import page, units
from ..balance.bands import reach
from ..errors import AmountError, FormulaError, must
from ..formula import Formula, expected_losses
from ..formula.scaling import batch_of, make
from ..tables import ground, source, table
from ..units import read
from ..words import figure, listing, one_of, plain, span
from .calibration import Calibration
from .day import stages_in
from .heat import Mix, constant, mix, warmth

_CHILLED = ("flour", "egg", "yolk", "white", "milk", "cream", "butter")
_RULE = ("gisslen_professional_baking", "hamelman_2004")  # who print the factor rule
WAYS = ("friction", "mixing_rise", "minutes")  # to say how mixing warms a dough


def factor_rule(dough_temperature: Any, flour: Any, room: Any, friction: Any, preferment: Any = None) -> float:
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


def recommended_dough_temperatures() -> Any:
    """Return a DataFrame of recommended temperatures of finished doughs, as printed and in degC; they disagree.

    >>> float(recommended_dough_temperatures().loc["enriched", "low, °C"].round(1))
    27.8
    """
    rows = []
    for row in table("dough_temperatures").rows:
        ends = [read(f"{row[end]} {row.unit}", "temperature") for end in ("low", "high")]
        printed = f"{row['low']} to {row['high']} {row.unit}"
        rows.append((row.dough, *ends, printed, source(row.source), row.provenance, row.note))
    columns = ["dough", "low, °C", "high, °C", "as printed", "source", "provenance", "note"]
    return page.frame(columns, rows, index=True)


def dough_aim(formula):
    """Return how warm a dough is to come out [degC], as its last mixing step says, else its bulk; None for neither."""
    warm = [step for step in formula.steps if step.temperature is not None]
    mixed = [step.temperature for step in warm if plain(step.part) == "dough"]
    return (mixed or [step.temperature for step in warm if "bulk" in stages_in(step.do)] or [None])[-1]


def ice_in(water: Any, tap: Any, wanted: Any, latent: float | None = None, heat_of_water: float | None = None) -> Any:
    """Return the ice [g] that brings water with it to a temperature, ice at 0 degC counted in the water's mass.

    water [g]; tap, wanted [degC], wanted from 0 to tap; latent [kJ per kg], heat_of_water [kJ per kg K], else
    thermal_constants.csv. ice = W c (Tt - Tw) / (L + c Tt), exact.

    >>> round(ice_in(40_000, 20, 10, latent=334.6, heat_of_water=4.186))
    4003
    """
    latent = constant("latent heat of ice")[0] if latent is None else latent
    c = constant("specific heat of water")[0] if heat_of_water is None else heat_of_water
    return water * c * (tap - wanted) / (latent + c * tap)


def trade_ice(water: Any, tap: Any, wanted: Any) -> Any:
    """Return the ice [g] by the trade's rule, W (tap - wanted) / (tap + 80), degC: it rounds the latent heat."""
    return water * (tap - wanted) / (tap + 80)


@dataclass(frozen=True, eq=False)
class WaterTemperature(page.Result):
    """How warm the water must be by rule and by balance [degC], and what parts them; floats or arrays."""

    rule: Any  # factor rule [degC]
    balance: Any  # balance of heat [degC]; below 0 only ice gives it
    low: Any  # 80 % band of the balance [degC]
    high: Any
    dough_low: Any  # 80 % band of the dough itself with the balance's water [degC]
    dough_high: Any
    liquid_mass: Any  # in the batch [g]
    ice: Any  # of it as ice, by the balance [g]
    rule_ice: Any  # of it as ice, by factor rule and the trade's ice rule [g]
    water_share: Any  # of the dough's heat that the liquid carries [%]
    terms: tuple  # (what, degC), which add up to balance - rule
    dough_temperature: float
    liquid: str
    tap: float  # of the liquid as it comes [degC]
    chill: tuple  # (ingredient, from, to [degC], enough) each alone, where the liquid cannot do it without ice
    mixing_rise: float  # that mixing gives the dough in the balance [degC]
    notes: tuple[str, ...] = field(default=(), repr=False)
    columns, digits = ("what", "°C"), 1

    def frame_rows(self):
        """Return the way from the rule's answer by named terms to the balance's [degC]."""
        return [("factor rule", self.rule), *self.terms, ("balance of heat", self.balance)]

    def sources(self):
        """Return what rule and balance rest on."""
        rows = [row for name in ("specific_heats", "thermal_constants") for row in table(name).rows]
        return [*map(source, _RULE), *dict.fromkeys(map(ground, rows))]

    @property
    def words(self) -> str:
        """The water by rule and balance, and what to mind of one dough."""
        if np.ndim(self.balance):
            return f"water for many doughs: rule {span(self.rule)} °C, balance {span(self.balance)} °C"
        text = (
            f"{self.liquid} for a dough of {figure(self.dough_temperature)} °C: rule {figure(self.rule)} °C, "
            f"balance {figure(self.balance)} °C (80 % band {figure(self.low)} to {figure(self.high)}); "
            f"it carries {figure(self.water_share, 0)} % of the dough's heat, and the dough may come out at "
            f"{figure(self.dough_low)} to {figure(self.dough_high)} °C"
        )
        return "; ".join([text, *self.notes])

    @property
    def lead(self) -> str:
        """The words of many doughs; one has its table."""
        return self.words if np.ndim(self.balance) else ""


def water_temperature(
    formula: Formula,
    dough_temperature: float | str,
    room: float | str,
    flour: float | str | None = None,
    preferment: float | str | None = None,
    ingredients: dict | None = None,
    hydration: float | None = None,
    butter_melts: bool = True,
    tap: float | str | None = None,
    batch: float | str | None = None,
    calibration: Calibration | None = None,
    **mixing: float | str | None,
) -> WaterTemperature:
    """Return the WaterTemperature that brings a dough to its temperature, by factor rule and by balance of heat.

    formula: one, or many
    dough_temperature: as it shall come out [degC or text], 0 to 50 degC
    room, flour, preferment: how warm they are [degC or text]; as warm as the room when None
    ingredients: {name: its own temperature [degC or text]} of the final dough
    hydration: heat of flour that wets [kJ per kg of flour], else 15.12, with a band that also holds 15 per kg of
        flour and water
    butter_melts: whether melting of its fat counts
    tap: the liquid as it comes [degC or text], water at 15 degC when None
    batch: dough that is mixed [g or any mass], else the formula's
    calibration: the kitchen's own figures
    mixing: how it warms the dough, one of
        friction: the rule's factor, 3 or 4 times the rise of the dough [difference in degC or text]
        mixing_rise: by how much [degC or text], best by `mixing_rise_of`
        minutes: how long it takes [min or text], else those of the formula's own steps

    Returns floats, or arrays for many. Raises FormulaError, AmountError, UnknownName.

    Sum m c (Td - T) = m_flour h + C_dough rise - melting; 0 to 50 degC.

    >>> from kit.formula import Formula
    >>> dough = Formula.from_weights("dough", {"flour": 2000, "water": 1000})
    >>> made = water_temperature(dough, 15, 15, mixing_rise=0, hydration=15)
    >>> round(made.balance, 1), round(made.rule, 1)
    (7.8, 15.0)
    """
    aim = warmth(dough_temperature, "dough temperature")
    if preferment is not None and len(formula.bowls) == 1:
        raise FormulaError(must("preferment", "a part of the formula", "none", "leave its temperature out"))
    bowl = mix(formula, room, flour, preferment, ingredients, hydration, butter_melts, tap)
    count = 3 if bowl.preferment is None else 4  # temperatures of the rule
    rise, rises, words = _mixing(formula, mixing, count, calibration or Calibration())
    capacity, whole = bowl.liquid_capacity, bowl.whole
    balance = (bowl.needed(aim, 0.0) - bowl.wetting - whole * rise) / capacity
    rule = factor_rule(aim, bowl.flour, bowl.room, rise * count, bowl.preferment) + 0 * balance
    # heat [kJ], each side on its own; the other reading of the heat of hydration only ever warms
    other = reach() * bowl.spread(aim)
    cooler, warmer = (np.hypot(whole * (end - rise), other) for end in rises)
    warmer = np.hypot(warmer, bowl.wetting_of_dough - bowl.wetting)
    grams = bowl.share(_batch(formula, batch))
    result = {
        "rule": rule,
        "balance": balance,
        "low": balance - warmer / capacity,
        "high": balance + cooler / capacity,
        "dough_low": aim - cooler / whole,
        "dough_high": aim + warmer / whole,
        "liquid_mass": grams,
        "ice": ice_in(grams, bowl.tap, np.minimum(balance, bowl.tap)),
        "rule_ice": np.where(rule < bowl.tap, trade_ice(grams, bowl.tap, rule), 0.0),
        "water_share": 100 * capacity / whole,
    }
    terms = {name: value + 0 * balance for name, value in _terms(bowl, aim, rise * count, rise)}
    notes, chill = [words, _wetting_in_words(hydration)], ()
    if not formula.shape:
        result, terms = ({name: float(value) for name, value in each.items()} for each in (result, terms))
        chill, advice = _chilled(bowl, result["balance"], grams, result["ice"])
        notes += advice
    return WaterTemperature(
        **result,
        terms=tuple((name, value) for name, value in terms.items() if np.any(value)),
        dough_temperature=aim,
        liquid=bowl.names[bowl.liquid],
        tap=bowl.tap,
        chill=chill,
        mixing_rise=rise,
        notes=tuple(notes),
    )


def _terms(bowl: Mix, aim, factor, rise):
    """Yield (what, degC of the liquid) of all that parts the balance from the rule: each heat over its capacity."""
    capacity, flours = bowl.liquid_capacity, np.array([kind == "flour" for kind in bowl.kinds])
    shares, colder = bowl.heats(aim) / capacity[..., None], aim - bowl.flour
    if np.all(bowl.temperatures[flours] == bowl.flour):
        heavier = bowl.masses[..., flours].sum(-1) / bowl.masses[..., bowl.liquid]
        yield "flour: heavier than the water", (heavier - 1) * colder
        yield "flour: its specific heat", (bowl.capacities[..., flours].sum(-1) / capacity - heavier) * colder
    else:
        yield "flour: its weight, specific heat and own temperatures", shares[..., flours].sum(-1) - colder
    yield "room: the rule mixes it in", bowl.room - aim
    for n, kind in enumerate(bowl.kinds):
        if kind != "flour" and n != bowl.liquid:
            yield bowl.names[n] + (": its weight" if kind == "preferment" else ""), shares[..., n]
    if bowl.preferment is not None:
        yield "preferment: the rule counts it once", bowl.preferment - aim
    yield "heat of hydration of flour", -bowl.wetting / capacity
    yield "friction: a factor of the rule, heat of the whole dough", factor - bowl.whole * rise / capacity
    yield "melting of butter", bowl.melting(aim) / capacity


def _mixing(formula, ways, count, calibration):
    """Return by how much mixing warms the dough [degC], its 80 % band, and words; count: of the rule's temperatures.

    A rise that is given is taken as known within a tenth, assumed here.
    """
    given = {one_of("mixing", way, WAYS): value for way, value in ways.items() if value is not None}
    if len(given) > 1:
        raise AmountError(must("mixing", "given once", listing(given), "leave the others out"))
    if given and "minutes" not in given:
        ((way, value),) = given.items()
        rise = units.temperature_difference(value, way.replace("_", " ")) / (count if way == "friction" else 1)
        words = f"mixing warms the dough by {figure(rise)} °C, as given"
        if way == "friction":
            factor = f"friction factor {figure(rise * count)} °C of {count} temperatures"
            words = f"{factor}, taken as {figure(rise)} °C of dough"
        return rise, (0.9 * rise, 1.1 * rise), words
    own = sum(step.minutes or 0.0 for step in formula.steps if step.speed) or 10.0
    time = units.read_above(given.get("minutes", own), "time", "minutes", "give the time mixed", zero=True)
    per_minute = calibration.friction_rise
    rise = time * per_minute.value
    words = (
        f"{figure(time, 0)} min of mixing at {figure(per_minute.value, 2)} °C a minute, {per_minute.rests_on}: "
        f"{figure(rise)} °C of dough, friction factor {figure(rise * count)} °C"
    )
    return rise, tuple(time * end for end in per_minute.band()), words


def _wetting_in_words(hydration):
    if hydration is not None:
        return f"flour that wets gives {figure(hydration)} kJ per kg of flour, as given"
    row = table("thermal_constants").row(what="heat of hydration of flour")
    of_dough = constant("heat of hydration of flour and water")[0]
    return (
        f"flour that wets gives {figure(row.value)} kJ per kg of flour: {row.note}; a textbook's "
        f"{figure(of_dough, 0)} kJ may be read as of each kg of flour and water, and the band holds both"
    )


def _batch(formula, batch):
    if batch is not None:
        return units.read_above(batch, "mass", "batch", "say how much dough is mixed")
    made = make(formula, batch_of(formula, usual_flour=1000.0), expected_losses(formula))
    return made.flour / 100 * formula.dough_percentages.sum(-1)


def _chilled(bowl: Mix, balance, grams, ice):
    """Return [(ingredient, from, to [degC], enough)] that alone may be chilled in place of a colder liquid, least move
    first, and in words how the balance's answer is reached with one dough.
    """
    hottest, fridge = constant("warmest water on yeast")[0], constant("refrigerator")[0]
    liquid, is_water = bowl.names[bowl.liquid], bowl.kinds[bowl.liquid] == "water"
    if balance > hottest:
        return (), [
            f"above {figure(hottest, 0)} °C it harms yeast: keep it there and warm the flour or the milk instead"
        ]
    if balance >= bowl.tap:
        return (), []
    frozen = is_water and ice <= grams
    lacking = float(bowl.liquid_capacity * (bowl.tap - balance))  # heat that the liquid as it comes leaves in the dough
    if frozen:
        said, instead = f"{figure(ice, 0)} g of the {figure(grams, 0)} g of water as ice", "instead of ice, chill"
    elif is_water:
        said, instead = "not even all of the water as ice is cold enough", "chill"
        most = constant("latent heat of ice")[0] + constant("specific heat of water")[0] * bowl.tap
        lacking -= float(bowl.masses[bowl.liquid]) / 1000 * most
    else:
        said, instead = f"cool the {liquid}; it is poured at {figure(bowl.tap)} °C otherwise", "chill"
    chill = []
    for n, name in enumerate(bowl.names):
        if bowl.kinds[n] in _CHILLED and n != bowl.liquid and bowl.masses[n] > 0:
            start = float(bowl.temperatures[n])
            to = start - lacking / float(bowl.capacities[n])
            chill.append((name, start, to, to >= fridge))
    chill = sorted(chill, key=lambda entry: -entry[2])
    names, advice = listing(name for name, *_ in chill), [said]
    left = 1 - sum(max(start - fridge, 0.0) / (start - to) for _, start, to, _ in chill)  # of what is lacking
    if can := [f"{name} from {figure(start)} to {figure(to)} °C" for name, start, to, enough in chill if enough]:
        advice.append(f"{instead} {listing(can, 'or')}")
    elif chill and left <= 0:
        advice.append(f"{instead} {names} together: no one of them is enough down to {figure(fridge)} °C")
    elif chill:
        warm = f"{figure(left * lacking / float(bowl.whole))} °C too warm"
        cold = f"with {names} all at {figure(fridge)} °C the dough still comes out {warm}"
        advice.append(f"{cold}: mix less, or in a colder room")
    return tuple(chill), advice


def mixed_temperature(
    formula: Formula,
    water: Any,
    room: float | str,
    ice: float | str = 0.0,
    mixing_rise: float | str = 0.0,
    batch: float | str | None = None,
    **given: Any,
) -> Any:
    """Return how warm a dough comes out [degC]: the balance of `water_temperature` the other way round.

    formula: one, or many
    water: how warm it is poured [degC or text, or an array]
    ice: of it in the batch, at 0 degC [g or any mass]
    room, mixing_rise, batch, and flour, preferment, ingredients, hydration, butter_melts: as there

    Returns a float, or an array for many. Raises FormulaError, AmountError.

    >>> from kit.formula import Formula
    >>> dough = Formula.from_weights("dough", {"flour": 1000, "water": 600, "butter": 200})
    >>> wanted = water_temperature(dough, 25, 22, mixing_rise=4)
    >>> round(mixed_temperature(dough, wanted.balance, 22, mixing_rise=4), 6)
    25.0
    """
    bowl = mix(formula, room, **given)
    poured = np.asarray(water, float) if np.ndim(water) else read(water, "temperature", "water")
    frozen = _frozen(bowl, ice, batch)
    brought = bowl.wetting + bowl.whole * units.temperature_difference(mixing_rise, "mixing rise")
    aim = np.zeros(np.shape(brought + 0 * poured))
    for _ in range(60):  # the fat's melting moves the temperature little, so this closes fast
        aim = aim + (brought - bowl.needed(aim, poured, frozen)) / bowl.whole
    return aim if np.ndim(aim) else float(aim)


def _frozen(bowl, ice, batch):
    """Return the share of the liquid that is ice [g per g]."""
    grams = read(ice, "mass", "ice")
    frozen = grams / bowl.share(_batch(bowl.formula, batch))
    if np.any((frozen < 0) | (frozen > 1)):
        raise AmountError(must("ice", "at most the water's mass", f"{grams:g} g", "use less ice"))
    return frozen


def mixing_rise_of(
    formula: Formula,
    actual: float | str,
    water: float | str,
    room: float | str,
    ice: float | str = 0.0,
    batch: float | str | None = None,
    **given: Any,
) -> float:
    """Return by how much mixing warmed a past dough [degC], by the balance: feed it to a Calibration.

    formula: one Formula
    actual: the dough as it came out [degC or text]
    water, room, ice, batch and the rest: as for `mixed_temperature`

    >>> from kit.formula import Formula
    >>> dough = Formula.from_weights("dough", {"flour": 1000, "water": 600})
    >>> round(mixing_rise_of(dough, mixed_temperature(dough, 10, 22, mixing_rise=5), 10, 22), 6)
    5.0
    """
    bowl, aim = mix(formula, room, **given), read(actual, "temperature", "actual")
    heat = bowl.needed(aim, read(water, "temperature", "water"), _frozen(bowl, ice, batch))
    return float((heat - bowl.wetting) / bowl.whole)
