"""Lesson 3: the crust on top, what is lost on the way to the counter, and how warm the water must be."""

from ..process import factor_rule, predict_yield
from ..tables import ingredients
from ..units import in_unit
from .kinds import Case, adding, bun, kind, listed, n, shares, steps


def _cocoa(dice):
    base = dice.step(300, 1000, 10)
    sugar = round(base * dice.step(80, 110) / 1000) * 10
    if dice.level > 2:
        return {
            "flour": base,
            "cocoa": 0,
            "sugar": sugar,
            "swapped": dice.step(10, 40, 5),
            "more": dice.step(20, 90, 10),
        }
    cocoa = round(base * dice.step(15, 40) / 1000) * 10
    return {"flour": base - cocoa, "cocoa": cocoa, "sugar": sugar, "also": dice.step(40, 150, 10) * (dice.level > 1)}


@kind(_cocoa)
def topping_base(flour, cocoa, sugar, also=0, swapped=0, more=0):
    """Sugar on flour and cocoa together, which is a cocoa topping's base.

    also: g of caster sugar beside the icing sugar; swapped: % of the flour that cocoa replaces, `more` g come on top.
    """
    words, given = "all the sugar" if also else "icing sugar", {"more": more, "part": swapped}
    given |= {"plain": flour} if swapped else {"flour": flour, "cocoa": cocoa}
    given |= {"icing": sugar, "caster": also} if also else {"sugar": sugar}
    told = f"Flour {n(flour)} g, cocoa {n(cocoa)} g, icing sugar {n(sugar)} g"
    told += f", caster sugar {n(also)} g" if also else ""
    if swapped:
        told = f"Flour {n(flour)} g, {n(swapped)} % of it replaced by cocoa, {n(more)} g more cocoa on top"
        told += f", icing sugar {n(sugar)} g"
        flour, cocoa = flour * (1 - swapped / 100), flour * swapped / 100 + more
    all_sugar = sugar + also
    lines = {"plain flour": flour, "cocoa": cocoa, "icing sugar": all_sugar}
    formula = bun({"flour": 100}, topping=lines, bases={"topping": ("flour", "cocoa")})
    answer = formula.part("topping").percentage(ingredients().find("icing sugar"))
    alone, of_all = 100 * all_sugar / flour, 100 * all_sugar / (flour + cocoa + all_sugar)
    return Case(
        f"{told}. What is {words} on flour and cocoa together? Answer with the base: ... % of ...",
        answer,
        given,
        steps(
            given,
            "swapped = plain * part / 100 | g | Flour replaced by cocoa",
            "flour = plain - swapped | g | Flour left",
            "cocoa = swapped + more | g | Cocoa",
            "sugar = icing + caster | g | All the sugar",
            "base = flour + cocoa | g | Flour and cocoa together are 100 %",
            "one = base / 100 | g | 1 % of it",
            f"share = sugar / base * 100 | % of flour and cocoa | {words.capitalize()}",
        ),
        {"flour and cocoa": answer, "flour": alone, "topping": of_all},
    )


def _paste(dice):
    lines = {"flour": 100, "icing sugar": dice.step(80, 110), "butter": dice.step(70, 95)}
    drawn = {"lines": lines, "count": dice.step(24, 96), "portion": dice.step(16, 30)}
    drawn["ingredient"] = dice.choice(["icing sugar", "butter", "flour"])
    drawn["loss"] = dice.step(5, 14) if dice.level > 1 else 0
    if dice.level > 2:
        drawn |= {"dough": dice.step(50, 80), "ratio": dice.step(0.25, 0.5, 0.01)}
    return drawn


@kind(_paste)
def topping_line(lines, count, portion, ingredient, loss=0, dough=0, ratio=0):
    """One line of the topping for so many portions, with the topping's own handling loss.

    dough, ratio: the dough of a bun [g] and its topping-to-dough ratio, told instead of the portion.
    """
    portion = dough * ratio if dough else portion
    paste = {("plain flour" if name == "flour" else name): value for name, value in lines.items()}
    makes = {"piece": 60, "topping": portion}
    formula = bun({"flour": 100}, topping=paste, makes=makes, losses={"topping dividing": loss})
    mixed, part = predict_yield(formula, pieces=count).topping_to_mix, formula.part("topping")
    given = shares(lines) | {"count": count, "loss": loss, "line": lines[ingredient]}
    given |= {"dough": dough, "ratio": ratio} if dough else {"portion": portion}
    told = f"{count} buns take {n(portion)} g of topping each"
    if dough:
        told = f"{count} buns of {n(dough)} g of dough, topping-to-dough ratio {n(ratio)}"
    told += f"; {n(loss)} % of the topping mixed is lost" if loss else ""
    name = "plain flour" if ingredient == "flour" else ingredient
    return Case(
        f"{told}. In % of its flour: {listed(lines)}. How much {ingredient}?",
        mixed * part.percentage(ingredients().find(name)) / part.mass,
        given,
        steps(
            given,
            "portion = dough * ratio | g | Topping of one bun",
            "needed = count * portion | g | Topping on the buns",
            "left = 100 - loss | % | Left of the topping mixed",
            "mixed = needed / left * 100 | g | Topping to mix",
            "mixed = needed | |",
            f"total = {adding(shares(lines))} | % | All parts",
            f"weighed = mixed * line / total | g | {ingredient.capitalize()}",
        ),
        parts=tuple(each for each in shares(lines) if each not in ("hundred", ingredient.replace(" ", "_"))),
    )


def _ratio(dice):
    drawn = {"ratio": dice.step(0.2, 0.6, 0.01), "piece": dice.step(60, 120)}
    drawn["count"] = dice.step(24, 96) if dice.level > 1 else 0
    return drawn | {"loss": dice.step(5, 14) if dice.level > 2 else 0}


@kind(_ratio)
def ratio_or_share(ratio, piece, count=0, loss=0):
    """Topping of a raw piece, or of so many, from its topping-to-dough ratio."""
    dough = piece / (1 + ratio)
    made = predict_yield(
        bun({"flour": 100}, topping={"sugar": 1}, makes={"piece": dough, "topping": piece - dough}),
        pieces=count or 1,
        losses={"topping dividing": loss},
    )
    given = {"one": 1, "ratio": ratio, "raw": piece, "count": count, "loss": loss}
    told, asked = f"A raw bun of {n(piece)} g", "How many g of topping are on it"
    if count:
        told, asked = f"{count} raw buns of {n(piece)} g each", "How many g of topping for all of them"
    told += f", topping and dough together, topping-to-dough ratio {n(ratio)}"
    if loss:
        told, asked = f"{told}; {n(loss)} % of the topping mixed is lost", "How many g of topping to mix"
    lines = (
        "parts = 1 + ratio | g | With 1 g of dough, topping and all",
        "dough = raw / parts | g | Dough of a bun",
        "topping = raw - dough | g | Topping of a bun",
        "needed = topping * count | g | On all the buns",
        "left = 100 - loss | % | Left of the topping mixed",
        "mixed = needed / left * 100 | g | Topping to mix",
    )
    return Case(f"{told}. {asked}?", made.topping_to_mix, given, steps(given, *lines))


def _sweet(dice):
    lines = {name: value for name, value in dice.bun().items() if name != "salt"}
    drawn = {"lines": lines, "dough": dice.step(50, 120), "rise": dice.step(8, 25) if dice.level > 1 else 0}
    return drawn | ({"topping": dice.step(16, 30), "sweet": dice.step(28, 40)} if dice.level > 2 else {})


@kind(_sweet)
def sugar_in_a_piece(lines, dough, rise=0, topping=0, sweet=0):
    """Sugar in a piece: dough x sugar % / total percentage, also after butter rises, and with its topping.

    rise: points of butter; topping [g], sweet: its sugar [% of the topping].
    """
    after = bun(lines, makes={"piece": dough}).vary(butter=lines["butter"] + rise)
    answer = after.scale(dough=dough).flour * lines["sugar"] / 100 + topping * sweet / 100
    given = shares(lines) | {"dough": dough, "rise": rise, "topping": topping, "sweet": sweet}
    change = f" Butter rises by {n(rise)} points." if rise else ""
    top = f", {n(topping)} g of topping ({n(sweet)} % sugar)" if topping else ""
    total = f"total = {adding(shares(lines))}{' + rise' * bool(rise)} | % | Total percentage"
    return Case(
        f"In % of flour: {listed(lines)}.{change} A bun takes {n(dough)} g of dough{top}. How much sugar?",
        answer,
        given,
        steps(
            given,
            total,
            "flour = dough / total * 100 | g | Flour in the dough of a bun",
            "crumb = flour * sugar / 100 | g | Sugar in the dough",
            "crust = topping * sweet / 100 | g | Sugar in the topping",
            "grams = crumb + crust | g | Sugar in the bun",
        ),
        parts=tuple(name for name in list(lines)[1:] if name != "sugar"),
    )


DOUGH = {"flour": 100, "water": 60}  # any dough, where only its losses count


def _baked(dice):
    drawn = {"baked": dice.step(50, 120), "loss": dice.step(8, 16)}
    drawn["topping"] = dice.step(12, 28) if dice.level > 1 else 0
    return drawn | {"cooling": dice.step(4, 8) if dice.level > 2 else 0}


@kind(_baked)
def raw_from_baked(baked, loss, topping=0, cooling=0):
    """Raw = baked / (1 - loss); of it `topping` g are topping, and `cooling` % of the hot bun go until it is sold."""
    made = predict_yield(bun(DOUGH), pieces=1, piece=100, topping=0, losses={"baking": loss})
    hot = baked / (1 - cooling / 100)
    given = {"baked": baked, "loss": loss, "topping": topping, "cooling": cooling}
    told = f"A bun weighs {n(baked)} g {'when sold' if cooling else 'baked'}. "
    told += f"The oven takes {n(loss)} % of its raw weight"
    told += f", cooling and shelf {n(cooling)} % of the rest" if cooling else ""
    told += f". {n(topping)} g of the raw bun are topping" if topping else ""
    return Case(
        f"{told}. How much {'dough ' * bool(topping)}to scale?",
        hot * made.raw_piece / made.baked_piece - topping,
        given,
        steps(
            given,
            "warm = 100 - cooling | % | Left of the hot bun",
            "hot = baked / warm * 100 | g | Hot from the oven",
            "hot = baked | |",
            "left = 100 - loss | % | Left of the raw bun",
            "one = hot / left | g | 1 % of the raw bun",
            "raw = hot / left * 100 | g | Raw",
            "dough = raw - topping | g | Dough",
        ),
    )


def _order(dice):
    drawn = {"count": dice.step(24, 120), "baked": dice.step(50, 100), "second": dice.step(8, 15)}
    drawn["first"] = dice.step(2, 7) if dice.level > 1 else 0
    return drawn | {"extra": dice.step(3, 9) if dice.level > 2 else 0}


@kind(_order)
def dough_for_order(count, baked, second, first=0, extra=0):
    """Dough to mix = baked mass / product of (1 - loss); `extra` buns are baked beside those ordered."""
    losses = {"dividing": first, "baking": second}
    made = predict_yield(bun(DOUGH), pieces=count + extra, piece=100, topping=0, losses=losses)
    given = {"baked": baked, "first": first, "second": second, "extra": extra}
    given |= {"ordered": count} if extra else {"count": count}
    told = f"Ordered: {count} buns of {n(baked)} g baked" + (f"; you bake {extra} more" if extra else "")
    lost = f" {n(first)} % of the dough mixed is lost before scaling." if first else ""
    return Case(
        f"{told}.{lost} Oven and cooling take {n(second)} % of the scaled weight. How much dough to "
        f"{'mix' if first else 'scale'}?",
        (count + extra) * baked * made.dough_mixed / made.baked_mass,
        given,
        steps(
            given,
            "count = ordered + extra | buns | To bake",
            "wanted = count * baked | g | Baked",
            "left = 100 - second | % | Left of what is scaled",
            "scaled = wanted / left * 100 | g | Scaled",
            "left_first = 100 - first | % | Left of the dough mixed",
            "mixed = scaled / left_first * 100 | g | Dough to mix",
        ),
    )


def _water(target, flour, room, rise, unit, sponge=None):
    """Return the kit's factor rule in the unit of its arguments."""
    told = [f"{value} {unit}" for value in (target, flour, room, rise)]
    degrees = factor_rule(*told, preferment=None if sponge is None else f"{sponge} {unit}")
    return round(in_unit(degrees, unit, "temperature"), 9)


def _temperatures(dice):
    unit = "°F" if dice.random() < 0.5 else "°C"
    # target, flour, room and rise, then the sponge: (low, high); what a tap gives and yeast stands
    ranges, sponge, (coldest, warmest) = {
        "°F": (((75, 80), (60, 74), (64, 78), (10, 28)), (72, 82), (41, 104)),
        "°C": (((24, 27), (16, 23), (18, 26), (6, 14)), (22, 28), (5, 40)),
    }[unit]
    while True:
        drawn = [dice.step(*each) for each in ranges] + [unit]
        drawn += [dice.step(*sponge)] if dice.level == 2 else []
        made = dict(zip(("target", "flour", "room", "rise", "unit", "sponge"), drawn, strict=False))
        if dice.level > 2:
            # yesterday's dough tells what mixing does
            made |= {"was": [dice.step(*each) for each in ranges[1:3]] + [dice.step(coldest + 6, warmest - 12)]}
            made["came"] = round((sum(made["was"]) + made["rise"]) / 3)
            made["rise"] = 3 * made["came"] - sum(made["was"])
        if coldest <= _water(**{name: made[name] for name in made if name not in ("was", "came")}) <= warmest:
            return made


@kind(_temperatures)
def water_temperature(target, flour, room, rise, unit, sponge=None, was=(), came=0):
    """Water temperature by three factors, or four with a sponge.

    was, came: flour, room and water of yesterday's dough and what it came off the mixer at, told instead of the rise.
    """
    given = {"target": target, "flour": flour, "room": room, "times": 3 if sponge is None else 4, "came": came}
    told, known = f"The dough is to be {n(target)} {unit}; flour {n(flour)}, room {n(room)}", ["flour", "room", "rise"]
    if sponge is not None:
        told, given["sponge"] = f"{told}, sponge {n(sponge)}", sponge
        known.insert(2, "sponge")
    if was:
        given |= dict(zip(("flour_was", "room_was", "water_was"), was, strict=True))
        told += f". Yesterday flour {n(was[0])}, room {n(was[1])}, water {n(was[2])} gave {n(came)}"
    else:
        told, given["rise"] = f"{told}; mixing warms it by {n(rise)}", rise
    return Case(
        f"{told}. How warm must the water be, by the rule of {'three' if sponge is None else 'four'} factors?",
        _water(target, flour, room, rise, unit, sponge),
        given,
        steps(
            given,
            f"thrice = 3 * came | {unit} | Yesterday, three times the dough",
            f"rise = thrice - flour_was - room_was - water_was | {unit} | What mixing brought",
            f"wanted = times * target | {unit} | For each of them, the dough wanted",
            f"known = {adding(known)} | {unit} | What is known",
            f"water = wanted - known | {unit} | Water",
        ),
    )
