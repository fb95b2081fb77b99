"""Lesson 2: the water, fat and salt that come in under another name, and what to change when one is exchanged."""

from ..balance import dough_class, hydration, measure, total_hydration
from ..balance.classes import schemes
from ..tables import table
from ..units import number
from ..words import listing
from .kinds import Case, adding, bun, finds, holds, kind, listed, n, named, steps


def _poured(dice):
    flour = dice.step(800, 2400, 20)
    parts = {"milk": dice.step(26, 40), "water": dice.step(8, 16), "egg": dice.step(8, 20), "butter": dice.step(10, 30)}
    lines = {name: round(value * flour / 1000) * 10 for name, value in parts.items()}
    if dice.level == 1:
        return {"lines": {"flour": flour, **lines}}
    second = dice.step(150, 400, 10)
    two = {"bread flour": flour - second, dice.choice(["light rye flour", "wholemeal flour"]): second}
    return {"lines": two | lines, "later": dice.step(40, 150, 10) if dice.level > 2 else 0}


@kind(_poured)
def hydration_as_weighed(lines, later=0):
    """Water and poured liquids as weighed on flour, never egg; `later` more milk is poured in."""
    flours = [name for name in lines if "flour" in name]
    poured = adding(name for name in ("milk", "water") if name in lines) + " + later" * bool(later)
    given = named(lines) | {"dough": sum(lines.values()) + later}
    given |= {"later": later}
    given |= {"first_flour": lines[flours[0]], "second_flour": lines[flours[1]]} if len(flours) > 1 else {}
    more = f"; later {n(later)} more of milk" if later else ""
    return Case(
        f"In g: {listed(lines)}{more}. What is the hydration as weighed, % of total flour?",
        hydration(bun(lines | {"milk": lines["milk"] + later})),
        given,
        steps(
            given,
            f"flour = {adding(flours)} | g | All flours together are 100 %",
            f"poured = {poured} | g | Poured, and egg is not",
            "one = flour / 100 | g | 1 % of the flour",
            "hydration = poured / flour * 100 | % | Hydration as weighed",
        ),
    )


def _in_100(what, names):
    """Return how much water or fat 100 g of each ingredient hold, as a question tells it, and as figures."""
    each = {name: holds(name, what) for name in names if name != "water"}
    return f"{what.capitalize()} in 100 g: {listed(each)}", {
        f"{name}_holds": value for name, value in named(each).items()
    }


def _hidden(dice, *names):
    usual = {"milk": (26, 50), "egg": (8, 24), "butter": (10, 36), "egg yolk": (4, 12)}
    lines = {name: dice.step(*usual[name]) for name in names}
    if dice.level < 3:
        return {"lines": {"flour": 100, **lines}}
    flour = dice.step(800, 2400, 20)
    return {"lines": {"flour": flour} | {name: round(value * flour / 1000) * 10 for name, value in lines.items()}}


def _brought(lines, what):
    """Return the given figures and the steps to the water or fat that ingredients bring, % of total flour."""
    names = [name for name in lines if name != "flour" and holds(name, what) > 0]
    unit = "%" if lines["flour"] == 100 else "g"
    told, given = _in_100(what, names)
    steps = [
        finds(
            f"from_{key} = {key}{'' if name == 'water' else f' * {key}_holds / 100'} | {unit} | "
            f"{what.capitalize()} of the {name}"
        )
        for name, key in zip(names, named(dict.fromkeys(names)), strict=True)
    ]
    all_ = "water" if what == "water" else "fat"
    steps.append(finds(f"{all_} = {adding(f'from_{name}' for name in names)} | {unit} | All {what}"))
    if unit == "g":
        steps.append(finds(f"share = {all_} / flour * 100 | % | On total flour"))
    given |= named(lines) | {"dough": sum(lines.values())}
    return told, given, tuple(steps), tuple(key for key in named(dict.fromkeys(names)))


def _hidden_in(lines, what, answer, asked):
    told, given, steps, parts = _brought(lines, what)
    written = f"In % of total flour: {listed(lines)}." if lines["flour"] == 100 else f"In g: {listed(lines)}."
    return Case(f"{written} {told}. {asked}, % of total flour?", answer, given, steps, parts=parts)


@kind(lambda dice: _hidden(dice, "milk", "egg", *(("butter",) if dice.level > 1 else ())))
def all_water(lines):
    """Total hydration: all water that ingredients other than flour bring (composition: USDA SR28)."""
    return _hidden_in(lines, "water", total_hydration(bun(lines)), "All the water they bring")


@kind(lambda dice: _hidden(dice, "egg", "butter", *(("milk",) if dice.level > 1 else ())))
def fat_of_dough(lines):
    """Pure fat that is not the flour's (composition: USDA SR28)."""
    return _hidden_in(lines, "fat", measure(bun(lines), "fat"), "All the fat they bring")


def _richer(dice):
    egg, butter = dice.step(6, 12), dice.step(8, 18)
    rises = {"egg": (egg, egg + dice.step(5, 14)), "butter": (butter, butter + dice.step(6, 20))}
    drawn = {"rises": rises if dice.level > 2 else dict([dice.choice(list(rises.items()))])}
    return drawn | {"poured": dice.step(30, 50), "liquid": "water" if dice.level == 1 else "milk"}


@kind(_richer)
def hold_the_water(rises, poured, liquid="water"):
    """What is poured in once egg or butter rise, so that all water stays (composition: USDA SR28).

    rises: {ingredient: (before, after)} [% of total flour]; poured: how much of the liquid there was [% of flour].
    """
    before = bun({"flour": 100, liquid: poured} | {name: was for name, (was, _) in rises.items()})
    after = before.vary(**{name: to for name, (_, to) in rises.items()})
    brought = total_hydration(after) - total_hydration(before)
    told, given = _in_100("water", [*rises, liquid])
    steps, given = [], given | {"poured": poured}
    for name, (was, to) in rises.items():
        given |= {f"{name}_before": was, f"{name}_after": to}
        water = f"from_{name}" if len(rises) > 1 else "brought"
        steps += [
            finds(f"{name}_rise = {name}_after - {name}_before | points | {name.capitalize()} rises by"),
            finds(f"{water} = {name}_rise * {name}_holds / 100 | points | Water of that {name}"),
        ]
    if len(rises) > 1:
        steps.append(finds(f"brought = {adding(f'from_{name}' for name in rises)} | points | Water of both"))
    if liquid != "water":
        steps.append(finds(f"out = brought / {liquid}_holds * 100 | points | As much water is in so much {liquid}"))
    moved = ", ".join(f"{name} {n(was)} to {n(to)}" for name, (was, to) in rises.items())
    return Case(
        f"In % of total flour: {liquid} {n(poured)}; {moved}. {told}. How much {liquid} now, so that all water stays?",
        poured - brought / holds(liquid, "water") * 100,
        given,
        (*steps, finds(f"left = poured - {'brought' if liquid == 'water' else 'out'} | % | {liquid.capitalize()} now")),
        parts=tuple(rises),
    )


def _exchange(dice):
    if dice.level == 1:
        moved = dice.step(5, 20, 0.2)
        return {"flour": 100, "egg": moved, "milk": moved}
    egg = dice.step(150, 500, 10)
    water = dice.step(30, 100, 10) if dice.level > 2 else 0
    return {"flour": dice.step(1000, 3000, 50), "egg": egg, "milk": egg - water, "water": water}


@kind(_exchange)
def milk_for_egg(flour, egg, milk, water=0):
    """Rise of total hydration when egg gives way to milk, or milk and water (composition: USDA SR28)."""
    there = {"flour": flour, "milk": 100, "water": 100}
    answer = total_hydration(bun(there | {"milk": 100 + milk, "water": 100 + water}))
    answer -= total_hydration(bun(there | {"egg": egg}))
    told, given = _in_100("water", ["egg", "milk"])
    unit = "points" if flour == 100 else "g"
    steps = [
        finds(f"brings = milk * milk_holds / 100 | {unit} | Water of the milk"),
        finds(f"takes = egg * egg_holds / 100 | {unit} | Water that goes with the egg"),
        finds(f"more = brings - takes | {unit} | More water"),
    ]
    if water:
        steps[1:1] = [finds("poured = brings + water | g | With the water poured")]
        steps[-1] = finds("more = poured - takes | g | More water")
    first = f"{n(egg)} points of egg give way to {n(milk)} points of milk, on total flour"
    if unit == "g":
        steps.append(finds("points = more / flour * 100 | points | On total flour"))
        first = f"Flour {n(flour)} g; {n(egg)} g of egg give way to {n(milk)} g of milk"
    first += f" and {n(water)} g of water" if water else ""
    return Case(
        f"{first}. {told}. By how many points of flour does the water rise?",
        answer,
        given | {"flour": flour, "egg": egg, "milk": milk, "water": water},
        tuple(steps),
    )


def _salty(dice):
    drawn = {"flour": dice.step(1000, 5000, 100), "salt": dice.step(1.4, 2.2, 0.1), "butter": dice.step(12, 36)}
    if dice.level > 1:
        drawn["part"] = dice.step(30, 75, 5)
    if dice.level > 2:
        drawn |= {"dough": dice.step(2000, 9000, 50), "total": dice.step(170, 205)}
    return drawn


@kind(_salty)
def salted_butter(flour, salt, butter, part=100, dough=0, total=0):
    """Salt to weigh so that salted butter leaves the salt as it was (USDA SR28, added salt by sodium).

    part: share of the butter that is salted [%]; dough, total: the dough and its total percentage, told instead of
    its flour.
    """
    flour = dough * 100 / total if dough else flour
    brought = measure(bun({"flour": 100, "milk": 50, "salted butter": butter * part / 100}), "salt")
    given = {"salt": salt, "butter": butter, "holds": holds("salted butter", "added_salt"), "part": part % 100}
    given |= {"dough": dough, "total": total} if dough else {"flour": flour}
    known = f"Dough {n(dough)} g, total percentage {n(total)} %" if dough else f"Flour {n(flour)} g"
    which = f"{n(part)} % of the butter is" if part < 100 else "The butter is"
    return Case(
        f"{known}; of flour: salt {n(salt)} %, butter {n(butter)} %. {which} salted: {n(given['holds'])} g of salt in "
        "100 g. How many g of salt do you weigh?",
        flour * (salt - brought) / 100,
        given,
        steps(
            given,
            "flour = dough / total * 100 | g | Flour",
            "needed = flour * salt / 100 | g | Salt in all",
            "fat = flour * butter / 100 | g | Butter",
            "salted = fat * part / 100 | g | Salted butter",
            "salted = fat | |",
            "brings = salted * holds / 100 | g | Salt in the butter",
            "weighed = needed - brings | g | Salt to weigh",
        ),
    )


def _exchanged(dice):
    into = dice.choice(["oil", "lard", "honey", "milk powder", "instant yeast", "active dry yeast"])
    if "yeast" in into:
        amount, dry_first = dice.step(20, 90), dice.level > 1 and dice.random() < 0.4
        out, into = (into, "fresh yeast") if dry_first else ("fresh yeast", into)
    else:
        out = {"honey": "sugar", "milk powder": "milk"}.get(into, "butter")
        amount = dice.step(300, 1500, 10) if out == "milk" else dice.step(120, 500, 5)
    part = dice.step(30, 75, 5) if dice.level == 2 else 100
    return {"amount": amount, "out": out, "into": into, "part": part, "water": dice.level > 2}


def _short(name):
    return name.removesuffix(" yeast").removesuffix(" powder")


def _worth(out, into):
    """Return what counts in an exchange, how much of it 100 g of each hold [g], and how a question tells that.

    Fat of butter, dry substance of sugar, solids of milk that are not fat (composition: USDA SR28); yeast by the
    first factor of yeast_forms.csv (Hamelman 2004: active dry 0.40, instant 0.33).
    """
    if "yeast" in out:
        dry = out if into == "fresh yeast" else into
        factor = next(number(row["factor"]) for row in table("yeast_forms").rows if row["to_form"] == dry)
        had, given_by = (100 * factor, 100) if dry == into else (100, 100 * factor)
        return "strength", had, given_by, f"{n(100 * factor)} g of {_short(dry)} raise like 100 g of fresh"
    fats, waters = (holds(out, "fat"), holds(into, "fat")), (holds(out, "water"), holds(into, "water"))
    solids = [round(100 - water - fat, 6) for water, fat in zip(waters, fats, strict=True)]
    what, had, given_by = {
        "butter": ("fat", *fats),
        "sugar": ("dry substance", 100, round(100 - waters[1], 6)),
        "milk": ("solids-not-fat", *solids),
    }[out]
    return what, had, given_by, f"{what.capitalize()} in 100 g: {out} {n(had)}, {into} {n(given_by)}"


@kind(_exchanged)
def one_exchange(amount, out, into, part=100, water=False):
    """Oil or lard for butter, honey for sugar, skimmed milk powder for milk, one yeast for another.

    part: how much of it is exchanged [%]; water: ask what water makes up for the exchange.
    """
    what, had, given_by, told = _worth(out, into)
    given = {"had": had, "lacks": 100 - had, "given_by": given_by, "missing": 100 - given_by}
    given |= {"fat_out": holds(out, "fat")} if out == "milk" else {}
    swapped, half = f"{n(amount)} g of {out}", ()
    if part < 100:
        given |= {"amount": amount, "part": part}
        swapped = f"Of {swapped}, {n(part)} %"
        half = (finds(f"swapped = amount * part / 100 | g | {out.capitalize()} exchanged"),)
    else:
        given["swapped"] = amount
    steps = (
        *half,
        finds(f"inside = swapped * had / 100 | g | {what.capitalize()} that goes out"),
        finds(f"one = given_by / 100 | g | In 1 g of {into}"),
        finds(f"{'other' if water else 'needed'} = inside / one | g | {into.capitalize()}"),
    )
    answer = needed = amount * part / 100 * had / given_by
    asked = f"How much {into}?"
    wet = [value if value > 0.1 else 0 for value in (holds(out, "water"), holds(into, "water"))]
    given["water_out"] = wet[0]
    if water:
        change = (amount * wet[0] - needed * wet[1]) / 100
        answer, asked = abs(change), f"How much water to {'add' if change > 0 else 'leave out'}?"
        told += f"; water{' in 100 g' if 'yeast' in out else ''}: {_short(out)} {n(wet[0])}, {_short(into)} {n(wet[1])}"
        given["water_in"] = wet[1]
        steps += (
            finds("goes = swapped * water_out / 100 | g | Water that goes out"),
            finds("comes = other * water_in / 100 | g | Water that comes in"),
            finds(f"water = {'goes - comes' if change > 0 else 'comes - goes'} | g | Water to make up for it"),
        )
    return Case(f"{swapped} give way to {into}. {told}. {asked}", answer, given, steps)


def _classed(dice):
    scheme = ("reinhart_2001", "german_code", "house_steps")[dice.level - 1]
    flour = dice.step(800, 2400, 20)
    if scheme == "reinhart_2001":
        parts = {"milk": dice.step(40, 55), "butter": dice.choice([dice.step(12, 19, 0.5), dice.step(20.5, 25, 0.5)])}
        parts["sugar"] = dice.step(8, 20)
    elif scheme == "german_code":
        parts = {"milk": dice.step(50, 60), "butter": dice.step(2, 11, 0.5), "sugar": dice.step(2, 11, 0.5)}
    else:
        parts = {"egg": dice.step(6, 30), "butter": dice.choice([dice.step(8, 13, 0.5), dice.step(17, 26, 0.5)])}
    lines = {"flour": flour} | {name: round(value * flour / 1000) * 10 for name, value in parts.items()}
    return {"lines": lines, "scheme": scheme}


@kind(_classed)
def class_of_dough(lines, scheme):
    """Class by the figures of one scheme of dough_classes.csv."""
    rows = schemes()[scheme]
    title, choices = rows[0]["scheme_title"], tuple(row["class"] for row in rows)
    called = next(word for named, word, *_ in dough_class(bun(lines)).schemes if named == title)
    given = named(lines) | {"dough": sum(lines.values()), "butter_fat": holds("butter", "fat")}
    one, asked = finds("one = flour / 100 | g | 1 % of the flour"), f"Is this dough {listing(choices, 'or')}"
    if scheme == "german_code":
        begins = (rows[1].fat_sugar_sum_min,)
        rule = f"{choices[1].capitalize()} has over {n(begins[0])} % fat and sugar together, as weighed, on flour"
        steps = (one, finds("together = butter + sugar | g | Fat and sugar"))
        last = "share = together / one | % | Both, on flour"
    elif scheme == "reinhart_2001":
        begins = (1e-9, rows[2].fat_min)
        rule = f"Fat as weighed, on flour: enriched under {n(begins[1])} %, rich from {n(begins[1])} %"
        given["line"] = begins[1]
        steps = (one, finds("limit = one * line | g | The line in this dough"))
        last = "share = butter / one | % | Fat as weighed, on flour"
    else:
        begins = tuple(row.fat_min for row in rows[1:])
        limits = ", ".join(f"{row['class']} {n(row.fat_min)}" for row in rows[1:])
        names = [name for name in lines if name != "flour" and holds(name, "fat") > 1]
        told, figures = _in_100("fat", names)
        rule, given = f"{told}. Pure fat from, % of flour: {choices[0]}; {limits}", given | figures
        asked = "Which is this dough"
        each = (finds(f"from_{name} = {name} * {name}_holds / 100 | g | Fat of the {name}") for name in names)
        steps = (*each, finds(f"fat = {adding(f'from_{name}' for name in names)} | g | All fat"), one)
        last = "share = fat / one | % | Pure fat, on flour"
    return Case(
        f"In g: {listed(lines)}. {rule}. {asked}?",
        choices.index(called),
        given,
        (*steps, finds(last, f", so {called}")),
        choices=choices,
        begins=begins,
    )
