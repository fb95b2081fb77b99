"""Lesson 1: what the percentages are of, and how they carry from bowl to bowl and from batch to batch."""

from ..balance import hydration, measure
from ..formula import round_to_scale
from .kinds import Case, adding, bun, kind, listed, n


def _weights(dice):
    flour = dice.step(800, 2400, 200, 100, 20)
    lines = {name: round(value * flour / 100, 1 if value < 6 else 0) for name, value in dice.bun().items()}
    ingredient = dice.choice(["milk", "egg", "butter", "sugar"])
    if dice.level > 1 and dice.random() < 0.4:
        second = dice.choice(["light rye flour", "wholemeal flour", "plain flour"])
        share = dice.step(150, 400, 50, 50, 10)
        lines = {"bread flour": lines["bread flour"] - share, second: share, **dict(list(lines.items())[1:])}
    return {"lines": lines, "ingredient": ingredient}


@kind(_weights)
def percentage_from_weight(lines, ingredient):
    """One ingredient's weight as % of the total flour, of one flour or two (Gisslen, Professional Baking)."""
    dough = bun(lines)
    flours = [value for name, value in lines.items() if "flour" in name]
    flour, amount, mass = sum(flours), lines[ingredient], sum(lines.values())
    answer = dough.part("dough").percentage(dough.ingredients.find(ingredient))
    wrong = {"divided_by_total": 100 * amount / mass, "divided_by_the_rest": 100 * amount / (mass - amount)}
    base = f"Flour is 100 %: {n(flour)} g."
    if len(flours) > 1:
        wrong["first_flour_only"] = 100 * amount / flours[0]
        base = f"All flours together are 100 %: {adding(flours)} g."
    return Case(
        f"A dough holds {listed(lines, 'g')}. What is the {ingredient} in baker's percentage, % of total flour?",
        answer,
        (base, f"{n(amount)} g / {n(flour)} g x 100 = {n(answer, 2)} % of total flour."),
        wrong,
        {"total flour": answer, "dough": 100 * amount / mass},
    )


def _percentages(dice):
    lines = dice.bun()
    return {
        "lines": lines,
        "ingredient": dice.choice([name for name in lines if name != "bread flour"]),
        "flour": dice.step(800, 6000, 400, 100, 20),
    }


@kind(_percentages)
def weight_from_percentage(lines, ingredient, flour):
    """Weight of one ingredient for so much flour."""
    dough = bun(lines)
    batch = dough.scale(flour=flour)
    answer = batch.grams["dough", dough.ingredients.find(ingredient)]
    share = lines[ingredient]
    return Case(
        f"In baker's percentages, % of total flour: {listed(lines)}. You take {n(flour)} g of flour, which makes "
        f"{n(batch.dough, 0)} g of dough. How many g of {ingredient} go in?",
        answer,
        (f"{n(share)} % of {n(flour)} g of flour: {n(share)} / 100 x {n(flour)} = {n(answer, 1)} g.",),
        {
            "percent_of_dough": share / 100 * round(batch.dough),
            "share_of_total_percentage": share / measure(dough, "total_percentage") * flour,
        },
    )


@kind(lambda dice: {"lines": dice.bun(), "dough": dice.step(2000, 9000, 500, 100, 50)})
def flour_from_dough(lines, dough):
    """Flour = dough x 100 / total percentage (Gisslen)."""
    formula = bun(lines)
    answer, total = formula.scale(dough=dough).flour, measure(formula, "total_percentage")
    return Case(
        f"You need {n(dough)} g of dough. In % of total flour it is {listed(lines)}. How many g of flour?",
        answer,
        (
            f"Total percentage: {adding(lines.values())} %.",
            f"Flour: {n(dough)} g x 100 / {n(total, 1)} = {n(answer, 1)} g.",
        ),
        {"dough_is_flour": dough, "half_is_flour": dough / 2, "left_flour_out": dough * 100 / (total - 100)},
    )


def _pieces(dice):
    lines, count = dice.bun(), dice.step(24, 144, 12, 6, 1)
    return {"lines": lines, "count": count, "piece": dice.step(45, 90, 5), "loss": dice.step(5, 15, 5, 1, 0.5)}


@kind(_pieces)
def flour_for_pieces(lines, count, piece, loss):
    """Flour = count x piece / (1 - loss) x 100 / total percentage."""
    formula = bun(lines, makes={"piece": piece}, losses={"dividing": loss})
    answer, total = formula.scale(pieces=count).flour, measure(formula, "total_percentage")
    scaled, left = count * piece, 1 - loss / 100
    return Case(
        f"{count} buns of {n(piece)} g raw dough each; {n(loss)} % of the dough mixed is lost in bowl, rising and "
        f"dividing. In % of total flour: {listed(lines)}. How many g of flour do you weigh?",
        answer,
        (
            f"On the scale: {count} x {n(piece)} g = {n(scaled)} g.",
            f"{n(loss)} % lost leaves {n(left)} of what is mixed: {n(scaled)} / {n(left)} = {n(scaled / left, 1)} "
            "g of dough.",
            f"Total percentage {n(total, 1)} %: {n(scaled / left, 1)} g x 100 / {n(total, 1)} = {n(answer, 1)} g "
            "of flour.",
        ),
        {
            "added_loss": scaled * (1 + loss / 100) * 100 / total,
            "forgot_loss": scaled * 100 / total,
            "dough_is_flour": scaled / left,
        },
    )


@kind(lambda dice: {"lines": dice.bun(), "ingredient": dice.choice(["butter", "sugar", "egg", "milk"])})
def share_of_dough(lines, ingredient):
    """True percentage = 100 x baker's percentage / total percentage."""
    total, share = measure(bun(lines), "total_percentage"), lines[ingredient]
    answer = 100 * share / total
    return Case(
        f"In % of total flour: {listed(lines)}. How many per cent of the whole dough is {ingredient}? Name the "
        "base in your answer: ... % of ...",
        answer,
        (
            f"Total percentage: {adding(lines.values())} %.",
            f"{n(share)} / {n(total, 1)} x 100 = {n(answer, 2)} % of dough.",
        ),
        {"base_not_changed": share, "left_flour_out": 100 * share / (total - 100)},
        {"dough": answer, "total flour": float(share)},
    )


def _change(dice):
    now = dice.step(12, 30, 2, 1, 0.5)
    by = min(dice.step(5, 15, 5, 1), now // 2)
    ingredient, word = dice.choice(["butter", "sugar", "egg"]), dice.choice(["points", "per cent"])
    up = dice.level == 1 or dice.random() < 0.6
    return {"ingredient": ingredient, "now": now, "by": by, "word": word, "up": up}


@kind(_change)
def points_or_percent(ingredient, now, by, word, up=True):
    """A change in points adds to a percentage, a change in per cent multiplies it."""
    change = by if up else -by
    points, percent = now + change, now * (1 + change / 100)
    changed = bun({"bread flour": 100, ingredient: now}).vary({ingredient: points if word == "points" else percent})
    answer = changed.part("dough").percentage(changed.ingredients.find(ingredient))
    if word == "points":
        step, wrong = f"Points add: {n(now)} {'+' if up else '-'} {n(by)} = {n(answer)} %.", {"took_percent": percent}
    else:
        step = f"Per cent multiply: {n(now)} x {n(1 + change / 100)} = {n(answer)} %."
        wrong = {"took_points": points}
    return Case(
        f"{ingredient.capitalize()} is {n(now)} % of total flour. It goes {'up' if up else 'down'} by {n(by)} {word}. "
        "What is it now, % of total flour?",
        answer,
        (step,),
        wrong,
    )


def _sponge(dice):
    return {
        "flour": dice.step(800, 3000, 100, 50, 10),
        "liquid": dice.step(44, 60, 4, 2, 1),
        "share": dice.step(20, 35, 5),
        "of_sponge": dice.step(76, 100, 4, 2, 1),
    }


@kind(_sponge)
def final_dough(flour, liquid, share, of_sponge, name="milk"):
    """Liquid for the final dough = total - the preferment's (Bread Bakers Guild of America, formula layout)."""
    total = bun({"bread flour": 100, name: liquid, "fresh yeast": 4})
    formula = total.with_preferment("sponge", share, {name: of_sponge})
    answer = formula.scale(flour=flour).grams["dough", formula.ingredients.find(name)]
    whole, own = flour * liquid / 100, flour * share / 100
    in_sponge = own * of_sponge / 100
    return Case(
        f"Total flour {n(flour)} g, {name} {n(liquid)} % of total flour. {n(share)} % of the total flour goes into "
        f"a sponge, with {name} at {n(of_sponge)} % of the sponge's own flour. How many g of {name} go into the "
        "final dough?",
        answer,
        (
            f"In all: {n(liquid)} % of {n(flour)} g = {n(whole, 1)} g of {name}.",
            f"Sponge: {n(share)} % of {n(flour)} g = {n(own, 1)} g of flour, and {n(of_sponge)} % of that = "
            f"{n(in_sponge, 1)} g of {name}.",
            f"Final dough: {n(whole, 1)} - {n(in_sponge, 1)} = {n(answer, 1)} g.",
        ),
        {
            "forgot_the_sponge": whole,
            "percent_of_final_flour": (flour - own) * liquid / 100,
            "gave_the_sponge": in_sponge,
        },
    )


def _two_bowls(dice):
    sponge, flour = dice.step(200, 500, 100, 50, 10), dice.step(700, 1400, 100, 50, 10)
    of_sponge = round(sponge * dice.step(80, 110, 10) / 100)
    return {
        "final_flour": flour,
        "final_liquid": round((sponge + flour) * dice.step(48, 62) / 100 - of_sponge, -1),
        "sponge_flour": sponge,
        "sponge_liquid": of_sponge,
        "liquid": dice.choice(["milk", "water"]),
    }


@kind(_two_bowls)
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
        f"{n(final_flour)} g of flour and {n(final_liquid)} g of {liquid}. What is the hydration of the dough as a "
        "whole, % of total flour?",
        answer,
        (
            f"Flour: {adding([final_flour, sponge_flour])} g.",
            f"{liquid.capitalize()}: {adding([final_liquid, sponge_liquid])} g.",
            f"{n(poured)} / {n(flour)} x 100 = {n(answer, 1)} %. Prefermented flour: "
            f"{n(measure(formula, 'prefermented_flour'), 1)} %.",
        ),
        {"forgot_the_sponge": 100 * final_liquid / final_flour, "forgot_sponge_flour": 100 * poured / final_flour},
    )


def _small(dice):
    while True:
        percentage, flour = dice.step(0.8, 2, 0.2, 0.1), dice.step(150, 600, 50, 10)
        step = 1 if dice.level < 3 else dice.choice([0.5, 1, 2])
        if abs(percentage * flour / 100 / step % 1 - 0.5) > 0.05:  # halfway, nobody knows the nearest step
            break
    ingredient = dice.choice(["salt", "instant yeast", "ground cardamom"])
    return {"ingredient": ingredient, "percentage": percentage, "flour": flour, "step": step}


@kind(_small)
def scale_rounding(ingredient, percentage, flour, step):
    """What a small ingredient truly is once the scale has rounded it."""
    formula = bun({"bread flour": 100, ingredient: percentage})
    small = formula.ingredients[formula.ingredients.find(ingredient)]["kind"]
    row = round_to_scale(formula.scale(flour=flour), {small: step}).iloc[1]
    exact, weighed = float(row["exact, g"]), float(row["to weigh, g"])
    answer = percentage + float(row["off, points"])
    other = weighed - step if weighed > exact else weighed + step
    return Case(
        f"{ingredient.capitalize()} is {n(percentage)} % of total flour; the batch takes {n(flour)} g of flour; "
        f"the scale shows steps of {n(step)} g, and you weigh the nearest step. What is the {ingredient} then "
        "really, % of total flour?",
        answer,
        (
            f"{n(percentage)} % of {n(flour)} g = {n(exact, 2)} g; the nearest step is {n(weighed)} g.",
            f"{n(weighed)} / {n(flour)} x 100 = {n(answer, 3)} %. A finer scale, or a larger batch, comes nearer.",
        ),
        {"scale_is_exact": percentage, "rounded_the_wrong_way": 100 * other / flour},
    )
