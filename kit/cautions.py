"""What can hurt: the hazards that a formula raises, with the usual control and its source."""

from dataclasses import dataclass, field

from . import page
from .tables import source, table
from .words import listing

FIRST = "Local codes and licensed practice come first; these are the usual cautions."


@dataclass(frozen=True)
class Cautions:
    """The cautions of one formula: rows of cautions.csv that it raises, and the allergens of its ingredients."""

    rows: tuple = field(repr=False)
    allergens: dict  # allergen: names of the ingredients that bring it

    def to_frame(self):
        """Return a DataFrame: hazard, control, figure, source."""
        import pandas as pd

        rows = [(r["hazard"], r["control"], r["figure"], _cite(r)) for r in self.rows]
        return pd.DataFrame(rows, columns=["hazard", "usual control", "figure", "source"])

    def short(self):
        """Return the rows that a sheet on the bench repeats, each with its `short` words."""
        return [row for row in self.rows if row["short"]]

    def say_allergens(self):
        """Return the allergens in words, each with what brings it."""
        return listing(f"{name} ({listing(brought)})" for name, brought in self.allergens.items())

    def _repr_html_(self):
        contains = f"Contains {self.say_allergens()}." if self.allergens else "No allergen known in it."
        note = "Check every bag's own label: this is the ingredients' usual content, not your supplier's."
        items = "".join(
            f'<li style="margin:2px 0"><b>{page.escape(r["hazard"])}</b> {page.escape(r["control"])} '
            f'{page.escape(_sentence(r["figure"]))} <span style="color:#595959">[{page.escape(_cite(r))}]</span></li>'
            for r in self.rows
        )
        return (
            '<div role="note" aria-label="Cautions" style="font-size:12.5px;line-height:1.35;color:#222;border-left:'
            f'3px solid #8a6d1f;padding:2px 12px;max-width:900px"><p style="margin:2px 0"><b>{FIRST}</b></p>'
            f'<p style="margin:2px 0"><b>{page.escape(contains)}</b> {note}</p>'
            f'<ul style="margin:2px 0;padding-left:18px;columns:2 330px">{items}</ul></div>'
        )


def _cite(row):
    if row["source"] in ("common_practice", "from_memory"):
        return f"{row['provenance']}, no source"
    return source(row["source"]) + (", from memory" if row["provenance"] == "from memory" else "")


def _sentence(text):
    return f"{text[0].upper()}{text[1:]}." if text else ""


def cautions_for(formula, also=()):
    """Return the Cautions that a formula raises by its parts and ingredients.

    formula; also (words of cautions.csv's `arises_when`, such as "label") adds more. Local codes come first.

    >>> from kit.formula import Formula
    >>> bun = Formula.from_weights("bun", {"flour": 100, "milk": 50}, topping={"sesame": 1})
    >>> list(cautions_for(bun).allergens)
    ['wheat', 'milk', 'sesame']
    """
    allergens, arises = {}, {"always", "mixer", "oven", *also}
    for part in formula.parts:
        for key in part.keys:
            row = formula.ingredients[key]
            for allergen in filter(None, row["allergens"].split(";")):
                brought = allergens.setdefault(allergen, [])
                if row["name"] not in brought:
                    brought.append(row["name"])
            if row["group"] == "egg":
                arises |= {"raw_egg", "egg_wash"} if part.kind == "wash" else {"raw_egg"}
            if row["group"] in ("flour", "starch"):
                arises.add("raw_flour")
            if row["group"] == "nut" or row["kind"] in ("nut", "seed"):
                arises.add("nuts_seeds")
        if part.kind == "filling":
            arises.add("filling")
    if any("syrup" in step.do.casefold() for step in formula.steps):
        arises.add("hot_syrup")
    if allergens:
        arises.add("allergens")
    order = {word: n for n, word in enumerate(_ORDER)}
    rows = [row for row in table("cautions").rows if row["arises_when"] in arises]
    rows.sort(key=lambda row: order.get(row["arises_when"], len(order)))
    return Cautions(tuple(rows), allergens)


_ORDER = (
    "allergens", "nuts_seeds", "raw_egg", "egg_wash", "raw_flour", "filling", "mixer", "oven", "hot_syrup", "label",
)  # fmt: skip
