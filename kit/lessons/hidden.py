"""Lesson 2: the water, fat and salt that come in under another name, and what to change when one is exchanged."""

from ..balance import dough_class, hydration, measure, total_hydration
from ..balance.classes import schemes
from ..tables import table
from ..units import number
from ..words import listing
from .kinds import Case, adding, bun, holds, kind, listed, n


def _wet(dice):
    lines = {"bread flour": 100, "milk": dice.step(30, 40, 5, 2, 1), "egg": dice.step(12, 24, 2)}
    lines["water"] = dice.step(6, 12, 2, 1)
    if dice.level > 1:
        lines["butter"] = dice.step(10, 30, 5, 5, 1)
    if dice.level > 2:
        lines["fresh yeast"] = dice.step(3, 5, 0.5)
    return {"lines": lines}


def _in_100(what, names):
    """Return how much water or fat 100 g of each ingredient hold, as a question tells it."""
    return f"100 g hold {what}: " + listing(f"{name} {n(holds(name, what), 2)} g" for name in names if name != "water")


def _brought(lines, what):
    """Return {name: water or fat that it brings, % of total flour}, without the flour's own, and the steps to it."""
    each = {
        name: value * holds(name, what) / 100
        for name, value in lines.items()
        if "flour" not in name and holds(name, what) > 0
    }
    steps = [
        f"{name.capitalize()}: {n(lines[name])} x {n(holds(name, what), 2)} / 100 = {n(value, 2)} %."
        for name, value in each.items()
    ]
    return each, (*steps, f"In all {adding(each.values(), 2)} %.")


@kind(_wet)
def hydration_as_weighed(lines):
    """Water and poured liquids as weighed on flour, never egg."""
    answer = hydration(bun(lines))
    poured = " + ".join(f"{name} {n(lines[name])}" for name in ("milk", "water") if lines.get(name))
    return Case(
        f"In % of total flour: {listed(lines)}. What is the hydration as weighed, % of total flour?",
        answer,
        (f"Poured: {poured} = {n(answer)} %. Egg is not counted here.",),
        {"counted_egg": answer + lines["egg"], "divided_by_total": 100 * answer / sum(lines.values())},
    )


@kind(_wet)
def all_water(lines):
    """Total hydration: all water that ingredients other than flour bring (composition: USDA SR28)."""
    each, steps = _brought(lines, "water")
    poured = lines["milk"] + lines.get("water", 0)
    return Case(
        f"In % of total flour: {listed(lines)}. {_in_100('water', each)}. What is the total hydration: all water that "
        "is not the flour's own, % of total flour?",
        total_hydration(bun(lines)),
        steps,
        {"only_what_is_poured": poured, "liquids_are_water": poured + lines["egg"]},
    )


def _richer(dice):
    if dice.choice(("egg", "butter")) == "egg":
        now, by, water = dice.step(8, 16, 2), dice.step(4, 12, 2, 1), dice.step(12, 20)
        return {"ingredient": "egg", "now": now, "by": by, "water": water}
    now, by, water = dice.step(10, 18), dice.step(5, 20, 5, 1), dice.step(6, 16)
    return {"ingredient": "butter", "now": now, "by": by, "water": water}


@kind(_richer)
def hold_the_water(ingredient, now, by, water):
    """Points of water to take out when egg or butter rises and total hydration holds (composition: USDA SR28)."""
    before = bun({"bread flour": 100, "milk": 30, "water": water, ingredient: now})
    answer = total_hydration(before.vary({ingredient: now + by})) - total_hydration(before)
    wet = n(holds(ingredient, "water"), 2)
    return Case(
        f"{ingredient.capitalize()} goes from {n(now)} to {n(now + by)} % of total flour. 100 g of {ingredient} hold "
        f"{wet} g of water. The dough has {n(water)} % water besides. By how many points of flour must that "
        "water fall so that all water in the dough stays as it is?",
        answer,
        (
            f"{ingredient.capitalize()} + {n(by)} points.",
            f"{n(by)} x {wet} / 100 = {n(answer, 2)} points of water come with it, so take out {n(answer, 2)}: "
            f"water {n(water)} - {n(answer, 2)} = {n(water - answer, 2)} %.",
        ),
        {"all_of_it_is_water": by, "none_of_it_is_water": 0},
    )


@kind(lambda dice: {"egg": dice.step(16, 24, 2), "moved": dice.step(6, 16, 2, 1), "milk": dice.step(20, 36, 2)})
def milk_for_egg(egg, moved, milk):
    """Rise of total hydration when egg is replaced by milk, weight for weight."""
    before = bun({"bread flour": 100, "milk": milk, "egg": egg})
    answer = total_hydration(before.vary(egg=egg - moved, milk=milk + moved)) - total_hydration(before)
    brings, takes = (moved * holds(name, "water") / 100 for name in ("milk", "egg"))
    return Case(
        f"A dough has {n(egg)} % egg and {n(milk)} % milk, of total flour. {n(moved)} points of egg are replaced "
        f"by {n(moved)} points of milk, all on total flour. {_in_100('water', ('milk', 'egg'))}. By how many points of "
        "flour does the water in the dough rise?",
        answer,
        (
            f"Milk brings {n(moved)} x {n(holds('milk', 'water'), 2)} / 100 = {n(brings, 2)} points of water.",
            f"Egg took away {n(moved)} x {n(holds('egg', 'water'), 2)} / 100 = {n(takes, 2)} points.",
            f"The difference is {n(answer, 2)} points more.",
        ),
        {"same_weight_same_water": 0, "milk_is_water": moved - takes, "egg_brings_none": brings},
    )


def _fatty(dice):
    lines = {"bread flour": 100, "milk": dice.step(20, 50, 10, 5, 1), "egg": dice.step(10, 30, 5, 2, 1)}
    lines["butter"] = dice.step(10, 40, 5, 5, 1)
    if dice.level > 2:
        lines["egg yolk"] = dice.step(4, 12)
    return {"lines": lines}


@kind(_fatty)
def fat_of_dough(lines):
    """Pure fat that is not the flour's (composition: USDA SR28)."""
    answer, butter = measure(bun(lines), "fat"), lines["butter"]
    each, steps = _brought(lines, "fat")
    return Case(
        f"In % of total flour: {listed(lines)}. {_in_100('fat', each)}. What is all the fat of the dough, without the "
        "flour's own, % of total flour?",
        answer,
        steps,
        {
            "butter_is_all_fat": answer - each["butter"] + butter,
            "only_butter_counts": each["butter"],
            "butter_as_weighed": butter,
        },
    )


@kind(lambda dice: {"salt": dice.step(1.4, 2, 0.2, 0.1), "butter": dice.step(10, 40, 2, 2, 1)})
def salted_butter(salt, butter):
    """Salt to weigh so that salted butter leaves the salt as it was (USDA SR28, added salt by sodium)."""
    brings = measure(bun({"bread flour": 100, "milk": 50, "salted butter": butter}), "salt")
    answer, salty = salt - brings, n(holds("salted butter", "added_salt"), 2)
    return Case(
        f"Salt is {n(salt)} % and unsalted butter {n(butter)} % of total flour. Today only salted butter is there; "
        f"100 g of it hold {salty} g of salt. How much salt do you weigh, % of total flour, for the same saltiness?",
        answer,
        (
            f"The butter brings {n(butter)} x {salty} / 100 = {n(brings, 3)} %.",
            f"{n(salt)} - {n(brings, 3)} = {n(answer, 3)} %.",
        ),
        {"forgot_hidden_salt": salt, "added_hidden_salt": salt + brings},
    )


def _exchanged(dice):
    into = dice.choice(["oil", "lard", "honey", "milk powder", "instant yeast", "active dry yeast"])
    if "yeast" in into:
        amount, dry_first = dice.step(20, 80, 2, 2, 1), dice.level > 1 and dice.random() < 0.4
        out, into = (into, "fresh yeast") if dry_first else ("fresh yeast", into)
    else:
        out = {"honey": "sugar", "milk powder": "milk"}.get(into, "butter")
        amount = dice.step(300, 1500, 25, 20, 10) if out == "milk" else dice.step(100, 500, 25, 10, 5)
    return {"amount": amount, "out": out, "into": into}


def _worth(out, into):
    """Return what 1 g of an ingredient is worth of another [g], and what a question must tell for it.

    Fat of butter, dry substance of sugar, solids of milk that are not fat (composition: USDA SR28); yeast by the
    first factor of yeast_forms.csv (Hamelman 2004: active dry 0.40, instant 0.33).
    """
    if "yeast" in out:
        dry = out if into == "fresh yeast" else into
        factor = next(number(row["factor"]) for row in table("yeast_forms").rows if row["to_form"] == dry)
        told = f"1 g of fresh yeast raises as much as {n(factor)} g of {dry}"
        return (factor if dry == into else 1 / factor), told, "raise as much"
    fats = holds(out, "fat"), holds(into, "fat")
    dry = 100 - holds(out, "water"), 100 - holds(into, "water")
    what, (had, given) = {
        "butter": ("fat", fats),
        "sugar": ("dry substance", (100, dry[1])),
        "milk": ("solids-not-fat", (dry[0] - fats[0], dry[1] - fats[1])),
    }[out]
    told = f"100 g of {out} hold {n(had, 2)} g of {what}, 100 g of {into} {n(given, 2)} g"
    if out == "milk":
        told += f"; the milk's other {n(fats[0], 2)} g are fat and {n(100 - dry[0], 2)} g water"
    return had / given, told, f"bring the same {what}"


@kind(_exchanged)
def one_exchange(amount, out, into):
    """Oil or lard for butter, honey for sugar, skimmed milk powder for milk, one yeast for another: g = g x worth."""
    worth, told, aim = _worth(out, into)
    answer = amount * worth
    less = {part: (amount * holds(out, part) - answer * holds(into, part)) / 100 for part in ("water", "fat")}
    wrong = {"weight_for_weight": amount, "turned_round": amount / worth}
    if out == "sugar":
        wrong["added_the_water"] = amount * (1 + holds(into, "water") / 100)
    if out == "milk":
        wrong |= {"counted_the_fat": answer + less["fat"], "gave_the_water": amount * holds(out, "water") / 100}
    changes = (f"{n(abs(by), 1)} g {'less' if by > 0 else 'more'} {part}" for part, by in less.items() if abs(by) > 1)
    return Case(
        f"A dough takes {n(amount)} g of {out}; you have {into} instead. {told}. How many g of {into} {aim}?",
        answer,
        (
            f"1 g of {out} is worth {n(worth)} g of {into}.",
            f"{n(amount)} g x {n(worth)} = {n(answer, 1)} g of {into}.",
            f"The dough then has {listing(changes)}: make up for it.",
        ),
        wrong,
    )


def _rich(dice):
    scheme = ("reinhart_2001", "german_code", "house_steps")[dice.level - 1]
    lines = {"bread flour": 100}
    if scheme == "reinhart_2001":
        lines |= {"milk": dice.step(40, 55, 5), "butter": dice.choice([dice.step(10, 18), dice.step(22, 38)])}
        lines["sugar"] = dice.step(10, 20, 2)
    elif scheme == "german_code":
        lines |= {"milk": dice.step(50, 60, 2), "butter": dice.step(3, 11), "sugar": dice.step(3, 11)}
    else:
        lines |= {"milk": dice.step(30, 50), "egg": dice.step(0, 10)}
        lines |= {"butter": dice.step(20, 24, 0.5), "sugar": dice.step(6, 18)}
    return {"lines": {name: value for name, value in lines.items() if value}, "scheme": scheme}


@kind(_rich)
def class_of_dough(lines, scheme):
    """Class by the figures of one scheme of dough_classes.csv."""
    rows = schemes()[scheme]
    title, choices = rows[0]["scheme_title"], tuple(row["class"] for row in rows)

    def called(lines):
        return choices.index(next(word for named, word, *_ in dough_class(bun(lines)).schemes if named == title))

    answer, fat, sugar = called(lines), lines["butter"], lines["sugar"]
    of_dough = {name: value * 100 / sum(lines.values()) for name, value in lines.items()} | {"bread flour": 100}
    if scheme == "german_code":
        line = rows[1].fat_sugar_sum_min
        rule = f"fat and sugar as weighed, together over {n(line)} % of flour, make fine bakery ware of bread"
        step = f"{adding([fat, sugar])} % of flour against the line at {n(line)} %."
        wrong = {"looked_at_one_alone": max(fat, sugar) > line, "counted_the_milk": fat + sugar + lines["milk"] > line}
    elif scheme == "reinhart_2001":
        line = rows[2].fat_min
        rule = f"enriched with fat under {n(line)} % of flour as weighed, rich from {n(line)} %"
        step = f"{n(fat)} % fat as weighed, of flour, against the line at {n(line)} %."
        all_fat = {"bread flour": 100, "butter": fat + sugar}
        wrong = {"divided_by_total": called(of_dough), "counted_sugar_as_fat": called(all_fat)}
    else:
        begins = "; ".join(f"{row['class']} from {n(row.fat_min)} fat or {n(row.sugar_min)} sugar" for row in rows[1:])
        rule = f"{begins}, in pure fat and sugar on flour, the higher step holds. "
        rule += _in_100("fat", ("butter", "egg", "milk"))
        step = f"Pure fat {n(measure(bun(lines), 'fat'), 1)} %, sugar {n(sugar)} % of flour."
        as_weighed = {"bread flour": 100, "oil": fat, "sugar": sugar}
        wrong = {"butter_is_all_fat": called(as_weighed), "divided_by_total": called(of_dough)}
    return Case(
        f'In % of total flour: {listed(lines)}. By the scheme "{title}": {rule}. What is this dough called there: '
        f"{listing(choices, 'or')}?",
        answer,
        (step, f"By this scheme it is called {choices[answer]}. Other schemes draw other lines."),
        {key: value for key, value in wrong.items() if value != answer},
        choices=choices,
    )
