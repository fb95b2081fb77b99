"""What a formula is made of: one product of percentages and what each ingredient brings.

`weights` says what 1 % of an ingredient brings to each account; every balance is `percentages @ weights`, so one
formula and a million take the same road. An account is a sum over ingredients, which is why what moved in it can
be told ingredient by ingredient, exactly.
"""

import functools
from dataclasses import dataclass

import numpy as np

from ..formula.parts import MIXED
from ..tables import COLUMNS, table

# The accounts, in the order of their columns: what is added up, each of it in g (energy in kcal).
ACCOUNTS = (
    "mass",
    "flour",
    "liquid",
    "water",
    "water_not_flour",
    "fat",
    "fat_not_flour",
    "sugars",
    "sugars_not_lactose",
    "egg_solids_not_fat",
    "milk_solids_not_fat",
    "enrichment_as_weighed",
    "salt",
    "protein",
    "carbohydrate",
    "ash",
    "alcohol",
    "fibre",
    "energy",
    "fat_as_weighed",
    "sugar_as_weighed",
    "butterfat",
    "yolk",
)
AT = {name: n for n, name in enumerate(ACCOUNTS)}
# Those that a figure missing from the tables makes a lower bound.
_FROM = {
    "water": "water",
    "water_not_flour": "water",
    "fat": "fat",
    "fat_not_flour": "fat",
    "sugars": "sugars",
    "sugars_not_lactose": "sugars",
    "protein": "protein",
    "carbohydrate": "carbohydrate",
    "ash": "ash",
    "alcohol": "alcohol",
    "fibre": "fibre",
    "energy": "energy",
    "salt": "added_salt",
}
_SWEETER = 1.1  # milk or egg this much sweeter, on its solids-not-fat, than any of the tables is not plain


@functools.lru_cache(maxsize=64)
def _weights_of(ingredients):
    """Return (I, K) what 1 g brings to each account, and (I, K) whether that is unknown."""
    rows = ingredients.rows
    per_gram = ingredients.composition / 100
    column = {name: per_gram[:, c] for c, name in enumerate(COLUMNS)}
    kind = np.array([row["kind"] for row in rows])
    group = np.array([row["group"] for row in rows])
    flour = kind == "flour"
    # What butter brings besides fat and water is milk's; salted butter's solids are the unsalted's, its salt apart.
    dairy = (group == "dairy") | np.isin(kind, ("butter", "clarified butter"))
    solids = column["protein"] + column["carbohydrate"] + column["ash"]
    egg = group == "egg"
    salted_butter = (kind == "butter") & (column["added_salt"] > 0)
    plain_butter = ingredients.row("butter_unsalted")
    milk_solids = np.where(salted_butter, solids[plain_butter], solids)
    lactose, added, parted = _parted_sugars(ingredients, solids, (egg, dairy))
    others = ~(flour | egg | dairy)
    yolk_share = each_large("egg_yolk_fresh") / each_large("egg_whole_fresh")
    values = {
        "mass": np.ones(len(rows)),
        "flour": flour,
        "liquid": np.array([row["counts_as_liquid"] == "yes" for row in rows]),
        "water": column["water"],
        "water_not_flour": column["water"] * ~flour,
        "fat": column["fat"],
        "fat_not_flour": column["fat"] * ~flour,
        "sugars": column["sugars"],
        "sugars_not_lactose": np.where(others, column["sugars"] - lactose, added * ~flour),
        "egg_solids_not_fat": (solids - added) * egg,
        "milk_solids_not_fat": (milk_solids - added) * dairy + lactose * others,
        "enrichment_as_weighed": np.isin(group, ("fat", "sugar", "egg", "dairy")),
        "salt": column["added_salt"],
        "protein": column["protein"],
        "carbohydrate": column["carbohydrate"],
        "ash": column["ash"],
        "alcohol": column["alcohol"],
        "fibre": column["fibre"],
        "energy": column["energy"],
        "fat_as_weighed": group == "fat",
        "sugar_as_weighed": np.where(group == "sugar", 1.0, added),
        "butterfat": column["fat"] * dairy,
        "yolk": np.where(kind == "yolk", 1.0, np.where(kind == "egg", yolk_share, 0.0)),
    }
    weights = np.stack([np.asarray(values[name], float) for name in ACCOUNTS], axis=1)
    unknown = np.zeros(weights.shape, bool)
    for name, source in _FROM.items():
        unknown[:, AT[name]] = ~ingredients.known[:, COLUMNS.index(source)]
    for name in ("water_not_flour", "fat_not_flour"):
        unknown[flour, AT[name]] = False
    unknown[:, AT["sugars_not_lactose"]] = np.where(others, unknown[:, AT["sugars"]], ~parted & ~flour)
    for name in ("egg_solids_not_fat", "milk_solids_not_fat"):
        members = egg if name.startswith("egg") else dairy
        parts = [COLUMNS.index(c) for c in ("protein", "carbohydrate", "ash")]
        unknown[:, AT[name]] = members & ~ingredients.known[:, parts].all(1)
    return weights, unknown


def _parted_sugars(ingredients, solids, groups):
    """Return (I,) the lactose and (I,) the added sugars that 1 g brings [g], and (I,) whether the two are known apart.

    A row's own lactose figure goes first, then sugar_shares.csv by kind. Plain milk's sugars are all lactose, plain
    egg's its own glucose; a kind that the tables do not have, or one sweeter than any of theirs, may hold added sugar.
    """
    rows, (sweet, milky) = ingredients.rows, (COLUMNS.index(name) for name in ("sugars", "lactose"))
    sugars, own = ingredients.composition[:, sweet] / 100, ingredients.composition[:, milky] / 100
    house, shares = ingredients.house, {row["kind"]: row for row in table("sugar_shares").rows}
    listed = np.array([row["kind"] in shares for row in rows])

    def share(column):
        return np.array([float(shares[row["kind"]][column]) / 100 if row["kind"] in shares else 0.0 for row in rows])

    # a house that gives sugars alone says nothing of the lactose, whatever the table had
    told = ingredients.known[:, [sweet, milky]].all(1) & (house[:, milky] | ~house[:, sweet])
    egg, dairy = groups
    lactose = np.where(listed, sugars * share("lactose_percent_of_sugars"), sugars * dairy)
    lactose = np.where(told, np.minimum(own, sugars), lactose)
    added = np.where(told & dairy, sugars - lactose, sugars * share("added_percent"))
    parted = (told & dairy) | (listed & ingredients.known[:, sweet])
    for group in groups:
        plain = group & ~listed & ~house[:, sweet] & (solids > 0)  # a house may know only the water of its egg
        kinds = {row["kind"] for row, is_plain in zip(rows, plain, strict=True) if is_plain}
        most = _SWEETER * np.max(sugars[plain] / solids[plain])
        parted |= group & ~listed & (sugars <= most * solids) & np.array([row["kind"] in kinds for row in rows])
    return lactose * ~egg, added, parted


@functools.cache
def each_large(egg):
    """Return what the whole or a part of one large egg weighs, by measures.csv [g]; egg: its ingredient's key."""
    rows = (row for row in table("measures").rows if row["measure"] == "each-large")
    return next(float(row["grams_per_measure"]) for row in rows if row["ingredient"] == egg)


def weights(formula, keys):
    """Return (I, K): what 1 g of each of these ingredients brings to each account."""
    return _weights_at(formula.ingredients, tuple(keys))


@functools.lru_cache(maxsize=256)
def _weights_at(ingredients, keys):
    result = _weights_of(ingredients)[0][[ingredients.row(key) for key in keys]]
    result.setflags(write=False)  # shared by all who ask
    return result


@dataclass(frozen=True, eq=False)
class Lines:
    """Ingredients with their grams (..., I), on whatever base the caller took."""

    keys: tuple
    grams: np.ndarray


def dough_lines(formula):
    """Return the dough's ingredients as Lines, per 100 g of total flour."""
    return Lines(formula.dough_keys, formula.dough_percentages)


def part_lines(formula, *kinds):
    """Return the lines of all parts of these kinds, per 100 of their base; None when the formula has none."""
    parts = [part for part in formula.parts if part.kind in kinds]
    if not parts:
        return None
    keys = tuple(dict.fromkeys(key for part in parts for key in part.keys))
    grams = np.zeros((*formula.shape, len(keys)))
    for part in parts:
        for key, value in part.items:
            grams[..., keys.index(key)] += value
    return Lines(keys, grams)


def dough_with_inclusions(formula):
    """Return the Lines of the dough as it is divided: bowls and inclusions, per 100 g of total flour."""
    return part_lines(formula, *MIXED) if formula.has("inclusion") else dough_lines(formula)


def lines_of(formula, over):
    """Return the Lines of the "dough", of it as "divided", or of the parts of a kind; None when there are none."""
    known = {"dough": dough_lines, "divided": dough_with_inclusions}
    return known[over](formula) if over in known else part_lines(formula, over)


def account(formula, lines):
    """Return (..., K): the sums of every account over these lines."""
    return lines.grams @ weights(formula, lines.keys)


def unknown_in(formula, lines, name):
    """Return [(ingredient's name, its grams)] whose figure for an account the tables do not know."""
    place = [formula.ingredients.row(key) for key in lines.keys]
    unknown = _weights_of(formula.ingredients)[1][place, AT[name]]
    return [
        (formula.ingredients[key]["name"], float(np.max(lines.grams[..., n])))
        for n, key in enumerate(lines.keys)
        if unknown[n] and np.any(lines.grams[..., n] > 0)
    ]
