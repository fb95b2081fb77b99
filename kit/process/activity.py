"""Water activity of a dough, from its own sugars, salt and water."""

import functools
from typing import Any

import numpy as np

from ..balance.accounts import lines_of
from ..errors import FormulaError, must
from ..formula import Formula
from ..tables import COLUMNS, table
from ..words import figure

# What the yeast meets, in g on 100 g of flour, in the order of the columns of `weights`.
SOLUTES = ("sucrose", "hexose", "lactose", "salt", "water", "yeast")
SUCROSE, HEXOSE, LACTOSE, SALT, WATER, YEAST = range(len(SOLUTES))


@functools.cache
def constant(solute, what):
    """Return a figure of water_activity_solutes.csv, in the unit its row names."""
    return table("water_activity_solutes").row(solute=solute, what=what).value


@functools.cache
def yeast_factors(name):
    """Return what 1 g of a yeast counts as fresh yeast, by every row of yeast_forms.csv, the one used first [g]."""
    if name == "fresh yeast":
        return (1.0,)
    return tuple(1 / row.factor for row in table("yeast_forms").rows if row.to_form == name)


@functools.lru_cache(maxsize=64)
def weights(ingredients):
    """Return (I, 6): what 1 g of each ingredient brings of each of SOLUTES [g].

    Sugars by sugar_shares.csv (dairy's are lactose, others not named are glucose and fructose); water is what
    ingredients other than flour bring, since the flour's own is bound; yeast is fresh yeast by yeast_forms.csv.
    """
    shares = {
        row.kind: [float(value) / 100 for name, value in row.items() if name.endswith("_of_sugars")]
        for row in table("sugar_shares").rows
    }
    per_gram = ingredients.composition / 100
    sugars, water, salt = (per_gram[:, COLUMNS.index(name)] for name in ("sugars", "water", "added_salt"))
    result = np.zeros((len(ingredients.rows), len(SOLUTES)))
    for n, row in enumerate(ingredients.rows):
        usual = (0.0, 0.0, 1.0) if row.group == "dairy" else (0.0, 1.0, 0.0)
        result[n, : LACTOSE + 1] = sugars[n] * np.array(shares.get(row.kind, usual))
        if row.kind == "yeast":
            result[n, YEAST] = (yeast_factors(row.name) or (0.0,))[0]
    result[:, SALT] = salt
    result[:, WATER] = water * np.array([row.kind != "flour" for row in ingredients.rows])
    return result


def solutes_of(formula, lines=None):
    """Return (..., 6): what the yeast meets in these lines, the whole dough's when None [g on 100 g flour]."""
    lines = lines or lines_of(formula)
    return lines.grams @ weights(formula.ingredients)[[formula.ingredients.row(key) for key in lines.keys]]


def norrish(molality, k):
    """Return ln(water activity) of a sugar: aw = Xw exp(K Xs^2), Norrish 1966; molality [mol per kg of water]."""
    share = molality / (molality + constant("water", "moles in 1 kg"))
    return np.log1p(-share) + k * share**2


def pitzer(molality):
    """Return ln(water activity) of sodium chloride at 25 degC, Pitzer and Mayorga 1973, to 6 mol per kg [mol per kg].

    phi = 1 - A sqrt(m) / (1 + 1.2 sqrt(m)) + m (beta0 + beta1 exp(-2 sqrt(m))) + m^2 C; ln aw = -2 m phi / 55.508.
    """
    root = np.sqrt(molality)
    phi = (
        1
        - constant("salt", "Pitzer A") * root / (1 + 1.2 * root)
        + molality * (constant("salt", "Pitzer beta0") + constant("salt", "Pitzer beta1") * np.exp(-2 * root))
        + molality**2 * constant("salt", "Pitzer C")
    )
    return -2 * molality * phi / constant("water", "moles in 1 kg")


def molalities(solutes, free=0.0):
    """Return {solute: mol per kg of the dough's water}, sucrose as the glucose and fructose that yeast makes of it.

    free [% of flour] of the yeast's sugars (not lactose) is left out.
    """
    sucrose, hexose, lactose, salt, water, _ = np.moveaxis(solutes, -1, 0)
    per_kg = 1000 / water
    if np.any(free):
        sugar = sucrose + hexose
        counted = np.maximum(sugar - free, 0.0) / np.where(sugar > 0, sugar, 1.0)
        sucrose, hexose = sucrose * counted, hexose * counted
    of_sucrose, of_hexose = per_kg / constant("sucrose", "molar mass"), per_kg / constant("glucose", "molar mass")
    return {
        "glucose": hexose * of_hexose + 2 * sucrose * of_sucrose,
        "lactose": lactose * per_kg / constant("lactose", "molar mass"),
        "salt": salt * per_kg / constant("salt", "molar mass"),
    }


def ln_activity(molality):
    """Return ln(water activity) of a mixture {solute: mol per kg of water, 0 to 6}.

    aw = product of each solute's in all the water, Ross 1975; of sucrose, glucose, fructose and lactose by Norrish
    1966, of salt by Pitzer and Mayorga 1973.

    >>> [round(float(np.exp(ln_activity(alone))), 4) for alone in ({"sucrose": 1.5}, {"salt": 1.4})]
    [0.9693, 0.9531]
    """
    return sum(
        pitzer(value) if solute == "salt" else norrish(value, constant(solute, "Norrish K"))
        for solute, value in molality.items()
    )


def must_have_water(solutes):
    """Raise FormulaError for a dough without water, or with a brine in which yeast does not grow."""
    if np.any(solutes[..., WATER] <= 0):
        raise FormulaError(must("water", "in the dough", "0 %", "give water, milk or egg: dry yeast does not rise"))
    share = table("rise_parameters").row(what="most salt in the dough's water").value
    salt, most = solutes[..., SALT], solutes[..., WATER] * share / (100 - share)
    if np.any(salt > most):
        worst = np.argmax(salt / most)
        be = f"at most {figure(np.ravel(most)[worst])} % of flour in this dough's water, where yeast stops growing"
        raise FormulaError(must("salt", be, f"{figure(np.ravel(salt)[worst])} %", "a sweet dough takes 1.2 to 2.2 %"))


def water_activity(formula: Formula) -> Any:
    """Return the water activity of a dough, 0 to 1.

    formula: one, or many

    Sugars (sucrose as the glucose and fructose that yeast makes of it) and salt in all the water that ingredients
    other than flour bring; the flour's own counts as bound. Norrish 1966, Pitzer and Mayorga 1973, Ross 1975; to
    6 mol per kg. Starch, protein and minerals lower it a little more. Returns a float, or an array for many.
    Raises FormulaError without water or with too much salt.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "water": 57, "sugar": 18, "salt": 1.6, "fresh yeast": 4})
    >>> round(water_activity(bun), 3)
    0.952
    """
    result = activity_in(solutes_of(formula))
    return result if np.ndim(result) else float(result)


def activity_in(solutes: np.ndarray) -> Any:
    """Return the same of what the yeast meets (..., 6) [g on 100 g flour]."""
    must_have_water(solutes)
    return np.exp(ln_activity(molalities(solutes)))
