"""What a formula is made of: one product of percentages and what each ingredient brings.

`weights` says what 1 % of an ingredient brings to each account; every balance is `percentages @ weights`, so one
formula and a million take the same road. An account is a sum over ingredients, which is why what moved in it can
be told ingredient by ingredient, exactly.
"""

import functools
import itertools

import numpy as np

from ..formula.parts import MIXED, Lines
from ..tables import COLUMNS, table

# What is added up, each of it in g (energy in kcal), in the order of their columns; and the figure of the tables
# without which the sum is a lower bound.
ACCOUNTS = {
    "mass": None,
    "flour": None,
    "liquid": None,
    "water": "water",
    "water_not_flour": "water",
    "fat": "fat",
    "fat_not_flour": "fat",
    "sugars": "sugars",
    "sugars_not_lactose": "sugars",
    "egg_solids_not_fat": None,
    "milk_solids_not_fat": None,
    "enrichment_as_weighed": None,
    "salt": "added_salt",
    "protein": "protein",
    "carbohydrate": "carbohydrate",
    "ash": "ash",
    "alcohol": "alcohol",
    "fibre": "fibre",
    "energy": "energy",
    "fat_as_weighed": None,
    "sugar_as_weighed": None,
    "butterfat": "fat",
    "yolk": None,
}
AT = {name: n for n, name in enumerate(ACCOUNTS)}
_SWEETER = 1.1  # milk or egg this much sweeter, on its solids-not-fat, than any of the tables is not plain


@functools.lru_cache(maxsize=64)
def _weights_of(ingredients):
    """Return (I, K) what 1 g brings to each account, and (I, K) whether that is unknown."""
    rows = ingredients.rows
    column = {name: ingredients.composition[:, c] / 100 for c, name in enumerate(COLUMNS)}
    known = {name: ingredients.known[:, c] for c, name in enumerate(COLUMNS)}
    kind, group = np.array([row.kind for row in rows]), np.array([row.group for row in rows])
    flour, egg = kind == "flour", group == "egg"
    # What butter brings besides fat and water is milk's; salted butter's solids are the unsalted's, its salt apart.
    dairy = (group == "dairy") | np.isin(kind, ("butter", "clarified butter"))
    others = ~(flour | egg | dairy)
    # accounts that take the figure which ACCOUNTS names of these ingredients alone
    only = {"water_not_flour": ~flour, "fat_not_flour": ~flour, "butterfat": dairy}
    solids = column["protein"] + column["carbohydrate"] + column["ash"]
    salted_butter = (kind == "butter") & (column["added_salt"] > 0)
    milk_solids = np.where(salted_butter, solids[ingredients.row("butter_unsalted")], solids)
    lactose, added, parted = _parted_sugars(ingredients, solids, (egg, dairy))
    yolk_share = each_large("egg_yolk_fresh") / each_large("egg_whole_fresh")
    values = column | {name: column[ACCOUNTS[name]] * those for name, those in only.items()}
    values |= {
        "mass": np.ones(len(rows)),
        "flour": flour,
        "liquid": np.array([row.counts_as_liquid == "yes" for row in rows]),
        "sugars_not_lactose": np.where(others, column["sugars"] - lactose, added * ~flour),
        "egg_solids_not_fat": (solids - added) * egg,
        "milk_solids_not_fat": (milk_solids - added) * dairy + lactose * others,
        "enrichment_as_weighed": np.isin(group, ("fat", "sugar", "egg", "dairy")),
        "salt": column["added_salt"],
        "fat_as_weighed": group == "fat",
        "sugar_as_weighed": np.where(group == "sugar", 1.0, added),
        "yolk": np.where(kind == "yolk", 1.0, np.where(kind == "egg", yolk_share, 0.0)),
    }
    missing = {name: ~known[source] if source else np.zeros(len(rows), bool) for name, source in ACCOUNTS.items()}
    some_solids = ~(known["protein"] & known["carbohydrate"] & known["ash"])
    missing |= {name: missing[ACCOUNTS[name]] & those for name, those in only.items()}
    missing |= {
        "sugars_not_lactose": np.where(others, missing["sugars"], ~parted),
        "sugar_as_weighed": ~parted & (group != "sugar"),
        "egg_solids_not_fat": some_solids & egg,
        "milk_solids_not_fat": some_solids & dairy,
    }
    weights, unknown = (np.stack([found[name] for name in ACCOUNTS], axis=1) for found in (values, missing))
    return weights.astype(float), unknown


def _parted_sugars(ingredients, solids, groups):
    """Return (I,) the lactose and (I,) the added sugars that 1 g brings [g], and (I,) whether the two are known apart.

    A row's own lactose figure goes first, then sugar_shares.csv by kind. Plain milk's sugars are all lactose, plain
    egg's its own glucose; a kind that the tables do not have, or one sweeter than any of theirs, may hold added sugar.
    """
    rows, (sweet, milky) = ingredients.rows, (COLUMNS.index(name) for name in ("sugars", "lactose"))
    sugars, own = ingredients.composition[:, sweet] / 100, ingredients.composition[:, milky] / 100
    house, shares = ingredients.house, {row.kind: row for row in table("sugar_shares").rows}
    listed = np.array([row.kind in shares for row in rows])

    def share(column):
        return np.array([getattr(shares[row.kind], column) / 100 if row.kind in shares else 0.0 for row in rows])

    # a house that gives sugars alone says nothing of the lactose, whatever the table had
    told = ingredients.known[:, [sweet, milky]].all(1) & (house[:, milky] | ~house[:, sweet])
    egg, dairy = groups
    lactose = np.where(listed, sugars * share("lactose_percent_of_sugars"), sugars * dairy)
    lactose = np.where(told, np.minimum(own, sugars), lactose)
    added = np.where(told & dairy, sugars - lactose, sugars * share("added_percent"))
    parted = (told & dairy) | (listed & ingredients.known[:, sweet]) | ~(listed | egg | dairy)
    for group in groups:
        plain = group & ~listed & ~house[:, sweet] & (solids > 0)  # a house may know only the water of its egg
        kinds = {row.kind for row, is_plain in zip(rows, plain, strict=True) if is_plain}
        most = _SWEETER * np.max(sugars[plain] / solids[plain])
        parted |= group & ~listed & (sugars <= most * solids) & np.array([row.kind in kinds for row in rows])
    return lactose * ~egg, added, parted


def each_large(egg):
    """Return what the whole or a part of one large egg weighs, by measures.csv [g]; egg: its ingredient's key."""
    return table("measures").row(ingredient=egg, measure="each-large").grams_per_measure


def weights(formula, keys):
    """Return (I, K): what 1 g of each of these ingredients brings to each account."""
    return _weights_at(formula.ingredients, tuple(keys))


@functools.lru_cache(maxsize=256)
def _weights_at(ingredients, keys):
    result = _weights_of(ingredients)[0][[ingredients.row(key) for key in keys]]
    result.setflags(write=False)  # shared by all who ask
    return result


def lines_of(formula, over="dough"):
    """Return the Lines of the "dough" [per 100 g of total flour], of it as "divided", inclusions with it, or of all
    parts of a kind [per 100 of their base]; None when there are none.
    """
    if over == "dough" or (over == "divided" and not formula.has("inclusion")):
        return formula.dough_lines
    kinds = MIXED if over == "divided" else (over,)
    parts = [part for part in formula.parts if part.kind in kinds]
    return Lines.of(parts, formula.shape) if parts else None


def account(formula, lines, names=tuple(ACCOUNTS)):
    """Return {account: its sum} over these lines; of many each as long as what is in it moves."""
    columns = _columns(formula.ingredients, lines.keys, names)
    if not formula.shape:
        return dict(zip(names, (columns @ lines.grams).tolist(), strict=True))
    alike = {}  # those that move along the same axes, in one product
    for n, value in enumerate(lines.values):
        alike.setdefault(np.shape(value), []).append(n)
    sums = dict.fromkeys(names, 0.0)
    for shape, at in sorted(alike.items(), key=lambda entry: np.prod(entry[0])):
        brings = columns[:, at]
        brought = (brings @ np.reshape([lines.values[n] for n in at], (len(at), -1))).reshape(-1, *shape)
        for name, value, some in zip(names, brought, brings.any(1), strict=True):
            if some:
                sums[name] = sums[name] + value
    return sums


@functools.lru_cache(maxsize=256)
def _columns(ingredients, keys, names):
    return np.ascontiguousarray(_weights_at(ingredients, keys)[:, [AT[name] for name in names]].T)


def unknown_in(formula, lines, name):
    """Return [(ingredient's name, its grams)] whose figure for an account the tables do not know."""
    place = [formula.ingredients.row(key) for key in lines.keys]
    unknown = _weights_of(formula.ingredients)[1][place, AT[name]]
    return [
        (formula.ingredients[key].name, float(np.max(value)))
        for key, value, missing in zip(lines.keys, lines.values, unknown, strict=True)
        if missing and np.any(value > 0)
    ]


def in_blocks(formula, reckon, rows=100_000):
    """Return {name: value} that a function gives of a formula; of many in blocks that stay in the processor's cache.

    A value is kept as long as it moves, and only looks repeated along the other axes (it is read, not written).
    """
    if not formula.shape:
        return reckon(formula)
    sides, found = [], {}
    for length in reversed(formula.shape):
        parts = max(length // max(rows, 2), 1)
        ends = np.linspace(0, length, parts + 1).astype(int)
        sides.insert(0, list(itertools.starmap(slice, itertools.pairwise(ends.tolist()))))
        rows = rows * parts // max(length, 1)
    for place in itertools.product(*sides):
        for name, value in reckon(formula[place]).items():
            moves = [*(False,) * (len(place) - np.ndim(value)), *(length > 1 for length in np.shape(value))]
            whole = tuple(n if moving else 1 for n, moving in zip(formula.shape, moves, strict=True))
            if name not in found:
                found[name] = np.empty(whole, np.asarray(value).dtype)
            elif (wide := np.broadcast_shapes(found[name].shape, whole)) != found[name].shape:
                found[name] = np.broadcast_to(found[name], wide).copy()
            at = (side if n > 1 else slice(None) for side, n in zip(place, found[name].shape, strict=True))
            found[name][tuple(at)] = value
    return {name: np.broadcast_to(value, formula.shape) for name, value in found.items()}
