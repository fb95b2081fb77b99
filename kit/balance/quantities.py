"""The quantities a baker steers by, each a quotient of two accounts; for one formula or many at once."""

from dataclasses import dataclass, field

import numpy as np

from .. import page
from ..errors import UnknownName, must
from ..words import did_you_mean, figure, listing
from .accounts import AT, account, dough_lines, dough_with_inclusions, part_lines, unknown_in

# name: (account on top, account beneath, lines it is taken over, factor, unit)
QUOTIENTS = {
    "hydration": ("liquid", "flour", "dough", 100, "% of flour"),
    "total_hydration": ("water_not_flour", "flour", "dough", 100, "% of flour"),
    "fat": ("fat_not_flour", "flour", "dough", 100, "% of flour"),
    "sugars": ("sugars_not_lactose", "flour", "dough", 100, "% of flour"),
    "egg_solids_not_fat": ("egg_solids_not_fat", "flour", "dough", 100, "% of flour"),
    "milk_solids_not_fat": ("milk_solids_not_fat", "flour", "dough", 100, "% of flour"),
    "enrichment_as_weighed": ("enrichment_as_weighed", "flour", "dough", 100, "% of flour"),
    "salt": ("salt", "flour", "dough", 100, "% of flour"),
    "protein": ("protein", "flour", "dough", 100, "% of flour"),
    "fat_as_weighed": ("fat_as_weighed", "flour", "dough", 100, "% of flour"),
    "sugar_as_weighed": ("sugar_as_weighed", "flour", "dough", 100, "% of flour"),
    "butterfat_of_dough": ("butterfat", "mass", "divided", 100, "% of dough"),
    "yolk_of_dough": ("yolk", "mass", "divided", 100, "% of dough"),
    "total_percentage": ("mass", "flour", "divided", 100, "%"),
    "topping_fat": ("fat_not_flour", "mass", "topping", 100, "% of topping"),
    "topping_sugars": ("sugars_not_lactose", "mass", "topping", 100, "% of topping"),
}
SHARES = ("fat", "sugars", "egg_solids_not_fat", "milk_solids_not_fat")
DERIVED = {
    "enrichment_ratio": "% of flour",
    "prefermented_flour": "% of flour",
    "topping_to_dough_ratio": "g per g",
    "sugars_per_piece_dough": "g",
    "sugars_per_piece_topping": "g",
    "sweetness_split": "% of the piece's sugars",
}
UNITS = {name: entry[4] for name, entry in QUOTIENTS.items()} | DERIVED


def measure(formula, names=None, block=2048):
    """Return {quantity: value} for the named quantities, all when None; floats, or arrays of the formulas' shape.

    Unknown figures count as 0 here, so a sum with an unknown contributor is a lower bound: `at_least` tells.
    Many formulas go in blocks of `block` rows, which keeps them in the processor's cache. Raises UnknownName.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "milk": 50, "egg": 20})
    >>> {k: round(v, 2) for k, v in measure(bun, ["hydration", "total_hydration"]).items()}
    {'hydration': 50.0, 'total_hydration': 59.3}
    """
    names = tuple(UNITS) if names is None else tuple(names)
    for name in names:
        if name not in UNITS:
            known = list(UNITS)
            raise UnknownName(must("quantity", f"one of {listing(known, 'or')}", repr(name), did_you_mean(name, known)))
    if not formula.shape:
        return {name: float(value) for name, value in _measure(formula, names).items()}
    size = int(np.prod(formula.shape))
    results = {name: np.empty(size) for name in names}
    for place, some in formula.blocks(block):
        for name, value in _measure(some, names).items():
            results[name][place] = value
    return {name: value.reshape(formula.shape) for name, value in results.items()}


def _measure(formula, names):
    sums = {"dough": account(formula, dough_lines(formula))}
    sums["divided"] = sums["dough"]
    if formula.has("inclusion"):
        sums["divided"] = account(formula, dough_with_inclusions(formula))
    topping = part_lines(formula, "topping")
    sums["topping"] = None if topping is None else account(formula, topping)

    def quotient(name):
        top, beneath, over, factor, _ = QUOTIENTS[name]
        if sums[over] is None:
            return np.zeros(formula.shape)
        return factor * sums[over][..., AT[top]] / sums[over][..., AT[beneath]]

    result = {}
    for name in names:
        if name in QUOTIENTS:
            result[name] = quotient(name)
        elif name == "enrichment_ratio":
            result[name] = sum(quotient(share) for share in SHARES)
        elif name == "prefermented_flour":
            result[name] = sum(formula.flour_in(p) for p in formula.parts if p.kind == "preferment") + 0.0
        elif name == "topping_to_dough_ratio":
            result[name] = (formula.pieces.topping if topping else 0.0) / formula.pieces.dough
        else:
            crumb = formula.pieces.dough * _share(sums["divided"], "sugars_not_lactose")
            crust = formula.pieces.topping * _share(sums["topping"], "sugars_not_lactose")
            if name == "sugars_per_piece_dough":
                result[name] = crumb
            elif name == "sugars_per_piece_topping":
                result[name] = crust
            else:
                whole = crumb + crust
                result[name] = 100 * np.divide(crust, whole, out=np.zeros(np.shape(whole)), where=whole > 0)
    return result


def _share(sums, name):
    return 0.0 if sums is None else sums[..., AT[name]] / sums[..., AT["mass"]]


def at_least(formula, name):
    """Return [(ingredient, g on 100 g flour)] that make a quantity a lower bound; empty when all is known."""
    if name == "enrichment_ratio":
        return [entry for share in SHARES for entry in at_least(formula, share)]
    if name == "sweetness_split" or name.startswith("sugars_per_piece"):
        return _lower("sugars_not_lactose", formula, "dough") + _lower("sugars_not_lactose", formula, "topping")
    if name not in QUOTIENTS:
        return []
    top, _, over, _, _ = QUOTIENTS[name]
    return _lower(top, formula, over)


def _lower(account_name, formula, over):
    lines = part_lines(formula, "topping") if over == "topping" else dough_with_inclusions(formula)
    return [] if lines is None else unknown_in(formula, lines, account_name)


def hydration(formula):
    """Return water and poured liquids as weighed, never egg [% of flour]; float, or array for many.

    The water of egg, butter and yeast is not in it: see `total_hydration`. Definition of the trade.

    >>> from kit.formula import Formula
    >>> hydration(Formula.from_weights("bun", {"bread flour": 850, "light rye flour": 150, "milk": 400}))
    40.0
    """
    return measure(formula, ["hydration"])["hydration"]


def total_hydration(formula):
    """Return all water that ingredients other than flour bring to the dough [% of flour]; float or array.

    Sum of percentage x water per 100 g, USDA SR28 or the house's figures.

    >>> from kit.formula import Formula
    >>> round(total_hydration(Formula.from_weights("bun", {"flour": 100, "egg": 20, "water": 40})), 2)
    55.23
    """
    return measure(formula, ["total_hydration"])["total_hydration"]


def enrichment_as_weighed(formula):
    """Return fats, sugars, eggs and dairy as weighed [% of flour]; float or array.

    >>> from kit.formula import Formula
    >>> enrichment_as_weighed(Formula.from_weights("bun", {"flour": 100, "butter": 15, "milk": 40}))
    55.0
    """
    return measure(formula, ["enrichment_as_weighed"])["enrichment_as_weighed"]


def total_percentage(formula):
    """Return the sum of all percentages of the dough, preferments and inclusions included [%]; float or array.

    >>> from kit.formula import Formula
    >>> total_percentage(Formula.from_weights("bun", {"flour": 50, "water": 30, "salt": 1}))
    162.0
    """
    return measure(formula, ["total_percentage"])["total_percentage"]


def prefermented_flour(formula):
    """Return the flour in preferments [% of total flour]; float or array.

    >>> from kit.formula import Formula
    >>> prefermented_flour(Formula.from_weights("bun", {"flour": 75}, {"sponge": {"flour": 25, "milk": 22}}))
    25.0
    """
    return measure(formula, ["prefermented_flour"])["prefermented_flour"]


def topping_to_dough_ratio(formula):
    """Return topping / dough of a raw piece [g per g]; float or array.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100}, topping={"sugar": 1}, pieces={"dough": 70, "topping": 28})
    >>> topping_to_dough_ratio(bun)
    0.4
    """
    return measure(formula, ["topping_to_dough_ratio"])["topping_to_dough_ratio"]


@dataclass(frozen=True, eq=False)
class EnrichmentRatio:
    """What ingredients other than flour bring to the dough, in four exclusive shares [% of flour]."""

    fat: float
    sugars: float
    egg_solids_not_fat: float
    milk_solids_not_fat: float
    missing: dict = field(default_factory=dict, repr=False)  # share: (ingredient, g on 100 g flour)

    @property
    def unknown(self):
        """What makes any share a lower bound: (ingredient, g on 100 g flour)."""
        return tuple(dict.fromkeys(entry for entries in self.missing.values() for entry in entries))

    @property
    def total(self):
        """Sum of the four shares [% of flour]; a lower bound while `unknown` names anything."""
        return self.fat + self.sugars + self.egg_solids_not_fat + self.milk_solids_not_fat

    def __float__(self):
        return float(self.total)

    def to_frame(self):
        """Return a DataFrame: share, % of flour."""
        import pandas as pd

        values = [*(getattr(self, share) for share in SHARES), self.total]
        return pd.DataFrame({"% of flour": values}, index=[*(s.replace("_", " ") for s in SHARES), "total"])

    def sources(self):
        """Return what the shares rest on."""
        return ["definition: common practice; lactose counts as milk solids, egg's glucose as egg solids"]

    def _repr_html_(self):
        if np.ndim(self.fat):
            return f"<p>enrichment ratio of {np.shape(self.fat)} formulas</p>"
        frame = self.to_frame()
        least = [*(bool(self.missing.get(share)) for share in SHARES), bool(self.unknown)]
        rows = [[name, "≥ " * more + figure(value, 2)]
                for (name, value), more in zip(frame["% of flour"].items(), least, strict=True)]  # fmt: skip
        note = "".join(
            f"<p>unknown in {figure(g, 2)} g of {page.escape(n)} on 100 g flour</p>" for n, g in self.unknown
        )
        return page.table(["enrichment ratio", "% of flour"], rows, strong=(len(rows) - 1,)) + note


def enrichment_ratio(formula):
    """Return the EnrichmentRatio: fat, sugars without lactose, egg and milk solids-not-fat [% of flour].

    Solids-not-fat = protein + carbohydrate + ash. One formula, or arrays for many.

    >>> from kit.formula import Formula
    >>> round(float(enrichment_ratio(Formula.from_weights("bun", {"flour": 100, "sugar": 10, "milk": 10}))), 2)
    11.17
    """
    values = measure(formula, SHARES)
    return EnrichmentRatio(**values, missing={share: at_least(formula, share) for share in SHARES})


@dataclass(frozen=True, eq=False)
class SweetnessSplit:
    """Where a raw piece's sugars lie: topping and crumb [g per piece and % of the piece's sugars]."""

    topping_grams: float
    crumb_grams: float
    unknown: tuple = field(default=(), repr=False)

    @property
    def topping(self):
        """Share in the topping [%]."""
        whole = np.asarray(self.topping_grams + self.crumb_grams)
        share = 100 * np.divide(self.topping_grams, whole, out=np.zeros(whole.shape), where=whole > 0)
        return share if share.ndim else float(share)

    @property
    def crumb(self):
        """Share in the crumb [%]."""
        whole = np.asarray(self.topping_grams + self.crumb_grams)
        share = 100 * np.divide(self.crumb_grams, whole, out=np.zeros(whole.shape), where=whole > 0)
        return share if share.ndim else float(share)

    def to_frame(self):
        """Return a DataFrame: topping and crumb, g per piece, %."""
        import pandas as pd

        return pd.DataFrame(
            {"g per piece": [self.topping_grams, self.crumb_grams], "% of the sugars": [self.topping, self.crumb]},
            index=["topping", "crumb"],
        )


def sweetness_split(formula):
    """Return the SweetnessSplit of a raw piece, sugars without lactose and without the flour's own [g, %].

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "sugar": 16}, topping={"flour": 100, "sugar": 90})
    >>> round(sweetness_split(bun).topping, 1)
    53.4
    """
    values = measure(formula, ("sugars_per_piece_topping", "sugars_per_piece_dough"))
    unknown = tuple(at_least(formula, "sweetness_split"))
    return SweetnessSplit(values["sugars_per_piece_topping"], values["sugars_per_piece_dough"], unknown)
