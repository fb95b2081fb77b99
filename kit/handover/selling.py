"""What to ask for a piece, and the trap between a margin and a markup."""

from dataclasses import dataclass, field

from .. import page
from ..words import figure, listing
from .cost import ONLY, Cost
from .money import each


@dataclass(frozen=True, eq=False)
class SellingPrice:
    """What to ask for a piece: margin [% of the price before tax] and vat [% on top]."""

    cost: Cost = field(repr=False)
    margin: float
    vat: float = 0.0

    @property
    def price(self):
        """Price of a piece before tax [currency]: cost of a piece sold / (1 - margin / 100)."""
        return self.cost.per_piece_sold / (1 - self.margin / 100)

    @property
    def with_vat(self):
        """Price of a piece with tax [currency]."""
        return self.price * (1 + self.vat / 100)

    @property
    def left(self):
        """What is left of the price before tax [currency]."""
        return self.price - self.cost.per_piece_sold

    @property
    def markup(self):
        """The same money over the cost [%]."""
        return 100 * self.margin / (100 - self.margin)

    @property
    def words(self):
        """The price, and the trap between margin and markup, in one paragraph."""
        unit, paid = self.cost.currency, self.cost.per_piece_sold
        wrong = 100 * self.margin / (100 + self.margin)
        least = "at least " if self.cost.missing else ""
        taxed = f", {least}{each(self.with_vat, unit)} with {self.vat:g} % tax" if self.vat else ""
        said = [f"Ask {least}{each(self.price, unit)} a piece before tax{taxed}."]
        said.append(
            f"Margin {self.margin:g} % of the price: {each(paid)} / {1 - self.margin / 100:g}, which leaves "
            f"{each(self.left, unit)}. That is a markup of {figure(self.markup)} % on the cost. "
            f"{self.margin:g} % laid on the cost would be {each(paid * (1 + self.margin / 100), unit)} "
            f"and leave {figure(wrong)} % of the price only."
        )
        if self.cost.missing:
            said.append(f"No price for {listing(name for name, _ in self.cost.missing)}.")
        return " ".join([*said, *([] if self.cost.extras else [ONLY])])

    def to_frame(self):
        """Return a DataFrame: what, currency a piece."""
        import pandas as pd

        rows = {"cost of a piece sold": self.cost.per_piece_sold, "left": self.left, "price before tax": self.price,
                "tax": self.with_vat - self.price, "price with tax": self.with_vat}  # fmt: skip
        return pd.DataFrame({f"{self.cost.currency} a piece".strip(): rows})

    def sources(self):
        """Return what it rests on: the cost's own sources; margin and tax are the caller's."""
        return self.cost.sources() | {"margin": "given by the caller", "vat": "given by the caller"}

    def _repr_html_(self):
        rows = [[what, each(value)] for what, value in self.to_frame().itertuples()]
        table = page.table(["", f"{self.cost.currency} a piece".strip()], rows, strong=(2, 4))
        return f"<p>{page.escape(self.words)}</p>{table}"
