"""Lesson 2: the water, fat and salt that come in under another name, and what to change when one is exchanged."""

from ..balance import dough_class, hydration, measure, total_hydration
from ..balance.classes import schemes
from ..tables import table
from ..units import number
from ..words import listing
from .kinds import HIDDEN, Case, bun, holds, kind, n, percents

FAT = "fat"
WET = ("milk", "water", "egg", "butter", "fresh yeast", "egg yolk", "heavy cream", "honey")


def _wet_lines(dice, level):
    lines = {"bread flour": 100, "milk": dice.step(30, 40, (5, 2, 1)[level - 1]), "egg": dice.step(12, 24, 2)}
    lines["water"] = dice.step(6, 12, (2, 1, 1)[level - 1])
    if level > 1:
        lines["butter"] = dice.step(10, 30, (5, 5, 1)[level - 1])
    if level > 2:
        lines["fresh yeast"] = dice.step(3, 5, 0.5)
    return lines


def _told(names):
    return "100 g hold water: " + listing(f"{name} {n(holds(name, 'water'), 2)} g" for name in names if name != "water")


@kind(
    "hydration as the bench says it", HIDDEN, "hydration", "%",
    "Count what is poured: water and milk. Egg is not in it.", lambda d, level: {"lines": _wet_lines(d, level)},
    base="total flour",
)  # fmt: skip
def hydration_as_weighed(lines):
    """Water and poured liquids as weighed on flour, never egg."""
    formula = bun(lines)
    answer = hydration(formula)
    poured = [name for name in ("milk", "water") if lines.get(name)]
    eggs = sum(v for name, v in lines.items() if name.startswith("egg"))
    return Case(
        f"In % of total flour: {percents(lines)}. What is the hydration as weighed, % of total flour?",
        answer,
        (
            f"Poured: {' + '.join(f'{name} {n(lines[name])}' for name in poured)} = {n(answer)} %. Egg is not "
            "counted here.",
        ),
        {"counted_egg": answer + eggs, "divided_by_total": 100 * answer / sum(lines.values())},
        formula=formula,
    )


@kind(
    "all the water", HIDDEN, "hydration", "%",
    "Take from each ingredient only the water in it, egg, butter and yeast too; flour's own is not counted.",
    lambda d, level: {"lines": _wet_lines(d, level)}, base="total flour", cautions=("raw_egg",),
)  # fmt: skip
def all_water(lines):
    """Total hydration: all water that ingredients other than flour bring (composition: USDA SR28)."""
    formula = bun(lines)
    answer = total_hydration(formula)
    names = [name for name in lines if name in WET]
    liquid = sum(lines[name] for name in names if name in ("milk", "water"))
    eggs = sum(lines[name] for name in names if name.startswith("egg"))
    each = [lines[name] * holds(name, "water") / 100 for name in names]
    return Case(
        f"In % of total flour: {percents(lines)}. {_told(names)}. What is the total hydration: all water that is "
        "not the flour's own, % of total flour?",
        answer,
        tuple(
            f"{name.capitalize()}: {n(lines[name])} x {n(holds(name, 'water'), 2)} / 100 = {n(value, 2)} %."
            for name, value in zip(names, each, strict=True)
        )
        + (f"In all {' + '.join(n(value, 2) for value in each)} = {n(answer, 1)} %.",),
        {"only_what_is_poured": liquid, "liquids_are_water": liquid + eggs},
        formula=formula,
    )


def _hidden_numbers(dice, level):
    name = dice.choice((("egg", "milk", "butter"), ("egg", "milk", "butter", "egg yolk"), WET[2:])[level - 1])
    amount = dice.step(4, 8, 1) * 10 if name == "fresh yeast" else dice.step(150, 700, (20, 10, 5)[level - 1])
    return {"ingredient": name, "amount": amount}


@kind(
    "water that hides", HIDDEN, "hydration", "g",
    "So many of every 100 g are water: take that share of the weight.", _hidden_numbers, cautions=("raw_egg",),
)  # fmt: skip
def hidden_water(ingredient, amount):
    """Water in so much egg, milk, butter ... (composition: USDA SR28)."""
    formula = bun({"bread flour": 1000, ingredient: amount})
    answer = 10 * measure(formula, ["total_hydration"])["total_hydration"]
    wet = holds(ingredient, "water")
    return Case(
        f"{n(amount)} g of {ingredient} go into a dough; 100 g of {ingredient} hold {n(wet, 2)} g of water. How "
        "many g of water does it bring?",
        answer,
        (f"{n(amount)} g x {n(wet, 2)} / 100 = {n(answer, 1)} g of water.",),
        {"all_of_it_is_water": float(amount), "none_of_it_is_water": 0.0, "took_the_rest": amount - answer},
        formula=formula,
    )


def _hold_case(ingredient, now, by, water, milk=30):
    """The case of a richer dough whose total hydration must stay."""
    before = bun({"bread flour": 100, "milk": milk, "water": water, ingredient: now})
    after = before.vary({ingredient: now + by})
    answer = total_hydration(after) - total_hydration(before)
    wet = holds(ingredient, "water")
    return Case(
        f"{ingredient.capitalize()} goes from {n(now)} to {n(now + by)} % of total flour. 100 g of {ingredient} hold "
        f"{n(wet, 2)} g of water. The dough has {n(water)} % water besides. By how many points of flour must that "
        "water fall so that all water in the dough stays as it is?",
        answer,
        (
            f"{ingredient.capitalize()} + {n(by)} points.",
            f"{n(by)} x {n(wet, 2)} / 100 = {n(answer, 2)} points of water come with it, so take out {n(answer, 2)}: "
            f"water {n(water)} - {n(answer, 2)} = {n(water - answer, 2)} %.",
        ),
        {"all_of_it_is_water": float(by), "none_of_it_is_water": 0.0},
        formula=after,
    )


@kind(
    "more egg, same water", HIDDEN, "holding the water", "points", "Only the water in the egg has to come out.",
    lambda d, level: {"now": d.step(8, 16, 2), "by": d.step(4, 12, (2, 1, 1)[level - 1]), "water": d.step(12, 20, 1)},
    base="total flour", cautions=("raw_egg",),
)  # fmt: skip
def more_egg(now, by, water):
    """Points of water to take out when egg rises and total hydration holds."""
    return _hold_case("egg", now, by, water)


@kind(
    "more butter, same water", HIDDEN, "holding the water", "points",
    "Butter is mostly fat, but not all fat: look at its water.",
    lambda d, level: {"now": d.step(10, 18, 1), "by": d.step(5, 20, (5, 1, 1)[level - 1]), "water": d.step(6, 16, 1)},
    base="total flour",
)  # fmt: skip
def more_butter(now, by, water):
    """Points of water to take out when butter rises and total hydration holds."""
    return _hold_case("butter", now, by, water)


@kind(
    "milk for egg", HIDDEN, "holding the water", "points",
    "Both hold water, one more than the other: work out both and compare.",
    lambda d, level: {
        "egg": d.step(16, 24, 2),
        "moved": d.step(6, 16, (2, 1, 1)[level - 1]),
        "milk": d.step(20, 36, 2),
    },
    base="total flour", cautions=("raw_egg",),
)  # fmt: skip
def milk_for_egg(egg, moved, milk):
    """Rise of total hydration when egg is replaced by milk, weight for weight."""
    before = bun({"bread flour": 100, "milk": milk, "egg": egg})
    after = before.vary(egg=egg - moved, milk=milk + moved)
    answer = total_hydration(after) - total_hydration(before)
    wet, dry = holds("milk", "water"), holds("egg", "water")
    return Case(
        f"A dough has {n(egg)} % egg and {n(milk)} % milk, of total flour. {n(moved)} points of egg are replaced "
        f"by {n(moved)} points of milk, all on total flour. "
        f"{_told(('milk', 'egg'))}. "
        "By how many points of flour does the water in the dough rise?",
        answer,
        (
            f"Milk brings {n(moved)} x {n(wet, 2)} / 100 = {n(moved * wet / 100, 2)} points of water.",
            f"Egg took away {n(moved)} x {n(dry, 2)} / 100 = {n(moved * dry / 100, 2)} points.",
            f"The difference is {n(answer, 2)} points more.",
        ),
        {"same_weight_same_water": 0.0, "milk_is_water": moved * (1 - dry / 100), "egg_brings_none": moved * wet / 100},
        formula=after,
    )


def _fat_lines(dice, level):
    lines = {"bread flour": 100, "milk": dice.step(20, 50, (10, 5, 1)[level - 1])}
    lines["egg"] = dice.step(10, 30, (5, 2, 1)[level - 1])
    lines["butter"] = dice.step(10, 40, (5, 5, 1)[level - 1])
    if level > 2:
        lines["egg yolk"] = dice.step(4, 12, 1)
    return lines


@kind(
    "the fat of a dough", HIDDEN, "fat and salt", "%", "Butter is not all fat, and egg and milk bring fat too.",
    lambda d, level: {"lines": _fat_lines(d, level)}, base="total flour",
)  # fmt: skip
def fat_of_dough(lines):
    """Pure fat that is not the flour's (composition: USDA SR28)."""
    formula = bun(lines)
    answer = measure(formula, ["fat"])["fat"]
    names = [name for name in lines if "flour" not in name and holds(name, "fat") > 0]
    each = [lines[name] * holds(name, "fat") / 100 for name in names]
    others = sum(value for name, value in zip(names, each, strict=True) if name != "butter")
    return Case(
        f"In % of total flour: {percents(lines)}. 100 g hold fat: "
        f"{listing(f'{name} {n(holds(name, FAT), 2)} g' for name in names)}. What is all the fat of "
        "the dough, without the flour's own, % of total flour?",
        answer,
        tuple(
            f"{name.capitalize()}: {n(lines[name])} x {n(holds(name, 'fat'), 2)} / 100 = {n(value, 2)} %."
            for name, value in zip(names, each, strict=True)
        )
        + (f"In all {n(answer, 2)} %.",),
        {"butter_is_all_fat": lines["butter"] + others, "only_butter_counts": answer - others,
         "butter_as_weighed": float(lines["butter"])},
        formula=formula,
    )  # fmt: skip


@kind(
    "oil or lard for butter", HIDDEN, "exchanges", "g", "Match the fat, not the weight.",
    lambda d, level: {"butter": d.step(100, 700, (25, 20, 5)[level - 1]), "into": d.choice(["oil", "lard"])},
)  # fmt: skip
def fat_for_butter(butter, into):
    """Oil or lard that brings the fat of so much butter (composition: USDA SR28)."""
    formula = bun({"bread flour": 1000, "butter": butter})
    fat = 10 * measure(formula, ["fat"])["fat"]
    answer = fat / (holds(into, "fat") / 100)
    rich = holds("butter", "fat")
    return Case(
        f"A dough takes {n(butter)} g of butter. 100 g of butter hold {n(rich, 2)} g of fat; {into} is all fat. "
        f"How many g of {into} bring the same fat?",
        answer,
        (
            f"{n(butter)} g x {n(rich, 2)} / 100 = {n(answer, 1)} g.",
            f"The butter's water, {n(butter * holds('butter', 'water') / 100, 1)} g, is missing now: add it as water.",
        ),
        {"weight_for_weight": float(butter), "divided_by_the_share": butter / (rich / 100)},
        formula=formula,
    )


@kind(
    "salted butter", HIDDEN, "fat and salt", "%", "The butter's salt comes off the salt you weigh.",
    lambda d, level: {
        "salt": d.step(1.4, 2, (0.2, 0.1, 0.1)[level - 1]),
        "butter": d.step(10, 40, (2, 2, 1)[level - 1]),
    },
    base="total flour",
)  # fmt: skip
def salted_butter(salt, butter):
    """Salt to weigh so that salted butter leaves the salt as it was (USDA SR28, added salt by sodium)."""
    formula = bun({"bread flour": 100, "milk": 50, "salted butter": butter})
    brings = measure(formula, ["salt"])["salt"]
    answer = salt - brings
    salty = holds("salted butter", "added_salt")
    return Case(
        f"Salt is {n(salt)} % and unsalted butter {n(butter)} % of total flour. Today only salted butter is there; "
        "100 g of "
        f"it hold {n(salty, 2)} g of salt. How much salt do you weigh, % of total flour, for the same saltiness?",
        answer,
        (
            f"The butter brings {n(butter)} x {n(salty, 2)} / 100 = {n(brings, 3)} %.",
            f"{n(salt)} - {n(brings, 3)} = {n(answer, 3)} %.",
        ),
        {"forgot_hidden_salt": float(salt), "added_hidden_salt": salt + brings},
        formula=formula,
    )


def yeast_factor(into):
    """Return grams of a dry yeast for 1 g of fresh yeast, as used (yeast_forms.csv)."""
    return next(number(row["factor"]) for row in table("yeast_forms").rows if row["to_form"] == into)


@kind(
    "one yeast for another", HIDDEN, "exchanges", "g", "Dry yeast is stronger: less of it, or more of the fresh.",
    lambda d, level: {
        "amount": d.step(20, 80, (2, 2, 1)[level - 1]), "dry": d.choice(["instant yeast", "active dry yeast"]),
        "to_dry": level == 1 or d.random() < 0.6,
    },
)  # fmt: skip
def yeast_form(amount, dry, to_dry=True):
    """Fresh yeast for dry and back (Hamelman 2004: active dry 0.40, instant 0.33)."""
    factor = yeast_factor(dry)
    have, want = ("fresh yeast", dry) if to_dry else (dry, "fresh yeast")
    answer = amount * factor if to_dry else amount / factor
    other = amount / factor if to_dry else amount * factor
    return Case(
        f"A formula takes {n(amount)} g of {have}; you have {want}. 1 g of fresh yeast is worth {n(factor)} g of "
        f"{dry}. How "
        f"many g of {want}?",
        answer,
        (f"{n(amount)} g {'x' if to_dry else '/'} {n(factor)} = {n(answer, 1)} g of {want}.",)
        + ((f"The fresh yeast's water goes with it: add about {n(amount - answer, 0)} g of water.",) if to_dry else ()),
        {"turned_the_factor_round": other, "weight_for_weight": float(amount)},
    )


@kind(
    "milk powder for milk", HIDDEN, "exchanges", "g", "The powder stands for the milk's dry part without fat, no more.",
    lambda d, level: {"milk": d.step(300, 1500, (25, 20, 10)[level - 1])},
)  # fmt: skip
def milk_powder(milk):
    """Skimmed milk powder with the solids-not-fat of so much whole milk (composition: USDA SR28)."""
    wanted = 10 * measure(bun({"bread flour": 1000, "milk": milk}), ["milk_solids_not_fat"])["milk_solids_not_fat"]
    per_gram = measure(bun({"bread flour": 100, "milk powder": 1}), ["milk_solids_not_fat"])["milk_solids_not_fat"]
    answer = wanted / per_gram
    fat, water = (milk * holds("milk", column) / 100 for column in ("fat", "water"))
    return Case(
        f"{n(milk)} g of whole milk are to be made up from skimmed milk powder, water and butter. 100 g of milk hold "
        f"{n(100 * wanted / milk, 2)} g of solids-not-fat and {n(holds('milk', 'fat'), 2)} g of fat; 100 g of the "
        f"powder hold {n(100 * per_gram, 2)} g of solids-not-fat. How many g of powder?",
        answer,
        (
            f"Solids-not-fat: {n(milk)} g x {n(100 * wanted / milk, 2)} / 100 = {n(wanted, 1)} g.",
            f"{n(wanted, 1)} g / {n(per_gram, 4)} = {n(answer, 1)} g of powder; the rest is water ({n(water, 0)} g "
            f"in the milk) and butterfat ({n(fat, 1)} g).",
        ),
        {"weight_for_weight": float(milk), "counted_the_fat": (wanted + fat) / per_gram, "gave_the_water": water},
    )


@kind(
    "honey for sugar", HIDDEN, "exchanges", "g", "Part of honey is water: more of it is needed than of sugar.",
    lambda d, level: {"sugar": d.step(100, 500, (10, 5, 1)[level - 1])},
)  # fmt: skip
def honey_for_sugar(sugar):
    """Honey with the dry substance of so much sugar (composition: USDA SR28)."""
    solids = 1 - holds("honey", "water") / 100
    answer = sugar / solids
    return Case(
        f"{n(sugar)} g of sugar are replaced by honey, for the same dry substance. 100 g of honey hold "
        f"{n(holds('honey', 'water'), 2)} g of water; sugar is dry. How many g of honey?",
        answer,
        (
            f"Of 1 g of honey {n(solids, 3)} g are dry.",
            f"{n(sugar)} / {n(solids, 3)} = {n(answer, 1)} g of honey; take {n(answer - sugar, 1)} g of water out.",
        ),
        {"weight_for_weight": float(sugar), "added_the_water": sugar * (2 - solids), "multiplied": sugar * solids},
    )


def _egg_numbers(dice, level):
    flour = dice.step(1000, 5000, (500, 100, 20)[level - 1])
    large = next(number(row["edible_g"]) for row in table("egg_classes").rows if row["class"] == "large")
    count = round(flour * dice.step(12, 30) / 100 / large)
    return {"count": count, "have": dice.choice(["small", "medium", "extra large"]), "flour": flour}


@kind(
    "eggs are not all one size", HIDDEN, "at the scale", "%",
    "Count tells nothing until you know what one weighs without its shell.", _egg_numbers, base="total flour",
    cautions=("raw_egg",),
)  # fmt: skip
def egg_size(count, have, flour):
    """Egg on flour by count and class (US classes, AMS 56; edible part SR28)."""
    rows = {row["class"]: row for row in table("egg_classes").rows if row["region"] == "US"}
    edible, shell = (number(rows[have][column]) for column in ("edible_g", "mean_shell_g"))
    large = number(rows["large"]["edible_g"])
    formula = bun({"bread flour": flour, "egg": f"{count} {have} eggs"})
    answer = formula.of_kind("egg")
    return Case(
        f"The card says {count} large eggs on {n(flour)} g of flour; {have} ones came and you crack {count}. "
        "Without shell a "
        f"large egg is {n(large)} g and {'an' if have[0] in 'aeiou' else 'a'} {have} one {n(edible)} g (with shell "
        f"{n(shell, 1)} g). What is the egg then, % of total flour?",
        answer,
        (
            f"{count} x {n(edible)} g = {n(count * edible)} g of egg.",
            f"{n(count * edible)} / {n(flour)} x 100 = {n(answer, 2)} %, not {n(100 * count * large / flour, 2)} "
            "%: weigh egg.",
        ),
        {"count_is_mass": 100 * count * large / flour, "weighed_the_shell": 100 * count * round(shell, 1) / flour},
        formula=formula,
    )


_SCHEMES = ("reinhart_2001", "german_code", "house_steps")


def _class_numbers(dice, level):
    if level == 1:
        lines = {
            "bread flour": 100,
            "milk": dice.step(40, 55, 5),
            "butter": dice.choice([dice.step(10, 18), dice.step(22, 38)]),
        }
        lines |= {"sugar": dice.step(10, 20, 2)}
    elif level == 2:
        lines = {"bread flour": 100, "milk": dice.step(50, 60, 2), "butter": dice.step(3, 11, 1)}
        lines |= {"sugar": dice.step(3, 11, 1)}
    else:
        lines = {"bread flour": 100, "milk": dice.step(30, 50, 1), "egg": dice.step(0, 10, 1)}
        lines |= {"butter": dice.step(20, 24, 0.5), "sugar": dice.step(6, 18, 1)}
    return {"lines": {k: v for k, v in lines.items() if v}, "scheme": _SCHEMES[level - 1]}


@kind(
    "class of a dough", HIDDEN, "fat and salt", "", "See first what the line is on: which fat, and per cent of what.",
    _class_numbers,
)  # fmt: skip
def class_of_dough(lines, scheme):
    """Class by the figures of one scheme of dough_classes.csv."""
    rows = schemes()[scheme]
    title, choices = rows[0]["scheme_title"], tuple(row["class"] for row in rows)
    formula = bun(lines)

    def called(formula):
        return choices.index(next(word for named, word, *_ in dough_class(formula).schemes if named == title))

    answer = called(formula)
    total = sum(lines.values())
    fat, sugar = lines["butter"], lines["sugar"]
    of_dough = {k: v * 100 / total for k, v in lines.items() if k != "bread flour"}
    shrunk = called(bun({"bread flour": 100} | of_dough))
    if scheme == "german_code":
        line = rows[1]["fat_sugar_sum_min"]
        rule = f"fat and sugar as weighed, together over {n(line)} % of flour, make fine bakery ware of bread"
        wrong = {"looked_at_one_alone": max(fat, sugar) > line, "counted_the_milk": fat + sugar + lines["milk"] > line}
        steps = (f"{n(fat)} + {n(sugar)} = {n(fat + sugar)} % of flour against the line at {n(line)} %.",)
    elif scheme == "reinhart_2001":
        line = rows[2]["fat_min"]
        rule = f"enriched with fat under {n(line)} % of flour as weighed, rich from {n(line)} %"
        wrong = {
            "divided_by_total": shrunk,
            "counted_sugar_as_fat": called(bun({"bread flour": 100, "butter": fat + sugar})),
        }
        steps = (f"{n(fat)} % fat as weighed, of flour, against the line at {n(line)} %.",)
    else:
        pure = measure(formula, ["fat"])["fat"]
        begins = "; ".join(
            f"{row['class']} from {n(row['fat_min'])} fat or {n(row['sugar_min'])} sugar" for row in rows[1:]
        )
        rule = (
            f"{begins}, in pure fat and sugar on flour, the higher step holds. 100 g hold fat: butter "
            f"{n(holds('butter', 'fat'), 2)} g, egg {n(holds('egg', 'fat'), 2)} g, milk {n(holds('milk', 'fat'), 2)} g"
        )
        as_weighed = called(bun({"bread flour": 100, "oil": fat, "sugar": sugar}))
        wrong = {"butter_is_all_fat": as_weighed, "divided_by_total": shrunk}
        steps = (f"Pure fat {n(pure, 1)} %, sugar {n(sugar)} % of flour.",)
    return Case(
        f'In % of total flour: {percents(lines)}. By the scheme "{title}": {rule}. What is this dough called there: '
        f"{listing(choices, 'or')}?",
        float(answer),
        (*steps, f"By this scheme it is called {choices[answer]}. Other schemes draw other lines."),
        {key: float(value) for key, value in wrong.items() if value != answer},
        choices=choices,
        formula=formula,
    )
