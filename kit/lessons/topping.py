"""Lesson 3: the crust on top, what is lost on the way to the counter, and how warm the water must be."""

from ..balance import measure
from ..process import factor_rule, predict_yield
from ..tables import ingredients
from ..units import in_unit
from .kinds import Case, adding, bun, kind, listed, n


def _cocoa(dice):
    base = dice.step(300, 1000, 100, 50, 10)
    cocoa = round(base * dice.step(15, 40, 5) / 100)
    return {"flour": base - cocoa, "cocoa": cocoa, "sugar": round(base * dice.step(80, 110, 5) / 100)}


@kind(_cocoa)
def topping_base(flour, cocoa, sugar):
    """Icing sugar on flour and cocoa together, which is a cocoa topping's base."""
    lines = {"plain flour": flour, "cocoa": cocoa, "icing sugar": sugar}
    formula = bun({"bread flour": 100}, topping=lines, bases={"topping": ("flour", "cocoa")})
    answer = formula.part("topping").percentage(ingredients().find("icing sugar"))
    alone, of_all = 100 * sugar / flour, 100 * sugar / (flour + cocoa + sugar)
    return Case(
        f"A cocoa topping: {listed(lines, 'g')}. Its base is flour and cocoa together. What is the icing sugar on that "
        "base? Name the base in your answer: ... % of ...",
        answer,
        (
            f"Base: {adding([flour, cocoa])} g of flour and cocoa.",
            f"{n(sugar)} / {n(flour + cocoa)} x 100 = {n(answer, 1)} % of flour and cocoa.",
        ),
        {"flour_alone": alone, "divided_by_total": of_all},
        {"flour and cocoa": answer, "flour": alone, "topping": of_all},
    )


def _paste(dice):
    lines = {"plain flour": 100, "icing sugar": dice.step(80, 110, 10, 5, 1), "butter": dice.step(70, 95, 5, 5, 1)}
    if dice.level > 2:
        lines["egg yolk"] = dice.step(4, 10)
    return {
        "lines": lines,
        "count": dice.step(24, 96, 24, 12, 1),
        "portion": dice.step(16, 30, 2),
        "loss": dice.step(2, 8, 2, 1, 0.5),
        "ingredient": dice.choice(list(lines)),
    }


@kind(_paste)
def topping_line(lines, count, portion, loss, ingredient):
    """One line of the topping for so many portions, with the topping's own handling loss."""
    makes = {"piece": 60, "topping": portion}
    formula = bun({"bread flour": 100}, topping=lines, makes=makes, losses={"topping dividing": loss})
    mixed, part = predict_yield(formula, pieces=count).topping_to_mix, formula.part("topping")
    share = part.percentage(ingredients().find(ingredient))
    answer = mixed * share / part.mass
    needed = count * portion
    return Case(
        f"{count} buns take {n(portion)} g of topping each; {n(loss)} % of the topping mixed is lost in bowl and "
        f"cutting. In % of the topping's flour: {listed(lines)}. How many g of {ingredient} do you weigh for the "
        "topping?",
        answer,
        (
            f"On the buns: {count} x {n(portion)} = {n(needed)} g. To mix: {n(needed)} / {n(1 - loss / 100)} = "
            f"{n(mixed, 1)} g.",
            f"All parts: {adding(lines.values())} %.",
            f"{ingredient.capitalize()}: {n(mixed, 1)} g x {n(share)} / {n(part.mass)} = {n(answer, 1)} g.",
        ),
        {"forgot_loss": needed * share / part.mass, "percent_of_the_topping": mixed * share / 100},
    )


@kind(lambda dice: {"ratio": dice.step(0.25, 0.5, 0.05, 0.05, 0.01), "piece": dice.step(60, 120, 5, 5, 1)})
def ratio_or_share(ratio, piece):
    """Topping of a raw piece from its topping-to-dough ratio."""
    dough = piece / (1 + ratio)
    formula = bun({"bread flour": 100}, topping={"sugar": 1}, makes={"piece": dough, "topping": piece - dough})
    answer = formula.pieces.topping
    return Case(
        f"A raw bun of {n(piece)} g, topping and dough together, has a topping-to-dough ratio of {n(ratio)}. How "
        "many g of topping are on it?",
        answer,
        (
            f"For 1 g of dough there are {n(ratio)} g of topping: {n(1 + ratio)} g in all.",
            f"{n(piece)} / {n(1 + ratio)} = {n(dough, 1)} g of dough; {n(piece)} - {n(dough, 1)} = {n(answer, 1)} "
            "g of topping.",
        ),
        {"ratio_as_share": ratio * piece, "gave_the_dough": dough},
    )


@kind(lambda dice: {"lines": dice.bun(), "butter": dice.step(8, 25, 5, 5, 1), "dough": dice.step(60, 120, 10)})
def sugar_in_a_piece(lines, butter, dough):
    """Sugar in a piece of the same weight after butter rises: dough x sugar % / total percentage."""
    before = bun(lines, makes={"piece": dough})
    after = before.vary(butter=lines["butter"] + butter)
    share = lines["sugar"] / 100
    answer, was = (formula.scale(dough=dough).flour * share for formula in (after, before))
    old, new = measure(before, "total_percentage"), measure(after, "total_percentage")
    return Case(
        f"In % of total flour: {listed(lines)}; total percentage {n(old)} %. Butter rises by {n(butter)} points, "
        f"the sugar stays at {n(lines['sugar'])} %, and a bun still takes {n(dough)} g of dough. How many g of sugar "
        "are in one bun now?",
        answer,
        (
            f"The total percentage is now {n(old)} + {n(butter)} = {n(new)} %.",
            f"{n(dough)} g x {n(lines['sugar'])} / {n(new)} = {n(answer, 2)} g; it was {n(was, 2)} g.",
        ),
        {"dose_unchanged": was, "percent_of_dough": dough * share},
    )


DOUGH = {"bread flour": 100, "water": 60}  # any dough, where only its losses count


@kind(lambda dice: {"baked": dice.step(50, 120, 10, 5, 1), "loss": dice.step(8, 15, 1, 1, 0.5)})
def raw_from_baked(baked, loss):
    """Raw = baked / (1 - loss)."""
    made = predict_yield(bun(DOUGH), pieces=1, piece=100, topping=0, losses={"baking": loss})
    left = made.baked_piece / made.raw_piece
    answer = baked / left
    return Case(
        f"A bun is to weigh {n(baked)} g baked. In oven and cooling it loses {n(loss)} % of its raw weight. How "
        "many g do you scale?",
        answer,
        (f"{n(loss)} % lost leaves {n(left)}.", f"{n(baked)} g / {n(left)} = {n(answer, 1)} g."),
        {"added_loss": baked * (1 + loss / 100), "forgot_loss": baked, "took_loss_off": baked * left},
    )


def _order(dice):
    count, baked = dice.step(24, 120, 12, 6, 1), dice.step(50, 100, 10, 5, 1)
    return {"count": count, "baked": baked, "first": dice.step(2, 6, 2, 1, 0.5), "second": dice.step(10, 14, 2, 1, 0.5)}


@kind(_order)
def dough_for_order(count, baked, first, second):
    """Dough to mix = baked mass / product of (1 - loss)."""
    losses = {"dividing": first, "baking": second}
    made = predict_yield(bun(DOUGH), pieces=count, piece=100, topping=0, losses=losses)
    wanted = count * baked
    answer = wanted * made.dough_mixed / made.baked_mass
    scaled = wanted * made.raw_piece / made.baked_piece
    return Case(
        f"{count} buns of {n(baked)} g baked are ordered. {n(first)} % of the dough is lost up to the scale, then "
        f"{n(second)} % of what was scaled in oven and cooling. How many g of dough do you mix?",
        answer,
        (
            f"Baked: {count} x {n(baked)} = {n(wanted)} g. Scaled: {n(wanted)} / {n(1 - second / 100)} = "
            f"{n(scaled, 1)} g.",
            f"Mixed: {n(scaled, 1)} / {n(1 - first / 100)} = {n(answer, 1)} g.",
        ),
        {"added_loss": wanted * (1 + (first + second) / 100), "last_loss_only": scaled, "forgot_loss": wanted},
    )


def _water(target, flour, room, rise, unit, sponge=None):
    """Return the kit's factor rule in the unit of its arguments."""
    told = [f"{value} {unit}" for value in (target, flour, room, rise)]
    degrees = factor_rule(*told, preferment=None if sponge is None else f"{sponge} {unit}")
    return round(in_unit(degrees, unit, "temperature"), 9)


def _temperatures(dice):
    unit = "°F" if dice.random() < 0.5 else "°C"
    # target, flour, room and rise, then the sponge: (low, high, step); what a tap gives and yeast stands
    ranges, sponge, (coldest, warmest) = {
        "°F": (((75, 80, 1), (60, 74, 2), (64, 78, 2), (10, 28, 2)), (72, 82, 2), (41, 104)),
        "°C": (((24, 27, 1), (16, 23, 1), (18, 26, 1), (6, 14, 1)), (22, 28, 1), (5, 40)),
    }[unit]
    while True:
        drawn = [dice.step(*each) for each in ranges] + [unit]
        drawn += [dice.step(*sponge)] if dice.level == 3 else []
        if coldest <= _water(*drawn) <= warmest:
            return dict(zip(("target", "flour", "room", "rise", "unit", "sponge"), drawn, strict=False))


@kind(_temperatures)
def water_temperature(target, flour, room, rise, unit, sponge=None):
    """Water temperature by three factors, or four with a sponge."""
    answer = _water(target, flour, room, rise, unit, sponge)
    known = [flour, room]
    told = f"the flour is {n(flour)} {unit}, the room {n(room)} {unit}"
    wrong = {"forgot_the_mixer": answer + rise, "water_as_warm_as_dough": target}
    if sponge is not None:
        known.append(sponge)
        told += f", the sponge {n(sponge)} {unit}"
        wrong["forgot_the_sponge"] = _water(target, flour, room, rise, unit)
    times = len(known) + 1
    return Case(
        f"The dough is to come off the mixer at {n(target)} {unit}; {told}; mixing warms it by {n(rise)} {unit} as "
        f"the rule counts it. How warm must the water be, in {unit}, by the rule of "
        f"{'three' if sponge is None else 'four'} factors?",
        answer,
        (
            f"{times} x {n(target)} = {n(times * target)}.",
            f"{n(times * target)} - {' - '.join(n(value) for value in (*known, rise))} = {n(answer)} {unit}.",
        ),
        wrong,
    )
