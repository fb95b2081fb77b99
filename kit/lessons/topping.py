"""Lesson 3: the crust on top, what is lost on the way to the counter, and what the oven and the clock ask for."""

import math

from ..balance import sweetness_split, total_percentage
from ..formula import scale
from ..process import Dome, factor_rule, predict_yield
from ..tables import ingredients
from ..units import in_unit
from .kinds import TOPPING, Case, adding, bun, grams, holds, kind, n, percents


def _paste(dice, level):
    lines = {"plain flour": 100, "icing sugar": dice.step(80, 110, (10, 5, 1)[level - 1])}
    lines["butter"] = dice.step(70, 95, (5, 5, 1)[level - 1])
    return lines | ({"egg yolk": dice.step(4, 10, 1)} if level > 2 else {})


def _cocoa_numbers(dice, level):
    base = dice.step(300, 1000, (100, 50, 10)[level - 1])
    cocoa = round(base * dice.step(15, 40, 5) / 100)
    return {"flour": base - cocoa, "cocoa": cocoa, "sugar": round(base * dice.step(80, 110, 5) / 100)}


@kind(
    "the base of a cocoa topping", TOPPING, "topping", "%",
    "Cocoa took the place of flour, so both together are 100 here.", _cocoa_numbers,
    base="flour and cocoa", ask_base=True, cautions=("raw_flour",),
)  # fmt: skip
def topping_base(flour, cocoa, sugar):
    """Icing sugar on flour and cocoa together, which is a cocoa topping's base."""
    lines = {"plain flour": flour, "cocoa": cocoa, "icing sugar": sugar}
    formula = bun({"bread flour": 100}, topping=lines, bases={"topping": ("flour", "cocoa")})
    answer = formula.part("topping").percentage(ingredients().find("icing sugar"))
    alone, mass = 100 * sugar / flour, 100 * sugar / (flour + cocoa + sugar)
    return Case(
        f"A cocoa topping: {grams(lines)}. Its base is flour and cocoa together. What is the icing sugar on that "
        "base? Name the base in your answer: ... % of ...",
        answer,
        (
            f"Base: {n(flour)} + {n(cocoa)} = {n(flour + cocoa)} g of flour and cocoa.",
            f"{n(sugar)} / {n(flour + cocoa)} x 100 = {n(answer, 1)} % of flour and cocoa.",
        ),
        {"flour_alone": alone, "divided_by_total": mass},
        {"flour and cocoa": answer, "flour": alone, "topping": mass},
        formula=formula,
    )


def _swap_numbers(dice, level):
    return {
        "flour": dice.step(300, 1000, (100, 50, 10)[level - 1]), "share": dice.step(20, 50, (10, 5, 5)[level - 1]),
        "butter": dice.step(70, 95, (5, 5, 1)[level - 1]),
    }  # fmt: skip


@kind(
    "cocoa for flour", TOPPING, "topping", "g", "Cocoa brings fat, the flour it replaces brought a little: butter "
    "gives way.",
    _swap_numbers, cautions=("raw_flour",),
)  # fmt: skip
def cocoa_swap(flour, share, butter):
    """Butter that keeps a topping's fat when cocoa replaces flour (composition: USDA SR28)."""
    plain = bun({"bread flour": 100}, topping={"plain flour": flour, "butter": flour * butter / 100})
    swapped = plain.swap("plain flour", "cocoa", share, "topping")

    def fat(formula):
        part = formula.part("topping")
        column = [holds(formula.ingredients[key]["name"], "fat") / 100 for key in part.keys]
        return flour / 100 * sum(p * f for p, f in zip(part.percentages, column, strict=True))

    weight, moved, rich = flour * butter / 100, flour * share / 100, holds("butter", "fat") / 100
    answer = weight - (fat(swapped) - fat(plain)) / rich
    more = moved * (holds("cocoa", "fat") - holds("plain flour", "fat")) / 100
    return Case(
        f"A topping takes {n(flour)} g of plain flour and butter at {n(butter)} % of that. {n(share)} % of the "
        "flour is "
        f"replaced by cocoa, weight for weight. 100 g hold fat: cocoa {n(holds('cocoa', 'fat'), 2)} g, plain flour "
        f"{n(holds('plain flour', 'fat'), 2)} g, butter {n(100 * rich, 2)} g. How many g of butter now, for the "
        "same fat?",
        answer,
        (
            f"Butter so far: {n(butter)} % of {n(flour)} g = {n(weight, 1)} g. Cocoa: {n(share)} % of {n(flour)} g = "
            f"{n(moved, 1)} g.",
            f"More fat: {n(moved, 1)} x ({n(holds('cocoa', 'fat'), 2)} - {n(holds('plain flour', 'fat'), 2)}) / 100 = "
            f"{n(more, 2)} g, which is {n(more / rich, 1)} g of butter.",
            f"{n(weight, 1)} - {n(more / rich, 1)} = {n(answer, 1)} g.",
        ),
        {"fat_of_cocoa_forgotten": weight, "took_off_the_cocoa": weight - moved},
        formula=swapped,
    )


def _portion_numbers(dice, level):
    lines = _paste(dice, level)
    return {
        "lines": lines, "count": dice.step(24, 96, (24, 12, 1)[level - 1]), "portion": dice.step(16, 30, 2),
        "loss": dice.step(2, 8, (2, 1, 0.5)[level - 1]), "ingredient": dice.choice(list(lines)),
    }  # fmt: skip


@kind(
    "topping for a batch", TOPPING, "topping", "g",
    "First all the topping, with what is lost; then from the whole to its base, then to the line.", _portion_numbers,
    cautions=("raw_flour", "dry_topping"),
)  # fmt: skip
def topping_line(lines, count, portion, loss, ingredient):
    """One line of the topping for so many portions, with the topping's own handling loss."""
    formula = bun(
        {"bread flour": 100}, topping=lines, pieces={"dough": 60, "topping": portion}, losses={"topping dividing": loss}
    )
    mixed = predict_yield(formula, pieces=count).topping_to_mix
    part = formula.part("topping")
    share = part.percentage(ingredients().find(ingredient))
    answer = mixed * share / part.mass
    needed = count * portion
    return Case(
        f"{count} buns take {n(portion)} g of topping each; {n(loss)} % of the topping mixed is lost in bowl and "
        "cutting. In % "
        f"of the topping's flour: {percents(lines)}. How many g of {ingredient} do you weigh for the topping?",
        answer,
        (
            f"On the buns: {count} x {n(portion)} = {n(needed)} g. To mix: {n(needed)} / {n(1 - loss / 100)} = "
            f"{n(mixed, 1)} g.",
            f"All parts: {adding(lines.values())} = {n(part.mass)} %.",
            f"{ingredient.capitalize()}: {n(mixed, 1)} g x {n(share)} / {n(part.mass)} = {n(answer, 1)} g.",
        ),
        {"forgot_loss": needed * share / part.mass, "percent_of_the_topping": mixed * share / 100},
        formula=formula,
    )


def _ratio_numbers(dice, level):
    return {
        "ratio": dice.step(0.25, 0.5, (0.05, 0.05, 0.01)[level - 1]), "piece": dice.step(60, 120, (5, 5, 1)[level - 1])
    }  # fmt: skip


@kind(
    "ratio or share", TOPPING, "topping", "g",
    "A ratio compares topping with dough, a share compares it with the whole piece.", _ratio_numbers,
)  # fmt: skip
def ratio_or_share(ratio, piece):
    """Topping of a raw piece from its topping-to-dough ratio."""
    dough = piece / (1 + ratio)
    formula = bun({"bread flour": 100}, topping={"sugar": 1}, pieces={"dough": dough, "topping": piece - dough})
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
        formula=formula,
    )


def _split_numbers(dice, level):
    return {
        "sugar": dice.step(12, 24, (2, 1, 1)[level - 1]), "total": dice.step(185, 215, (5, 5, 1)[level - 1]),
        "dough": dice.step(50, 80, 5), "icing": dice.step(80, 110, (10, 5, 1)[level - 1]),
        "paste": dice.step(255, 290, (5, 5, 1)[level - 1]), "topping": dice.step(16, 30, 2),
    }  # fmt: skip


@kind(
    "where the sweetness lies", TOPPING, "topping", "%",
    "Per cent on two bases cannot be compared: work out the grams in one bun.", _split_numbers, base="the bun's sugar",
)  # fmt: skip
def sweetness(sugar, total, dough, icing, paste, topping):
    """Share of a bun's sugar that lies in its topping."""
    formula = bun(
        {"bread flour": 100, "sugar": sugar, "water": total - 100 - sugar},
        topping={"plain flour": 100, "sugar": icing, "butter": paste - 100 - icing},
        pieces={"dough": dough, "topping": topping},
    )
    answer = sweetness_split(formula).topping
    crumb, crust = dough * sugar / total, topping * icing / paste
    return Case(
        f"A raw bun: {n(dough)} g of dough with sugar at {n(sugar)} % of its flour (total percentage {n(total)} "
        "%), and "
        f"{n(topping)} g of topping with sugar at {n(icing)} % of its flour (total percentage {n(paste)} %). How "
        "many per cent of the bun's sugar lie in the topping?",
        answer,
        (
            f"Crumb: {n(dough)} g x {n(sugar)} / {n(total)} = {n(crumb, 2)} g of sugar.",
            f"Topping: {n(topping)} g x {n(icing)} / {n(paste)} = {n(crust, 2)} g.",
            f"{n(crust, 2)} / {n(crumb + crust, 2)} x 100 = {n(answer, 1)} %.",
        ),
        {
            "compared_percentages": 100 * icing / (icing + sugar),
            "share_of_mass": 100 * topping / (dough + topping),
            "gave_the_crumb": 100 - answer,
        },
        formula=formula,
    )


def _dilution_numbers(dice, level):
    return {
        "lines": dice.bun(level), "butter": dice.step(8, 25, (5, 5, 1)[level - 1]), "dough": dice.step(60, 120, 10),
    }  # fmt: skip


@kind(
    "sugar in one bun", TOPPING, "topping", "g",
    "The same per cent of flour is less in a bun when the same bun holds less flour.", _dilution_numbers,
)  # fmt: skip
def sugar_in_a_piece(lines, butter, dough):
    """Sugar in a piece of the same weight after butter rises: dough x sugar % / total percentage."""
    before = bun(lines, pieces={"dough": dough})
    after = before.vary(butter=lines["butter"] + butter)
    share = lines["sugar"] / 100
    answer = scale(after, dough=dough).flour * share
    old, new = total_percentage(before), total_percentage(after)
    return Case(
        f"In % of total flour: {percents(lines)}; total percentage {n(old)} %. Butter rises by {n(butter)} points, "
        "the sugar "
        f"stays at {n(lines['sugar'])} %, and a bun still takes {n(dough)} g of dough. How many g of sugar are in "
        "one bun now?",
        answer,
        (
            f"The total percentage is now {n(old)} + {n(butter)} = {n(new)} %.",
            f"{n(dough)} g x {n(lines['sugar'])} / {n(new)} = {n(answer, 2)} g; it was "
            f"{n(dough * share * 100 / old, 2)} g.",
        ),
        {"dose_unchanged": dough * share * 100 / old, "percent_of_dough": dough * share},
        formula=after,
    )


def _loss_numbers(dice, level):
    return {"baked": dice.step(50, 120, (10, 5, 1)[level - 1]), "loss": dice.step(8, 15, (1, 1, 0.5)[level - 1])}


@kind(
    "raw from baked", TOPPING, "losses", "g", "The loss is per cent of the raw weight, so divide by what is left.",
    _loss_numbers, cautions=("oven", "core_temperature"),
)  # fmt: skip
def raw_from_baked(baked, loss):
    """Raw = baked / (1 - loss)."""
    made = predict_yield(
        bun({"bread flour": 100, "water": 60}), pieces=1, piece=100, topping=0, losses={"baking": loss}
    )
    kept = made.baked_piece / made.raw_piece
    answer = baked / kept
    return Case(
        f"A bun is to weigh {n(baked)} g baked. In oven and cooling it loses {n(loss)} % of its raw weight. How "
        "many g do you scale?",
        answer,
        (f"{n(loss)} % lost leaves {n(1 - loss / 100)}.", f"{n(baked)} g / {n(1 - loss / 100)} = {n(answer, 1)} g."),
        {"added_loss": baked * (1 + loss / 100), "forgot_loss": float(baked), "took_loss_off": baked * kept},
    )


@kind(
    "two losses in a row", TOPPING, "losses", "%", "The second loss is of what the first one left.",
    lambda d, level: {"first": d.step(2, 8, (1, 1, 0.5)[level - 1]), "second": d.step(8, 15, (1, 1, 0.5)[level - 1])},
    base="the dough mixed",
)  # fmt: skip
def two_losses(first, second):
    """All that is lost in two stages: 1 - (1 - a)(1 - b)."""
    made = predict_yield(
        bun({"bread flour": 100, "water": 60}), dough=1000, piece=10, topping=0,
        losses={"dividing": first, "baking": second},
    )  # fmt: skip
    answer = 100 * (1 - made.dough_scaled / made.dough_mixed * made.baked_piece / made.raw_piece)
    a, b = 1 - first / 100, 1 - second / 100
    return Case(
        f"{n(first)} % of the dough is lost up to the scale, then {n(second)} % of what was scaled in oven and "
        "cooling. How many per cent of the dough mixed are lost in all?",
        answer,
        (f"Left over: {n(a)} x {n(b)} = {n(a * b)}.", f"Lost: 100 - {n(100 * a * b, 2)} = {n(answer, 2)} %."),
        {"added_percents": float(first + second), "last_loss_only": float(second), "gave_what_is_left": 100 * a * b},
    )


def _batch_numbers(dice, level):
    return {
        "count": dice.step(24, 120, (12, 6, 1)[level - 1]), "baked": dice.step(50, 100, (10, 5, 1)[level - 1]),
        "first": dice.step(2, 6, (2, 1, 0.5)[level - 1]), "second": dice.step(10, 14, (2, 1, 0.5)[level - 1]),
    }  # fmt: skip


@kind(
    "dough for a baked order", TOPPING, "losses", "g", "Go back step by step: divide by what each stage leaves.",
    _batch_numbers, cautions=("oven", "core_temperature"),
)  # fmt: skip
def dough_for_order(count, baked, first, second):
    """Dough to mix = baked mass / product of (1 - loss)."""
    made = predict_yield(
        bun({"bread flour": 100, "water": 60}), pieces=count, piece=100, topping=0,
        losses={"dividing": first, "baking": second},
    )  # fmt: skip
    wanted = count * baked
    answer = wanted * made.dough_mixed / made.baked_mass
    a, b = 1 - first / 100, 1 - second / 100
    return Case(
        f"{count} buns of {n(baked)} g baked are ordered. {n(first)} % of the dough is lost up to the scale, then "
        f"{n(second)} % "
        "of what was scaled in oven and cooling. How many g of dough do you mix?",
        answer,
        (
            f"Baked: {count} x {n(baked)} = {n(wanted)} g. Scaled: {n(wanted)} / {n(b)} = {n(wanted / b, 1)} g.",
            f"Mixed: {n(wanted / b, 1)} / {n(a)} = {n(answer, 1)} g.",
        ),
        {
            "added_loss": wanted * (1 + (first + second) / 100),
            "last_loss_only": wanted / b,
            "forgot_loss": float(wanted),
        },
    )


def _count_numbers(dice, level):
    return {
        "dough": dice.step(2000, 9000, (500, 100, 10)[level - 1]), "piece": dice.step(45, 90, 5),
        "loss": dice.step(3, 10, (1, 1, 0.5)[level - 1]),
    }  # fmt: skip


@kind(
    "buns from a batch", TOPPING, "losses", "buns", "Take the loss off first, then count whole buns only.",
    _count_numbers,
)  # fmt: skip
def buns_from_dough(dough, piece, loss):
    """Whole pieces from a dough after its loss."""
    formula = bun({"bread flour": 100, "water": 60}, losses={"dividing": loss})
    made = predict_yield(formula, dough=dough, piece=piece, topping=0)
    left = dough * (1 - loss / 100)
    return Case(
        f"{n(dough)} g of dough were mixed; {n(loss)} % of it is lost up to the scale. How many whole buns of "
        f"{n(piece)} g raw "
        "dough does it make?",
        float(made.pieces),
        (
            f"On the scale: {n(dough)} x {n(1 - loss / 100)} = {n(left, 1)} g.",
            f"{n(left, 1)} / {n(piece)} = {n(left / piece, 2)}: {made.pieces} whole buns, {n(made.dough_left, 1)} "
            "g over.",
        ),
        {"forgot_loss": float(dough // piece), "rounded_up": float(made.pieces + 1)},
        formula=formula,
    )


def _limit_numbers(dice, level):
    return {
        "butter": dice.step(800, 3000, (200, 100, 50)[level - 1]),
        "in_dough": dice.step(4, 8, (1, 0.5, 0.1)[level - 1]),
        "in_topping": dice.step(4, 9, (1, 0.5, 0.1)[level - 1]),
    }  # fmt: skip


@kind(
    "what runs out first", TOPPING, "losses", "buns", "Each bun takes butter twice: in the dough and in the topping.",
    _limit_numbers,
)  # fmt: skip
def what_runs_out(butter, in_dough, in_topping):
    """Whole buns from the butter there is, when dough and topping both take of it."""
    each = in_dough + in_topping
    count = math.floor(round(butter / each, 9))
    return Case(
        f"There are {n(butter)} g of butter. Each bun takes {n(in_dough)} g of it in the dough and {n(in_topping)} "
        "g in the topping. For how many whole buns does it last?",
        float(count),
        (
            f"One bun: {n(in_dough)} + {n(in_topping)} = {n(each)} g of butter.",
            f"{n(butter)} / {n(each)} = {n(butter / each, 2)}: {count} whole buns.",
        ),
        {
            "forgot_topping": float(math.floor(round(butter / in_dough, 9))),
            "forgot_dough": float(math.floor(round(butter / in_topping, 9))),
            "rounded_up": float(count + 1),
        },
    )


def _disc_numbers(dice, level):
    return {"width": dice.step(70, 100, (5, 5, 1)[level - 1]), "height": dice.step(22, 36, (2, 1, 1)[level - 1])}


@kind(
    "the disc that reaches the sides", TOPPING, "topping", "mm",
    "The disc must have as much area as the dome, which is more than the circle beneath it.", _disc_numbers,
)  # fmt: skip
def disc_to_cover(width, height):
    """Disc as large as a dome (spherical cap): diameter = 2 sqrt((width / 2)^2 + height^2) (plane geometry)."""
    answer = 10 * float(Dome(width / 20, height / 10).whole_disc)
    return Case(
        f"A flattened bun is {n(width)} mm wide and {n(height)} mm high, a dome. A disc of topping is to cover the "
        "whole dome "
        "down to the tray. The straight line from the top to the rim is the disc's radius. How wide is the disc, "
        "in mm?",
        answer,
        (
            f"From the middle to the rim {n(width)} / 2 = {n(width / 2)} mm, up to the top {n(height)} mm.",
            f"Straight from top to rim: square root of ({n(width / 2)} x {n(width / 2)} + {n(height)} x {n(height)}) = "
            f"{n(answer / 2, 1)} mm; the disc is twice that, {n(answer, 1)} mm.",
        ),
        {"as_wide_as_the_bun": float(width), "added_the_height": float(width + height), "gave_the_radius": answer / 2},
    )


def _water(target, flour, room, rise, unit, sponge=None):
    """The kit's factor rule, in the unit of its arguments."""
    told = [f"{value} {unit}" for value in (target, flour, room, rise)]
    degrees = factor_rule(*told, preferment=None if sponge is None else f"{sponge} {unit}")
    return round(in_unit(degrees, unit, "temperature"), 9)


def _water_numbers(dice, level):
    degf = dice.random() < 0.5
    while True:
        if degf:
            numbers = {"target": dice.step(75, 80), "flour": dice.step(60, 74, 2), "room": dice.step(64, 78, 2)}
            numbers |= {"rise": dice.step(10, 28, 2)} | ({"sponge": dice.step(72, 82, 2)} if level == 3 else {})
        else:
            numbers = {"target": dice.step(24, 27), "flour": dice.step(16, 23), "room": dice.step(18, 26)}
            numbers |= {"rise": dice.step(6, 14)} | ({"sponge": dice.step(22, 28)} if level == 3 else {})
        numbers["unit"] = "degF" if degf else "degC"
        water = _water(**numbers)
        if (41 <= water <= 104) if degf else (5 <= water <= 40):  # what a tap gives and yeast stands
            return numbers


@kind(
    "how warm the water", TOPPING, "bench", "degC",
    "The wanted temperature counts once for each thing that has one; take away what you know.", _water_numbers,
    cautions=("mixer",),
)  # fmt: skip
def water_temperature(target, flour, room, rise, unit, sponge=None):
    """Water temperature by three factors, or four with a sponge."""
    others = (flour, room) if sponge is None else (flour, room, sponge)
    answer = _water(target, flour, room, rise, unit, sponge)
    times = len(others) + 1
    told = f"the flour is {n(flour)} {unit}, the room {n(room)} {unit}" + (
        "" if sponge is None else f", the sponge {n(sponge)} {unit}"
    )
    wrong = {"forgot_the_mixer": answer + rise, "water_as_warm_as_dough": float(target)}
    if sponge is not None:
        wrong["forgot_the_sponge"] = _water(target, flour, room, rise, unit)
    return Case(
        f"The dough is to come off the mixer at {n(target)} {unit}; {told}; mixing warms it by {n(rise)} {unit} as "
        "the rule "
        f"counts it. How warm must the water be, in {unit}, by the rule of {'three' if sponge is None else 'four'} "
        "factors?",
        answer,
        (
            f"{times} x {n(target)} = {n(times * target)}.",
            f"{n(times * target)} - {' - '.join(n(value) for value in (*others, rise))} = {n(answer)} {unit}.",
        ),
        wrong,
    )


def time_at(minutes, warmer, percent):
    """Return a rising time [min] at another temperature, when each degC makes yeast `percent` % faster.

    minutes [min], warmer [degC, negative for cooler], percent [% per degC]: minutes / (1 + percent / 100)^warmer.
    About 10 % per degC between 23 and 30 degC in print of the trade; a rule of thumb.

    >>> round(time_at(90, 6, 10))
    51
    """
    return minutes / (1 + percent / 100) ** warmer


@kind(
    "a warmer or cooler rise", TOPPING, "bench", "min",
    "Each degree works on the time that the degree before has left.",
    lambda d, level: {
        "minutes": d.step(60, 120, (5, 5, 1)[level - 1]), "percent": 10 if level < 3 else d.step(8, 12),
        "warmer": d.step(3, 6) if level < 2 or d.random() < 0.5 else -d.step(3, 5),
    },
)  # fmt: skip
def rise_time(minutes, warmer, percent=10):
    """Rising time when each degree makes the yeast so many per cent faster, compounding."""
    answer = time_at(minutes, warmer, percent)
    factor = 1 + percent / 100
    degrees = abs(warmer)
    sign = "/" if warmer > 0 else "x"
    return Case(
        f"A dough doubles in {n(minutes)} min. Today it is {degrees} degC {'warmer' if warmer > 0 else 'cooler'}. "
        "Take it that "
        f"each degC warmer makes the yeast work {n(percent)} % faster (a rule of thumb, from 23 to 30 degC). How "
        "many min now?",
        answer,
        (
            f"{degrees} times {n(factor)}: {n(factor)}^{degrees} = {n(factor**degrees, 3)}.",
            f"{n(minutes)} {sign} {n(factor**degrees, 3)} = {n(answer, 0)} min. Trust the dough before the clock.",
        ),
        {
            "added_percents": minutes * (1 - percent * warmer / 100),
            "turned_round": time_at(minutes, -warmer, percent),
            "time_unchanged": float(minutes),
        },
    )
