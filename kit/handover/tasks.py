"""The crew's tasks: the formula's own steps, each with the sizes, temperatures and trays that belong to it."""

from dataclasses import dataclass

from ..process import stages_in, water_temperature
from ..process.water import constant
from ..units import read
from ..words import listing, plain
from .weighing import counted, grouped, length, mass, temperature, trimmed


@dataclass(frozen=True)
class Task:
    """One numbered task, with what belongs to it: sizes, temperatures, trays."""

    do: str
    also: tuple = ()


def tasks(formula, facts, working):
    """Return the Tasks of a formula: its steps in order, each with the facts {stage: texts} of its stage.

    Facts whose stage no step names become tasks of their own, after the steps.
    """
    waiting, made, fermented = dict(facts), [], False
    for step in formula.steps:
        stages, fermented = _stages(formula, step, fermented)
        also = [text for stage in stages for text in waiting.pop(stage, ())]
        made.append(Task(say_step(step, working), tuple(also)))
    made += [Task(texts[0], tuple(texts[1:])) for texts in waiting.values() if texts]
    return tuple(made)


def _stages(formula, step, fermented):
    """Return the stages whose facts a step takes, and whether the preferments' own step has gone by."""
    held, part = stages_in(step.do), plain(step.part)
    first = [p.name for p in formula.bowls if p.kind != "dough"]
    if part in map(plain, first) or ("sponge" in held and first and not fermented and part != "dough"):
        return (), True
    if part == "dough" and (step.speed or "mix" in held):
        return ("mix",), True
    return tuple("divide" if stage == "shape" else stage for stage in held), fermented or "mix" in held


def say_step(step, working):
    """Return a step of the method in words: what, when, how fast, how long, how warm, until when."""
    said = [step.do]
    if step.at:
        said.append(f"when {step.at}")
    if step.speed:
        said.append(step.speed if "speed" in step.speed.casefold() else f"{step.speed} speed")
    if step.minutes is not None:
        said.append(f"{trimmed(step.minutes)} min")
    if step.temperature is not None:
        said.append(temperature(step.temperature, working, "oven" if "bake" in stages_in(step.do) else "dough"))
    if step.humidity is not None:
        said.append(f"{trimmed(step.humidity)} % RH")
    if step.until:
        said.append(f"until {step.until.removeprefix('until ')}")
    return ", ".join(said)


def facts(formula, made, fit, tins, poured, working):
    """Return {stage: texts} of what a batch needs beside its steps: water, pieces, topping, trays, bake."""
    p, count = formula.pieces, grouped(made.pieces)
    found = {"mix": poured}
    left = f"; {mass(made.dough_left, working, 0)} of dough is left" if made.dough_left >= 1 else ""
    found["divide"] = [f"{count} × {mass(p.dough, working)}{left}"]
    if p.filling and formula.has("filling"):
        found["divide"].append(f"filling {count} × {mass(p.filling, working)}")
    top = []
    if p.wash and formula.has("wash"):
        top.append(f"wash {mass(p.wash, working)} on each")
    if fit is not None:
        disc, thick = length(fit.disc, working), length(fit.thickness, working, "thickness")
        top.append(f"topping {count} × {mass(p.topping, working)}: disc {disc} across, {thick} thick")
        if fit.pattern != "unscored":
            top.append(f"score: {fit.pattern}, {length(fit.pitch, working)} apart")
    last = f" ({tins.on_last} on the last)" if tins.on_last < tins.per_tray and tins.trays > 1 else ""
    loads = f", {counted(tins.loads, 'oven load')}" if tins.loads > 1 else ""
    ways = ", staggered" if tins.packing == "staggered" else ""
    sides = f"{10 * tins.length:g} × {10 * tins.width:g} mm"
    top.append(
        f"{counted(tins.trays, 'tray')} of {sides}, {min(tins.per_tray, tins.pieces)} on each{ways}{last}{loads}"
    )
    found["top"] = top
    if fit is not None and fit.pattern != "unscored":
        found["proof"] = [f"gaps between the scored strips about {length(fit.gap('proofed'), working)}"]
    bake, words = formula.bake, []
    if bake.oven is not None:
        words.append(f"oven {temperature(bake.oven, working, 'oven')}")
    if bake.minutes is not None:
        words.append(f"{trimmed(bake.minutes)} min")
    if bake.core is not None:
        words.append(f"core {temperature(bake.core, working)}")
    words += [f"steam: {bake.steam}"] * bool(bake.steam)
    found["bake"] = [f"Bake: {', '.join(words)}"] if words else []
    return found


def dough_aim(formula, given=None):
    """Return how warm the dough is to come out [degC]: as given, else as the last mixing step says; or None."""
    if given is not None:
        return read(given, "temperature", "dough temperature")
    mixed = [s.temperature for s in formula.steps if plain(s.part) == "dough" and s.temperature is not None]
    bulk = [s.temperature for s in formula.steps if "bulk" in stages_in(s.do) and s.temperature is not None]
    return (mixed or bulk or [None])[-1]


def _liquid(formula):
    """The name of what is poured into the final dough: its water, else the first of its liquids, else nothing."""
    dough = formula.part("dough")
    rows = [formula.ingredients[key] for key in dough.keys if dough.percentage(key) > 0]
    named = [row["name"] for row in rows if row["kind"] == "water"]
    return (named + [row["name"] for row in rows if row["counts_as_liquid"] == "yes"] + [""])[0]


def pour(formula, made, aim, given, working):
    """Return (texts, grounds): how warm the water is poured, with ice where it is needed.

    aim [degC] or None; given: the temperatures of `water_temperature`, a room of None leaves a line to write on.
    """
    if given.get("room") is None:
        out = f", for a dough of {temperature(aim, working)}" if aim is not None else ""
        liquid = _liquid(formula)
        return [f"{liquid}: ______ {'°F' if working == 'US' else '°C'}{out}"] if liquid else [], {}
    grams = made.flour * float(formula.dough_percentages.sum()) / 100
    found = water_temperature(formula, aim, batch=grams, **given)
    kind = formula.ingredients[formula.ingredients.find(found.liquid)]["kind"]
    hottest, goal = constant("warmest water on yeast")[0], f"for a dough of {temperature(aim, working)}"
    chill = [f"{name} chilled to {temperature(to, working)}" for name, _, to, enough in found.chill if enough]
    if found.balance > hottest:
        text = f"at {temperature(hottest, working)}, no hotter; warm the flour or the milk too"
    elif found.balance >= found.tap:
        text = f"at {temperature(found.balance, working)}"
    elif kind == "water" and found.ice <= found.liquid_mass:
        of, rest = mass(found.ice, working, 0), mass(found.liquid_mass - found.ice, working, 0)
        text = f"{of} of it as ice, the other {rest} at {temperature(found.tap, working)}"
        text += f"; or, without ice, {chill[0]}" if chill else ""
    elif kind != "water" and found.balance >= 0:
        text = f"at {temperature(found.balance, working)}"
    else:
        cold = "even all of it as ice" if kind == "water" else "as cold as the refrigerator makes it"
        others = f"chill {listing(name for name, *_ in found.chill) or 'the flour'} too, or mix in a colder room"
        text = f"{cold} is not enough: {listing(chill, 'or') or others}"
    return [f"{found.liquid}: {text}, {goal}"], {"water": "; ".join([*found.sources(), found.notes[0]])}
