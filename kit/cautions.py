"""What can hurt: the hazards that a formula raises, with the usual control and its source."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from . import page
from .allergens import of_formula
from .tables import ground, table
from .words import capital, listing

FIRST = "Local codes and licensed practice come first; these are the usual cautions."


@dataclass(frozen=True)
class Cautions:
    """The cautions of one formula: rows of cautions.csv that it raises, and the allergens of its ingredients."""

    rows: tuple = field(repr=False)
    allergens: dict  # allergen: names of the ingredients that bring it
    to_check: tuple = ()  # what may bring others, with what is asked

    def to_frame(self):
        """Return a DataFrame: hazard, control, figure, source."""
        rows = [(r.hazard, r.control, r.figure, ground(r)) for r in self.rows]
        return page.frame(["hazard", "usual control", "figure", "source"], rows)

    def short(self):
        """Return the rows that a sheet on the bench repeats, each with its `short` words."""
        return [row for row in self.rows if row.short]

    @property
    def words(self):
        """The allergens, each with what brings it, and what is to be checked."""
        brought = listing(f"{name} ({listing(brought)})" for name, brought in self.allergens.items())
        contains = f"Contains {brought}." if brought else "No allergen known in it."
        return contains + (f" To check: {listing(self.to_check)}." if self.to_check else "")

    def _repr_html_(self):
        note = "Check every bag's own label: this is the ingredients' usual content, not your supplier's."
        items = "".join(
            f'<li style="margin:2px 0"><b>{page.escape(r.hazard)}</b> {page.escape(r.control)} '
            f"{page.escape(_sentence(r.figure))}</li>"
            for r in self.rows
        )
        rests = page.paragraphs(f"{r.hazard} {ground(r)}." for r in self.rows)
        return (
            '<div role="note" aria-label="Cautions" style="font-size:12.5px;line-height:1.35;color:#222;border-left:'
            f'3px solid #8a6d1f;padding:2px 12px;max-width:900px"><p style="margin:2px 0"><b>{FIRST}</b></p>'
            f'<p style="margin:2px 0"><b>{page.escape(self.words)}</b> {note}</p>'
            f'<ul style="margin:2px 0;padding-left:18px;columns:2 330px;column-gap:34px">{items}</ul>'
            "<details><summary>What each rests on</summary>"
            f'<div style="columns:2 330px;column-gap:34px">{rests}</div></details></div>'
        )


def _sentence(text):
    return f"{capital(text)}." if text else ""


def cautions_for(formula: Any, also: Sequence[str] = ()) -> Cautions:
    """Return the Cautions that a formula raises by its parts and ingredients; local codes come first.

    formula: one Formula; what is at 0 % raises none.
    also: words of cautions.csv's `arises_when`, "label" or "tasting", that add more.
    Returns the hazards with their usual controls, and the allergens with what brings them.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "milk": 50}, topping={"sesame": 1})
    >>> list(cautions_for(bun).allergens)
    ['wheat', 'milk', 'sesame']
    """
    arises = {"always", "mixer", "oven", *also}
    allergens, to_check = of_formula(formula)
    to_check += tuple(f"{kind}, not spelled out" for kind in unspelled(formula))
    for part in formula.parts:
        for key, percentage in part.items:
            if not np.any(percentage):
                continue
            row = formula.ingredients[key]
            if row.group == "egg":
                arises |= {"raw_egg", "egg_wash"} if part.kind == "wash" else {"raw_egg"}
            if row.group in ("flour", "starch"):
                arises.add("raw_flour")
            if row.group == "nut" or row.kind in ("nut", "seed"):
                arises.add("nuts_seeds")
        if part.kind == "filling":
            arises.add("filling")
    if any("syrup" in step.do.casefold() for step in formula.steps):
        arises.add("hot_syrup")
    if allergens or to_check:
        arises.add("allergens")
    rows = tuple(row for row in table("cautions").rows if row.arises_when in arises)
    return Cautions(rows, allergens, to_check)


def together(some):
    """Return the Cautions of several formulas as one: every row and every allergen of any of them.

    >>> from kit.formula import Formula
    >>> buns = [Formula.from_weights("bun", {"flour": 100, "milk": 50} | more) for more in ({}, {"sesame": 2})]
    >>> list(together(map(cautions_for, buns)).allergens)
    ['wheat', 'milk', 'sesame']
    """
    rows, allergens, to_check = {}, {}, {}
    for each in some:
        rows |= {row.key: row for row in each.rows}
        to_check |= dict.fromkeys(each.to_check)
        for allergen, brought in each.allergens.items():
            allergens[allergen] = list(dict.fromkeys((*allergens.get(allergen, ()), *brought)))
    return Cautions(tuple(rows.values()), allergens, tuple(to_check))


def unspelled(formula):
    """Return {wash or filling: g} on a piece of which no part of the formula says what it is made of."""
    masses = {kind: getattr(formula.pieces, kind) for kind in ("filling", "wash") if not formula.has(kind)}
    return {kind: grams for kind, grams in masses.items() if np.any(grams)}
