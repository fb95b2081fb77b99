"""Lesson 1: what the percentages are of, and how they carry from bowl to bowl and from batch to batch."""

from ..balance import hydration, prefermented_flour, total_percentage
from ..formula import round_to_scale, scale
from ..units import read
from .kinds import PERCENTAGES, Case, adding, bun, grams, kind, n, percents


def _weights(dice, level):
    flour = dice.step(800, 2400, (200, 100, 20)[level - 1])
    return {name: round(value * flour / 100, 1 if value < 6 else 0) for name, value in dice.bun(level).items()}


def _one_of(dice, lines):
    return dice.choice([name for name in lines if name != "bread flour" and lines[name] > 0])


def _weight_numbers(dice, level):
    lines = _weights(dice, level)
    return {"lines": lines, "ingredient": dice.choice(["milk", "egg", "butter", "sugar"])}


@kind(
    "percentage from a weight", PERCENTAGES, "percentages", "%",
    "What is 100 here? It is the flour, whatever else is in the bowl.", _weight_numbers, base="total flour",
)  # fmt: skip
def percentage_from_weight(lines, ingredient):
    """One ingredient's weight as % of the total flour (Gisslen, Professional Baking: definition)."""
    dough = bun(lines)
    flour, amount, mass = lines["bread flour"], lines[ingredient], sum(lines.values())
    answer = dough.part("dough").percentage(dough.ingredients.find(ingredient))
    return Case(
        f"A dough holds {grams(lines)}. What is the {ingredient} in baker's percentage, % of total flour?",
        answer,
        (f"Flour is 100 %: {n(flour)} g.", f"{n(amount)} g / {n(flour)} g x 100 = {n(answer, 2)} % of total flour."),
        {"divided_by_total": 100 * amount / mass, "divided_by_the_rest": 100 * amount / (mass - amount)},
        {"total flour": answer, "dough": 100 * amount / mass},
        formula=dough,
    )


def _percent_numbers(dice, level):
    lines = dice.bun(level)
    return {
        "lines": lines,
        "ingredient": _one_of(dice, lines),
        "flour": dice.step(800, 6000, (400, 100, 20)[level - 1]),
    }


@kind(
    "weight from a percentage", PERCENTAGES, "percentages", "g",
    "Take the per cent of the flour, not of all that is in the bowl.", _percent_numbers,
)  # fmt: skip
def weight_from_percentage(lines, ingredient, flour):
    """Weight of one ingredient for so much flour."""
    dough = bun(lines)
    batch = scale(dough, flour=flour)
    answer = batch.grams["dough", dough.ingredients.find(ingredient)]
    share, total = lines[ingredient], total_percentage(dough)
    return Case(
        f"In baker's percentages, % of total flour: {percents(lines)}. You take {n(flour)} g of flour, which makes "
        f"{n(batch.dough, 0)} g of dough. How many g of {ingredient} go in?",
        answer,
        (f"{n(share)} % of {n(flour)} g of flour: {n(share)} / 100 x {n(flour)} = {n(answer, 1)} g.",),
        {
            "percent_of_dough": share / 100 * round(batch.dough),
            "share_of_total_percentage": 100 * share / total / 100 * flour,
        },
        formula=dough,
    )


@kind(
    "total percentage", PERCENTAGES, "percentages", "%",
    "Add every line, flour's 100 too. The sum lies above 100.", lambda d, level: {"lines": d.bun(level)},
    base="total flour",
)  # fmt: skip
def total_percentage_of_dough(lines):
    """Sum of all percentages (Gisslen)."""
    dough = bun(lines)
    answer = total_percentage(dough)
    return Case(
        f"In % of total flour: {percents(lines)}. What is the total percentage of this dough?",
        answer,
        (f"{adding(lines.values())} = {n(answer, 1)} %.", "Flour alone is 100, so the total is always more than 100."),
        {"must_be_100": 100.0, "left_flour_out": answer - 100},
        formula=dough,
    )


def _dough_numbers(dice, level):
    return {"lines": dice.bun(level), "dough": dice.step(2000, 9000, (500, 100, 50)[level - 1])}


@kind(
    "flour from dough", PERCENTAGES, "scaling", "g",
    "Add up the percentages first: so many parts of dough hold 100 parts of flour.", _dough_numbers,
)  # fmt: skip
def flour_from_dough(lines, dough):
    """Flour = dough x 100 / total percentage (Gisslen)."""
    formula = bun(lines)
    answer, total = scale(formula, dough=dough).flour, total_percentage(formula)
    return Case(
        f"You need {n(dough)} g of dough. In % of total flour it is {percents(lines)}. How many g of flour?",
        answer,
        (
            f"Total percentage: {adding(lines.values())} = {n(total, 1)} %.",
            f"Flour: {n(dough)} g x 100 / {n(total, 1)} = {n(answer, 1)} g.",
        ),
        {"dough_is_flour": float(dough), "half_is_flour": dough / 2, "left_flour_out": dough * 100 / (total - 100)},
        formula=formula,
    )


def _piece_numbers(dice, level):
    return {
        "lines": dice.bun(level), "count": dice.step(24, 144, (12, 6, 1)[level - 1]), "piece": dice.step(45, 90, 5),
        "loss": dice.step(5, 15, (5, 1, 0.5)[level - 1]),
    }  # fmt: skip


@kind(
    "flour for so many buns", PERCENTAGES, "scaling", "g",
    "What is left is the share that is not lost; so divide by that share. Then go from dough to flour.", _piece_numbers,
    cautions=("raw_flour",),
)  # fmt: skip
def flour_for_pieces(lines, count, piece, loss):
    """Flour = count x piece / (1 - loss) x 100 / total percentage."""
    formula = bun(lines, pieces={"dough": piece}, losses={"dividing": loss})
    answer, total = scale(formula, pieces=count).flour, total_percentage(formula)
    scaled, kept = count * piece, 1 - loss / 100
    return Case(
        f"{count} buns of {n(piece)} g raw dough each; {n(loss)} % of the dough mixed is lost in bowl, rising and "
        f"dividing. In % of total flour: {percents(lines)}. How many g of flour do you weigh?",
        answer,
        (
            f"On the scale: {count} x {n(piece)} g = {n(scaled)} g.",
            f"{n(loss)} % lost leaves {n(kept)} of what is mixed: {n(scaled)} / {n(kept)} = {n(scaled / kept, 1)} "
            "g of dough.",
            f"Total percentage {n(total, 1)} %: {n(scaled / kept, 1)} g x 100 / {n(total, 1)} = {n(answer, 1)} g "
            "of flour.",
        ),
        {
            "added_loss": scaled * (1 + loss / 100) * 100 / total,
            "forgot_loss": scaled * 100 / total,
            "dough_is_flour": scaled / kept,
        },
        formula=formula,
    )


def _two_flour_numbers(dice, level):
    first, second = dice.step(600, 1200, (100, 50, 10)[level - 1]), dice.step(150, 400, (50, 25, 10)[level - 1])
    return {
        "first": first, "second": second, "second_name": dice.choice(["light rye flour", "wholemeal flour",
        "plain flour"]),
        "milk": round((first + second) * dice.step(30, 45) / 100, -1),
        "water": 0 if level == 1 else dice.step(50, 150, 10),
    }  # fmt: skip


@kind(
    "two flours", PERCENTAGES, "bases", "%", "All flours together are 100.", _two_flour_numbers, base="total flour",
)  # fmt: skip
def two_flours(first, second, second_name, milk, water=0):
    """Hydration when the flour is two flours (Gisslen: all flours together are 100 %)."""
    lines = {"bread flour": first, second_name: second, "milk": milk} | ({"water": water} if water else {})
    formula = bun(lines)
    answer, liquid = hydration(formula), milk + water
    return Case(
        f"A dough holds {grams(lines)}. What is the hydration: the poured liquid as weighed, % of total flour?",
        answer,
        (
            f"Flour: {n(first)} + {n(second)} = {n(first + second)} g.",
            f"Liquid: {n(liquid)} g; {n(liquid)} / {n(first + second)} x 100 = {n(answer, 1)} %.",
        ),
        {"first_flour_only": 100 * liquid / first, "divided_by_total": 100 * liquid / (first + second + liquid)},
        formula=formula,
    )


@kind(
    "share of the dough", PERCENTAGES, "bases", "%",
    "Divide by the total percentage: now the whole dough is 100.",
    lambda d, level: {"lines": d.bun(level), "ingredient": d.choice(["butter", "sugar", "egg", "milk"])},
    base="dough", ask_base=True,
)  # fmt: skip
def share_of_dough(lines, ingredient):
    """True percentage = 100 x baker's percentage / total percentage."""
    formula = bun(lines)
    total, share = total_percentage(formula), lines[ingredient]
    answer = 100 * share / total
    return Case(
        f"In % of total flour: {percents(lines)}. How many per cent of the whole dough is {ingredient}? Name the "
        "base in your answer: ... % of ...",
        answer,
        (
            f"Total percentage: {adding(lines.values())} = {n(total, 1)} %.",
            f"{n(share)} / {n(total, 1)} x 100 = {n(answer, 2)} % of dough.",
        ),
        {"base_not_changed": float(share), "left_flour_out": 100 * share / (total - 100)},
        {"dough": answer, "total flour": float(share)},
        formula=formula,
    )


def _points_numbers(dice, level):
    now = dice.step(12, 30, (2, 1, 0.5)[level - 1])
    by = min(dice.step(5, 15, (5, 1, 1)[level - 1]), now // 2)
    return {
        "ingredient": dice.choice(["butter", "sugar", "egg"]), "now": now, "by": by,
        "word": dice.choice(["points", "per cent"]), "up": level == 1 or dice.random() < 0.6,
    }  # fmt: skip


@kind(
    "points or per cent", PERCENTAGES, "bases", "%",
    "Points are added; per cent of the old figure are multiplied.", _points_numbers, base="total flour",
)  # fmt: skip
def points_or_percent(ingredient, now, by, word, up=True):
    """A change in points adds to a percentage, a change in per cent multiplies it."""
    sign = 1 if up else -1
    points, percent = now + sign * by, now * (1 + sign * by / 100)
    changed = bun({"bread flour": 100, "milk": 50, ingredient: now}).vary(
        {ingredient: points if word == "points" else percent}
    )
    answer = changed.part("dough").percentage(changed.ingredients.find(ingredient))
    step = (
        f"Points add: {n(now)} {'+' if up else '-'} {n(by)} = {n(answer)} %."
        if word == "points"
        else f"Per cent multiply: {n(now)} x {n(1 + sign * by / 100)} = {n(answer)} %."
    )
    return Case(
        f"{ingredient.capitalize()} is {n(now)} % of total flour. It goes {'up' if up else 'down'} by {n(by)} {word}. "
        "What is it now, % of total flour?",
        answer,
        (step,),
        {"took_percent": percent} if word == "points" else {"took_points": points},
        formula=changed,
    )


def _share_numbers(dice, level):
    return {"flour": dice.step(1000, 4000, (100, 20, 10)[level - 1]), "share": dice.step(15, 40, (5, 5, 1)[level - 1])}


@kind(
    "the sponge's flour", PERCENTAGES, "preferments", "g",
    "The sponge's flour is taken out of the total, it does not come on top.", _share_numbers, cautions=("raw_flour",),
)  # fmt: skip
def preferment_share(flour, share):
    """Flour left for the final dough when a share of the total is fermented first."""
    formula = bun({"bread flour": 100, "milk": 50, "fresh yeast": 4}).with_preferment("sponge", share, {"milk": 80})
    answer = scale(formula, flour=flour).grams["dough", formula.ingredients.find("bread flour")]
    part = flour * share / 100
    return Case(
        f"The total formula takes {n(flour)} g of flour; {n(share)} % of the total flour goes into the sponge. How "
        "many g of flour go into the final dough?",
        answer,
        (
            f"In the sponge: {n(share)} % of {n(flour)} g = {n(part, 1)} g.",
            f"For the final dough: {n(flour)} - {n(part, 1)} = {n(answer, 1)} g.",
        ),
        {"sponge_on_top": float(flour), "gave_the_sponge": part},
        formula=formula,
    )


def _sponge_numbers(dice, level):
    return {
        "sponge": dice.step(200, 900, (50, 20, 10)[level - 1]), "hydration_of_sponge": dice.step(50, 90, 5),
        "liquid": dice.choice(["water", "milk"]),
    }  # fmt: skip


@kind(
    "what is in a sponge", PERCENTAGES, "preferments", "g",
    "100 parts of flour and so many of liquid make the sponge: divide its weight by all parts first.", _sponge_numbers,
)  # fmt: skip
def liquid_of_preferment(sponge, hydration_of_sponge, liquid):
    """Liquid in a sponge of flour and liquid, by its own hydration."""
    formula = bun({"bread flour": 100, liquid: hydration_of_sponge})
    answer = scale(formula, dough=sponge).grams["dough", formula.ingredients.find(liquid)]
    parts = 100 + hydration_of_sponge
    return Case(
        f"{n(sponge)} g of sponge, made of flour and {liquid} only, the {liquid} at {n(hydration_of_sponge)} % of the "
        f"sponge's flour. How many g of {liquid} are in it?",
        answer,
        (
            f"Parts: 100 + {n(hydration_of_sponge)} = {n(parts)}.",
            f"{n(sponge)} g / {n(parts)} x {n(hydration_of_sponge)} = {n(answer, 1)} g of {liquid}; "
            f"the flour is {n(sponge - answer, 1)} g.",
        ),
        {"percent_of_sponge": sponge * hydration_of_sponge / 100, "gave_the_flour": sponge - answer},
        formula=formula,
    )


def _final_numbers(dice, level):
    flour = dice.step(800, 3000, (100, 50, 10)[level - 1])
    return {
        "flour": flour, "liquid": dice.step(44, 60, (4, 2, 1)[level - 1]), "share": dice.step(20, 35, 5),
        "of_sponge": dice.step(76, 100, (4, 2, 1)[level - 1]),
    }  # fmt: skip


@kind(
    "total formula and final dough", PERCENTAGES, "preferments", "g",
    "Weigh the total first, then take out what already is in the sponge.", _final_numbers, cautions=("mixer",),
)  # fmt: skip
def final_dough(flour, liquid, share, of_sponge, name="milk"):
    """Liquid for the final dough = total - the preferment's (Bread Bakers Guild of America, formula layout)."""
    total = bun({"bread flour": 100, name: liquid, "fresh yeast": 4})
    formula = total.with_preferment("sponge", share, {name: of_sponge})
    answer = scale(formula, flour=flour).grams["dough", formula.ingredients.find(name)]
    whole, own = flour * liquid / 100, flour * share / 100
    return Case(
        f"Total flour {n(flour)} g, {name} {n(liquid)} % of total flour. {n(share)} % of the total flour goes into "
        "a sponge, "
        f"with {name} at {n(of_sponge)} % of the sponge's own flour. How many g of {name} go into the final dough?",
        answer,
        (
            f"In all: {n(liquid)} % of {n(flour)} g = {n(whole, 1)} g of {name}.",
            f"Sponge: {n(share)} % of {n(flour)} g = {n(own, 1)} g of flour, and {n(of_sponge)} % of that = "
            f"{n(own * of_sponge / 100, 1)} g of {name}.",
            f"Final dough: {n(whole, 1)} - {n(own * of_sponge / 100, 1)} = {n(answer, 1)} g.",
        ),
        {"forgot_the_sponge": whole, "percent_of_final_flour": (flour - own) * liquid / 100,
         "gave_the_sponge": own * of_sponge / 100},
        formula=formula,
    )  # fmt: skip


@kind(
    "on the final dough's flour", PERCENTAGES, "preferments", "%",
    "The amount stays; the flour it is measured on has become less.",
    lambda d, level: {
        "ingredient": d.choice(["sugar", "butter"]), "total": d.step(10, 24, (2, 1, 0.5)[level - 1]),
        "share": d.step(20, 40, (5, 5, 1)[level - 1]),
    },
    base="final dough's flour", ask_base=True,
)  # fmt: skip
def on_final_flour(ingredient, total, share):
    """Percentage on the final dough's own flour = percentage on total flour / share of flour left."""
    formula = bun({"bread flour": 100, "milk": 50, ingredient: total}).with_preferment("sponge", share, {"milk": 80})
    name = formula.ingredients[formula.ingredients.find(ingredient)]["name"]
    answer = float(formula.final_dough().iloc[:, 0][name])
    left = 1 - share / 100
    return Case(
        f"{ingredient.capitalize()} is {n(total)} % of total flour, all of it in the final dough; {n(share)} % of "
        "the total "
        "flour is in the sponge. What does the card of the final dough show, on the flour that goes in there? "
        "Name the base in your answer: ... % of ...",
        answer,
        (
            f"Of 100 g total flour {n(100 * left)} g are left for the final dough; the {ingredient} is {n(total)} g.",
            f"{n(total)} / {n(100 * left)} x 100 = {n(answer, 2)} % of the final dough's flour. It still is "
            f"{n(total)} % of "
            "total flour: nothing got sweeter or richer.",
        ),
        {"base_not_changed": float(total), "cut_it": total * left},
        {"final dough's flour": answer, "total flour": float(total)},
        formula=formula,
    )


def _folded_numbers(dice, level):
    sponge = dice.step(200, 500, (100, 50, 10)[level - 1])
    flour = dice.step(700, 1400, (100, 50, 10)[level - 1])
    of_sponge = round(sponge * dice.step(80, 110, 10) / 100)
    return {
        "final_flour": flour, "final_liquid": round((sponge + flour) * dice.step(48, 62) / 100 - of_sponge, -1),
        "sponge_flour": sponge, "sponge_liquid": of_sponge, "liquid": dice.choice(["milk", "water"]),
    }  # fmt: skip


@kind(
    "hydration with the sponge folded in", PERCENTAGES, "preferments", "%",
    "Add up both bowls, flour and liquid each, then divide.", _folded_numbers, base="total flour",
)  # fmt: skip
def folded_in(final_flour, final_liquid, sponge_flour, sponge_liquid, liquid):
    """Hydration of the total formula from two bowls."""
    formula = bun(
        {"bread flour": final_flour, liquid: final_liquid},
        {"sponge": {"bread flour": sponge_flour, liquid: sponge_liquid}},
    )
    answer = hydration(formula)
    flour, poured = final_flour + sponge_flour, final_liquid + sponge_liquid
    return Case(
        f"The sponge holds {n(sponge_flour)} g of flour and {n(sponge_liquid)} g of {liquid}. To it go "
        f"{n(final_flour)} g of "
        f"flour and {n(final_liquid)} g of {liquid}. What is the hydration of the dough as a whole, % of total flour?",
        answer,
        (
            f"Flour: {n(final_flour)} + {n(sponge_flour)} = {n(flour)} g.",
            f"{liquid.capitalize()}: {n(final_liquid)} + {n(sponge_liquid)} = {n(poured)} g.",
            f"{n(poured)} / {n(flour)} x 100 = {n(answer, 1)} %. Prefermented flour: "
            f"{n(prefermented_flour(formula), 1)} %.",
        ),
        {"forgot_the_sponge": 100 * final_liquid / final_flour, "forgot_sponge_flour": 100 * poured / final_flour},
        formula=formula,
    )


def _inside_numbers(dice, level):
    flour, sponge = dice.step(800, 1600, (100, 50, 10)[level - 1]), dice.step(300, 800, (100, 20, 10)[level - 1])
    of_sponge = 100 if level == 1 else dice.step(60, 100, 5)
    salt = round((flour + sponge / (1 + of_sponge / 100)) * dice.step(1.3, 2, 0.1) / 100, (0, 0, 1)[level - 1])
    return {"flour": flour, "sponge": sponge, "of_sponge": of_sponge, "salt": salt}


@kind(
    "flour inside a sponge", PERCENTAGES, "preferments", "%",
    "A sponge holds flour: count that flour too before you divide.", _inside_numbers, base="total flour",
)  # fmt: skip
def flour_inside(flour, sponge, of_sponge, salt):
    """Salt on the total flour when a ready sponge goes in by weight."""
    inside = sponge / (1 + of_sponge / 100)
    formula = bun({"bread flour": flour, "salt": salt}, {"sponge": {"bread flour": inside, "water": sponge - inside}})
    answer = formula.of_kind("salt")
    return Case(
        f"{n(flour)} g of flour, {n(salt)} g of salt and {n(sponge)} g of a ready sponge, which is flour and water "
        f"with the water at {n(of_sponge)} % of the sponge's flour. What is the salt, % of total flour?",
        answer,
        (
            f"Flour in the sponge: {n(sponge)} / {n(1 + of_sponge / 100)} = {n(inside, 1)} g.",
            f"Total flour: {n(flour)} + {n(inside, 1)} = {n(flour + inside, 1)} g.",
            f"{n(salt)} / {n(flour + inside, 1)} x 100 = {n(answer, 3)} %.",
        ),
        {"sponge_is_one_thing": 100 * salt / flour, "sponge_is_all_flour": 100 * salt / (flour + sponge)},
        formula=formula,
    )


def _two_dough_numbers(dice, level):
    first, second = dice.bun(level), dice.bun(level)
    second["butter"] = first["butter"] + dice.step(20, 45, 5)
    second["egg"] = dice.step(30, 50, 5)
    return {
        "first": first, "second": second, "first_dough": dice.step(1000, 4000, (1000, 500, 100)[level - 1]),
        "second_dough": dice.step(1000, 4000, (1000, 500, 100)[level - 1]),
    }  # fmt: skip


@kind(
    "two doughs into one", PERCENTAGES, "bases", "%",
    "Percentages are of flour: find each dough's flour first.", _two_dough_numbers, base="total flour",
)  # fmt: skip
def mixing_doughs(first, second, first_dough, second_dough):
    """Butter of two doughs mixed, on the flour of both."""
    flours = [scale(bun(lines), dough=mass).flour for lines, mass in ((first, first_dough), (second, second_dough))]
    fats = [lines["butter"] * flour / 100 for lines, flour in zip((first, second), flours, strict=True)]
    formula = bun({"bread flour": sum(flours), "butter": sum(fats)})
    answer = formula.of_kind("butter")
    masses, shares = (first_dough, second_dough), (first["butter"], second["butter"])
    by_dough = sum(m * s for m, s in zip(masses, shares, strict=True)) / sum(masses)
    totals = [sum(lines.values()) for lines in (first, second)]
    return Case(
        f"{n(first_dough)} g of a dough with {n(shares[0])} % butter (total percentage {n(totals[0])} %) go into one "
        f"bowl with {n(second_dough)} g of a dough with {n(shares[1])} % butter (total percentage {n(totals[1])} %). "
        "What is the butter now, % of total flour?",
        answer,
        (
            f"Flour: {n(first_dough)} x 100 / {n(totals[0])} = {n(flours[0], 1)} g and "
            f"{n(second_dough)} x 100 / {n(totals[1])} = {n(flours[1], 1)} g.",
            f"Butter: {n(shares[0])} % of {n(flours[0], 1)} + {n(shares[1])} % of {n(flours[1], 1)} = "
            f"{n(sum(fats), 1)} g.",
            f"{n(sum(fats), 1)} / {n(sum(flours), 1)} x 100 = {n(answer, 2)} %.",
        ),
        {"plain_mean": sum(shares) / 2, "mean_by_dough": by_dough},
        formula=formula,
    )


def _misprint_numbers(dice, level):
    lines = dice.bun(level)
    flour = dice.step(1000, 5000, (500, 200, 100)[level - 1])
    name = dice.choice(["milk", "egg", "butter", "sugar"])
    right = lines[name] * flour / 100
    printed = {k: round(v * flour / 100, 1) for k, v in lines.items()}
    printed[name] = round(right * dice.choice([10, 0.5, 0.8, 1.2, 1.5]))
    return {"lines": lines, "printed": printed}


@kind(
    "spot the misprint", PERCENTAGES, "percentages", "g",
    "Take each per cent of the flour and hold it against the weight beside it: one does not fit.", _misprint_numbers,
)  # fmt: skip
def misprint(lines, printed):
    """Which weight on a card does not follow from its percentage, and what it should be."""
    flour = next(grams for name, grams in printed.items() if "flour" in name)
    formula = bun(lines)
    batch = scale(formula, flour=flour).grams
    due = {name: batch["dough", formula.ingredients.find(name)] for name in lines}
    wrong = max(lines, key=lambda name: abs(due[name] - printed[name]) / due[name])
    total = sum(lines.values())
    answer = due[wrong]
    card = "; ".join(f"{name} {n(lines[name])} %, {n(printed[name])} g" for name in lines)
    return Case(
        f"A card, in % of total flour and g: {card}. One of the weights is misprinted; flour and per cent are right. "
        "What should that weight be, in g?",
        answer,
        (
            f"{wrong.capitalize()}: {n(lines[wrong])} % of {n(flour)} g = {n(answer, 1)} g, but the card prints "
            f"{n(printed[wrong])} g.",
        ),
        {"kept_the_misprint": float(printed[wrong]),
         "percent_of_dough": lines[wrong] / 100 * sum(printed.values()),
         "share_of_total_percentage": lines[wrong] / total * flour},
        formula=formula,
    )  # fmt: skip


@kind(
    "pounds and ounces", PERCENTAGES, "at the scale", "lb and oz",
    "Sixteen ounces make a pound; one ounce is 28.35 g.",
    lambda d, level: {"mass": d.step(470, (900, 1800, 4000)[level - 1], (10, 5, 1)[level - 1])},
)  # fmt: skip
def pounds_and_ounces(mass):
    """Grams in pounds and ounces; what the wrong readings weigh is told in g."""
    pound, ounce = read("1 lb", "mass"), read("1 oz", "mass")
    pounds = int(mass // pound)
    ounces = (mass - pounds * pound) / ounce
    tenths = (mass / pound - pounds) * 10  # the decimals of the pound, read as ounces
    by_ten = int(mass / ounce // 10), mass / ounce % 10
    return Case(
        f"The card says {n(mass)} g; the scale shows pounds and ounces. What do you weigh, in lb and oz, to the "
        "nearest quarter ounce?",
        float(mass),
        (
            f"{n(mass)} g / {n(ounce, 2)} g = {n(mass / ounce, 2)} oz.",
            f"{pounds} lb is {16 * pounds} oz, which leaves {n(ounces, 2)} oz: {pounds} lb "
            f"{n(round(ounces * 4) / 4)} oz.",
        ),
        {
            "decimals_as_ounces": pounds * pound + tenths * ounce,
            "ten_to_the_pound": by_ten[0] * pound + by_ten[1] * ounce,
        },
    )


def _rounding_numbers(dice, level):
    while True:
        percentage, flour = dice.step(0.8, 2, (0.2, 0.1, 0.1)[level - 1]), dice.step(150, 600, (50, 10, 10)[level - 1])
        step = 1 if level < 3 else dice.choice([0.5, 1, 2])
        if abs(percentage * flour / 100 / step % 1 - 0.5) > 0.05:  # halfway, nobody knows the nearest step
            break
    ingredient = dice.choice(["salt", "instant yeast", "ground cardamom"])
    return {"ingredient": ingredient, "percentage": percentage, "flour": flour, "step": step}


@kind(
    "rounding at the scale", PERCENTAGES, "at the scale", "%",
    "Find what the scale lets you weigh, then go back to per cent of flour.", _rounding_numbers, base="total flour",
)  # fmt: skip
def scale_rounding(ingredient, percentage, flour, step):
    """What a small ingredient truly is once the scale has rounded it."""
    formula = bun({"bread flour": 100, ingredient: percentage})
    small = formula.ingredients[formula.ingredients.find(ingredient)]["kind"]
    row = round_to_scale(scale(formula, flour=flour), {small: step}).iloc[1]
    exact, weighed = float(row["exact, g"]), float(row["to weigh, g"])
    answer = percentage + float(row["off, points"])
    other = weighed - step if weighed > exact else weighed + step
    return Case(
        f"{ingredient.capitalize()} is {n(percentage)} % of total flour; the batch takes {n(flour)} g of flour; "
        "the scale "
        f"shows steps of {n(step)} g, and you weigh the nearest step. What is the {ingredient} then really, % of "
        "total flour?",
        answer,
        (
            f"{n(percentage)} % of {n(flour)} g = {n(exact, 2)} g; the nearest step is {n(weighed)} g.",
            f"{n(weighed)} / {n(flour)} x 100 = {n(answer, 3)} %. A finer scale, or a larger batch, comes nearer.",
        ),
        {"scale_is_exact": float(percentage), "rounded_the_wrong_way": 100 * other / flour},
        formula=formula,
    )
