"""Lesson 1: what the percentages are of, and how they carry from bowl to bowl and from batch to batch."""

from ..balance import hydration, measure
from ..formula import round_to_scale
from .kinds import Case, adding, bun, kind, listed, n, named, shares, steps


def _weights(dice):
    flour = dice.step(800, 2400, 20)
    lines, ingredient = dice.weights(flour), dice.choice(["milk", "butter", "sugar"])
    if dice.level > 1:
        second = dice.step(150, 400, 10)
        del lines["flour"]
        lines = {"bread flour": flour - second, dice.choice(["light rye flour", "wholemeal flour"]): second, **lines}
    return {"lines": lines, "ingredient": ingredient, "later": dice.step(40, 150, 10) if dice.level > 2 else 0}


@kind(_weights)
def percentage_from_weight(lines, ingredient, later=0):
    """One ingredient's weight as % of the total flour, of one flour or two (Gisslen, Professional Baking)."""
    first, flours = lines[ingredient], [name for name in lines if "flour" in name]
    dough = bun(lines | {ingredient: first + later})
    answer = dough.part("dough").percentage(dough.ingredients.find(ingredient))
    given = named(lines) | {"dough": sum(lines.values()) + later, "first": first, "later": later}
    given |= {"first_flour": lines[flours[0]], "second_flour": lines[flours[1]]} if len(flours) > 1 else {}
    more = f"; later {n(later)} more of {ingredient}" if later else ""
    return Case(
        f"In g: {listed(lines)}{more}. What is the {ingredient}, % of total flour?",
        answer,
        given,
        steps(
            given,
            f"flour = {adding(flours)} | g | All flours together are 100 %",
            f"amount = first + later | g | {ingredient.capitalize()} in all",
            "amount = first | |",
            "tenth = flour / 10 | g | 10 % of the flour",
            "one = flour / 100 | g | 1 % of the flour",
            f"share = amount / flour * 100 | % | {ingredient.capitalize()}, of total flour",
        ),
        {"total flour": answer, "dough": 100 * (first + later) / given["dough"]},
    )


def _percentages(dice):
    ingredient, also = dice.sample(["milk", "butter", "sugar"], 2)
    return {
        "lines": dice.bun(),
        "ingredient": ingredient,
        "flour": dice.step(1000, 6000, 100),
        "second": dice.step(200, 800, 50) if dice.level > 1 else 0,
        "also": also if dice.level > 2 else "",
    }


@kind(_percentages)
def weight_from_percentage(lines, ingredient, flour, second=0, also=""):
    """Weight of one ingredient, or of two together, for so much flour; of it `second` g of rye flour."""
    formula = bun(lines)
    batch, wanted = formula.scale(flour=flour), [name for name in (ingredient, also) if name]
    answer = sum(batch.grams["dough", formula.ingredients.find(name)] for name in wanted)
    given = shares(lines) | {"dough": batch.dough, "total": sum(lines.values())}
    given |= {"first": lines[ingredient], "other": lines.get(also, 0), "flour": 0 if second else flour}
    given |= {"first_flour": flour - second, "second_flour": second}
    weighed = f"bread flour {n(flour - second)} g, rye flour {n(second)} g" if second else f"flour {n(flour)} g"
    words, rest = " and ".join(wanted), {name: value for name, value in lines.items() if name != "flour"}
    return Case(
        f"You weigh {weighed}. In % of total flour: {listed(rest)}. How many g of {words}{' together' * bool(also)}?",
        answer,
        given,
        steps(
            given,
            "flour = first_flour + second_flour | g | All flours together are 100 %",
            "share = first + other | % | Both together",
            "share = first | |",
            "tenth = flour / 10 | g | 10 % of the flour",
            "one = flour / 100 | g | 1 % of the flour",
            f"amount = flour * share / 100 | g | {words.capitalize()}",
        ),
    )


def _total(lines):
    return f"total = {adding(shares(lines))} | % | Total percentage"


def _of_dough(dice):
    drawn = {"lines": dice.bun(), "dough": dice.step(2000, 9000, 50)}
    return drawn | {"share": dice.step(20, 40) if dice.level > 1 else 0, "left": dice.level > 2}


@kind(_of_dough)
def flour_from_dough(lines, dough, share=0, left=False):
    """Flour = dough x 100 / total percentage (Gisslen); then what of it goes into the sponge, or is left."""
    flour = bun(lines).scale(dough=dough).flour
    own, given = flour * share / 100, shares(lines) | {"dough": dough, "share": share}
    more = f"; {n(share)} % of the flour go into a sponge" if share else ""
    asked = ("", " for the sponge", " for the final dough")[bool(share) + left]
    return Case(
        f"Dough needed: {n(dough)} g. In % of flour: {listed(lines)}{more}. How much flour{asked}?",
        flour - own if left else own if share else flour,
        given,
        steps(
            given,
            _total(lines),
            "one = dough / total | g | 1 % of the flour",
            "flour = dough / total * 100 | g | Flour",
            "own = flour * share / 100 | g | Flour in the sponge",
            *(["rest = flour - own | g | Flour left for the final dough"] if left else []),
        ),
        parts=tuple(list(lines)[1:]),
    )


def _no_salt(lines):
    return {name: value for name, value in lines.items() if name != "salt"}


def _pieces(dice):
    drawn = {"lines": _no_salt(dice.bun()), "count": dice.step(24, 144), "piece": dice.step(45, 90)}
    drawn["loss"] = dice.step(5, 15) if dice.level > 1 else 0
    return drawn | {"topping": dice.step(15, 30) if dice.level > 2 else 0}


@kind(_pieces)
def flour_for_pieces(lines, count, piece, loss=0, topping=0):
    """Flour = count x piece / (1 - loss) x 100 / total percentage; the topping is no part of the dough."""
    formula = bun(lines, makes={"piece": piece}, losses={"dividing": loss})
    given = shares(lines) | {"count": count, "loss": loss, "topping": topping}
    given |= {"raw": piece + topping} if topping else {"piece": piece}
    weigh = f"{count} buns of {n(piece)} g of dough each."
    if topping:
        weigh = f"{count} buns weigh {n(piece + topping)} g each, {n(topping)} g of that topping."
    lose = f" {n(loss)} % of the dough mixed is lost." if loss else ""
    return Case(
        f"{weigh}{lose} In % of flour: {listed(lines)}. How many g of flour?",
        formula.scale(pieces=count).flour,
        given,
        steps(
            given,
            "piece = raw - topping | g | Dough of one bun",
            "scaled = count * piece | g | Dough on the scale",
            "left = 100 - loss | % | Left of the dough mixed",
            "mixed = scaled / left * 100 | g | Dough to mix",
            "mixed = scaled | |",
            _total(lines),
            "flour = mixed / total * 100 | g | Flour",
        ),
        parts=tuple(list(lines)[1:]),
    )


def _shares(dice):
    ingredient, also = dice.sample(["milk", "butter", "sugar"], 2)
    drawn = {"lines": _no_salt(dice.bun()), "ingredient": ingredient, "also": also if dice.level == 2 else ""}
    return drawn | {"rise": dice.step(5, 15) if dice.level > 2 else 0}


@kind(_shares)
def share_of_dough(lines, ingredient, also="", rise=0):
    """True percentage = 100 x baker's percentage / total percentage."""
    risen = lines | {ingredient: lines[ingredient] + rise}
    wanted = [name for name in (ingredient, also) if name]
    amount, words = sum(risen[name] for name in wanted), " and ".join(wanted)
    given = shares(lines) | {"first": lines[ingredient], "other": lines.get(also, 0), "rise": rise}
    change = f" {ingredient.capitalize()} rises by {n(rise)} points." if rise else ""
    of_dough = 100 * amount / measure(bun(risen), "total_percentage")
    return Case(
        f"In % of total flour: {listed(lines)}.{change} What is {words} in the whole dough? Answer with its base: "
        "... % of ...",
        of_dough,
        given,
        steps(
            given,
            "amount = first + other | % | Both together, of total flour",
            f"amount = first + rise | % | {words.capitalize()} now, of total flour",
            "amount = first | |",
            f"others = {adding(list(lines)[1:])}{' + rise' * bool(rise)} | % | All but the flour",
            "total = hundred + others | % | Total percentage",
            f"share = amount / total * 100 | % of dough | {words.capitalize()}",
        ),
        {"dough": of_dough, "total flour": float(amount)},
        parts=tuple(name for name in list(lines)[1:] if name not in wanted),
    )


def _change(dice):
    drawn = {"flour": dice.step(1000, 5000, 100), "ingredient": dice.choice(["butter", "sugar", "egg"])}
    drawn |= {"now": dice.step(12, 30), "by": dice.step(3, 10), "word": dice.choice(["points", "per cent"])}
    drawn |= {"up": dice.level < 2 or dice.random() < 0.5, "weighed": dice.level == 2}
    return drawn | {"then": dice.step(5, 9) if dice.level > 2 else 0}


@kind(_change)
def points_or_percent(flour, ingredient, now, by, word, up=True, weighed=False, then=0):
    """A change in points adds to a percentage, a change in per cent multiplies it; `then`, it falls by the other."""
    points, change, name = word == "points", by if up else -by, ingredient.capitalize()
    final = (now + change) * (1 - then / 100) if points else now * (1 + change / 100) - then
    changed = bun({"flour": 100, ingredient: now}).vary({ingredient: final})
    given, sign = {"flour": flour, "by": by, "then": then}, "+" if up else "-"
    given |= {"old": flour * now / 100} if weighed else {"now": now}
    lines = [
        "now = old / flour * 100 | % | Until now",
        f"share = now {sign} by | % | Points count on the percentage itself",
        "cut = share * then / 100 | points | Per cent count on the percentage before",
        "final = share - cut | % | In the end",
        "final = share | |",
        "one = flour / 100 | g | 1 % of the flour",
        f"amount = one * final | g | {name}",
    ]
    if not points:
        lines = [
            "old = flour * now / 100 | g | Until now",
            "one = old / 100 | g | 1 % of the old amount",
            "change = old * by / 100 | g | Per cent count on the amount before",
            f"changed = old {sign} change | g | {name}",
            "cut = flour * then / 100 | g | Points count on the flour",
            f"amount = changed - cut | g | {name} in the end",
        ]
    start = f"{n(given['old'])} g of {ingredient}" if weighed else f"{ingredient} {n(now)} % of it"
    last = f", then falls by {n(then)} {'per cent' if points else 'points'}" if then else ""
    return Case(
        f"Flour {n(flour)} g, {start}. {name} {'rises' if up else 'falls'} by {n(by)} {word}{last}. How many g of "
        f"{ingredient} now?",
        changed.scale(flour=flour).grams["dough", changed.ingredients.find(ingredient)],
        given,
        steps(given, *lines),
    )


def _sponge(dice):
    drawn = {"flour": dice.step(800, 3000, 20), "liquid": dice.step(50, 64), "share": dice.step(20, 32)}
    drawn["of_sponge"] = dice.step(70, 100)
    if dice.level == 3:
        return drawn | {"flour": dice.step(1500, 3000, 20), "liquid": dice.step(58, 64), "cooked": dice.step(30, 60, 5)}
    told = {"dough": dice.step(1600, 6000, 50), "total": dice.step(170, 205)}
    return drawn | (told if dice.level == 2 else {})


@kind(_sponge)
def final_dough(flour, liquid, share, of_sponge, name="milk", dough=0, total=0, cooked=0):
    """Liquid for the final dough = total - the preferments' (Bread Bakers Guild of America, formula layout).

    dough, total: the dough and its total percentage, told instead of its flour; cooked: g of flour boiled with five
    times its weight of liquid.
    """
    flour, title = dough * 100 / total if dough else flour, name.capitalize()
    formula = bun({"flour": 100, name: liquid, "fresh yeast": 4}).with_preferment("sponge", share, {name: of_sponge})
    final = formula.scale(flour=flour).grams["dough", formula.ingredients.find(name)]
    given = {"liquid": liquid, "share": share, "of_sponge": of_sponge, "cooked_flour": cooked, "cooked": 5 * cooked}
    given |= {"dough": dough, "total": total} if dough else {"flour": flour}
    known = f"Dough {n(dough)} g, total percentage {n(total)} %" if dough else f"Flour {n(flour)} g"
    also = f"; cooked {n(cooked)} g of flour with {n(5 * cooked)} g of {name}" if cooked else ""
    return Case(
        f"{known}; {name} {n(liquid)} % of flour. Sponge: {n(share)} % of the flour, {name} {n(of_sponge)} % of its "
        f"own flour{also}. How much {name} for the final dough?",
        final - 5 * cooked,
        given,
        steps(
            given,
            "flour = dough / total * 100 | g | Flour",
            f"whole = flour * liquid / 100 | g | {title} in all",
            "own = flour * share / 100 | g | Flour in the sponge",
            f"in_sponge = own * of_sponge / 100 | g | {title} in the sponge",
            f"taken = in_sponge + cooked | g | {title} in the sponge and the cooked flour",
            "taken = in_sponge | |",
            f"left = whole - taken | g | {title} for the final dough",
        ),
    )


def _two_bowls(dice):
    flour, of_sponge, of_all = dice.step(700, 1400, 10), dice.step(70, 110), dice.step(48, 62)
    drawn = {"sponge_flour": dice.step(200, 500, 10), "liquid": dice.choice(["milk", "water"])}
    drawn["sponge_liquid"] = round(drawn["sponge_flour"] * of_sponge / 1000) * 10
    own = drawn["sponge_flour"]
    if dice.level > 1:
        drawn["used"] = dice.step(200, own + drawn["sponge_liquid"] - 40, 10)
        drawn["of_sponge"] = of_sponge if dice.level == 2 else 0
        own = drawn["used"] * 100 / (100 + of_sponge)
    poured = (own + flour) * of_all / 100 - own * of_sponge / 100
    return drawn | {"final_flour": flour, "final_liquid": round(poured / 10) * 10}


@kind(_two_bowls)
def folded_in(final_flour, final_liquid, sponge_flour, sponge_liquid, liquid, used=0, of_sponge=0):
    """Hydration of the total formula from two bowls.

    used: how many g of the sponge go in, 0 for all of it; of_sponge: its hydration, told instead of its bowl.
    """
    title, given = liquid.capitalize(), {"final_flour": final_flour, "final_liquid": final_liquid}
    bowl = f"A sponge holds {n(sponge_flour)} g of flour and {n(sponge_liquid)} g of {liquid}"
    in_it = sponge_flour
    if of_sponge:
        bowl = f"A sponge of {n(used)} g holds {n(of_sponge)} % {liquid} on its own flour"
        given |= {"used": used, "of_sponge": of_sponge}
        in_it = used * 100 / (100 + of_sponge)
    elif used:
        bowl += f"; {n(used)} g of it are used"
        given |= {"made_flour": sponge_flour, "made_liquid": sponge_liquid, "used": used}
        in_it = used * sponge_flour / (sponge_flour + sponge_liquid)
    else:
        given |= {"sponge_flour": sponge_flour, "sponge_liquid": sponge_liquid}
    sponge = {"sponge": {"flour": in_it, liquid: (used or sponge_flour + sponge_liquid) - in_it}}
    return Case(
        f"{bowl}. To it go {n(final_flour)} g of flour and {n(final_liquid)} g of {liquid}. Hydration of it all, "
        "% of total flour?",
        hydration(bun({"flour": final_flour, liquid: final_liquid}, sponge)),
        given,
        steps(
            given,
            "parts = 100 + of_sponge | % | Flour and liquid of the sponge, on its flour",
            "sponge_flour = used / parts * 100 | g | Its flour",
            "made = made_flour + made_liquid | g | The whole sponge",
            "sponge_flour = used * made_flour / made | g | Flour in what is used",
            f"sponge_liquid = used - sponge_flour | g | Its {liquid}",
            "flour = final_flour + sponge_flour | g | Flour in all",
            f"poured = final_liquid + sponge_liquid | g | {title} in all",
            "hydration = poured / flour * 100 | % | Hydration",
        ),
    )


def _small(dice):
    while True:
        step = 1 if dice.level == 1 else dice.choice([2, 5])
        drawn = {"percentage": dice.step(0.8, 2.4, 0.1), "flour": step * dice.step(120, 400, 10), "step": step}
        if dice.level > 2:
            drawn |= {"dough": step * dice.step(200, 700, 10), "total": dice.step(170, 205)}
            drawn["flour"] = drawn["dough"] * 100 / drawn["total"]
        exact = drawn["percentage"] * drawn["flour"] / 100 / step
        off = abs(exact - round(exact))
        # halfway, nobody knows the nearest step; so near that rounding hides it, there is nothing to see
        if off < 0.45 and exact > 1 and off * step / drawn["flour"] * 100 > 0.06:
            return drawn | {"ingredient": dice.choice(["salt", "instant yeast", "ground cardamom"])}


@kind(_small)
def scale_rounding(ingredient, percentage, flour, step, dough=0, total=0):
    """What a small ingredient truly is once the scale has rounded it."""
    formula = bun({"flour": 100, ingredient: percentage})
    small = formula.ingredients[formula.ingredients.find(ingredient)]["kind"]
    row = round_to_scale(formula.scale(flour=flour), {small: step}).iloc[1]
    exact, weighed = float(row["exact, g"]), float(row["to weigh, g"])
    title, count = ingredient.capitalize(), round(weighed / step)
    given = {"percentage": percentage, "step": step, "count": count, "other": count + (1 if exact > weighed else -1)}
    given |= {"fine": round(exact), "many": count} if step > 1 else {}
    given |= {"dough": dough, "total": total} if dough else {"flour": flour}
    known = f"dough {n(dough)} g of total percentage {n(total)} %" if dough else f"flour {n(flour)} g"
    return Case(
        f"{title} {n(percentage)} % of flour, {known}; the scale shows steps of {n(step)} g. Weighed to the nearest "
        f"step, what is the {ingredient} really, % of total flour?",
        percentage + float(row["off, points"]),
        given,
        steps(
            given,
            "flour = dough / total * 100 | g | Flour",
            f"exact = flour * percentage / 100 | g | {title} by the formula",
            f"steps = exact / step | steps, the nearest {count} | On the scale",
            "weighed = count * step | g | You weigh",
            "really = weighed / flour * 100 | % | Really",
        ),
    )
