"""How much so few tasters can say: right answers that are needed, and what would go unseen."""

from ..cautions import FIRST
from ..errors import AmountError, must
from ..tables import table
from ..trials.tasting import CHANCE, p_words, tasters_needed, tasting, tasting_power
from ..words import figure, kept
from .panel import Dial, Panel, WholeDial, radio
from .strips import large, small, status, tiles, wrapped

MOST = 60  # tasters that the dials reach


class TastingPanel(Panel):
    """Test, tasters, right answers and a share who notice: what is needed, what it says, and what would go unseen.

    seen: the Tasting to begin with, else a triangle. Raises AmountError for more tasters than the dials reach.
    """

    dial_width = 290
    behind = "how likely by guessing alone"

    def __init__(self, seen=None):
        self.baseline = seen = seen or tasting("triangle", 13, 24, ("the one", "the other"))
        dials = {
            "tasters": WholeDial("how many", seen.tasters, 2.0, float(MOST), 1.0, "tasters", "number"),
            "right": WholeDial("right", seen.right, 0.0, float(MOST), 1.0, "answers", "number"),
            "share": Dial("truly notice", 30.0, 5.0, 95.0, 1.0, "% of such tasters"),
        }
        super().__init__(dials, {"test": radio("test", CHANCE, seen.test)})
        self._check_typed("tasters", seen.tasters)
        cautions = " ".join(row["control"] for row in table("cautions").rows if row["arises_when"] == "tasting")
        self._cautions.value = small(f"{FIRST} {cautions}", color="inherit")
        self._begin([self.choices["test"], self.undo_button, self.reset_button], [d.view for d in dials.values()])

    @property
    def share(self):
        """The share of such tasters who truly notice [%]."""
        return self.dials["share"].value

    def _check_typed(self, name, value):
        if name == "tasters" and value > MOST:
            raise AmountError(must("tasters", f"{MOST} or fewer here", f"{value:g}", "a serving plan takes more"))
        if name == "share" and value > self.dials["share"].high:
            raise AmountError(must("truly notice", "5 to 95 %", f"{value:g} %", "of all who notice none is left out"))

    def _work_out(self, moving):
        tasters, right = (int(self.dials[name].value) for name in ("tasters", "right"))
        if moving == "tasters" and right > tasters:  # fewer tasters than were right: then all are right
            right = self.dials["right"].value = tasters
            self._silently(self.dials["right"].write)  # not its slider: a browser sends back late what it was set to
        seen = self.baseline
        return tasting(self.choices["test"].value, right, tasters, seen.names, 0, seen.risk)

    def _show(self):
        seen, share = self.result, self.share
        needed = f"{seen.needed} needed" if seen.needed <= seen.tasters else "more tasters needed"
        found, of = f"{seen.most} of {seen.tasters}", "more than" if seen.found else "no more than may be by"
        low, high = (figure(each, 0) for each in seen.share[1:])
        such = f"95 %: {low} to {high} % of such tasters"
        enough = tasters_needed(seen.test, share, risk=seen.risk)
        power = float(tasting_power(seen.test, share, seen.tasters, seen.risk))
        did, would, does = "told them apart", "truly notice", "notice"
        if seen.test == "preference":
            did, would, does = f"prefer {seen.preferred}", "would prefer it", "prefer it"
        entries = [
            (would, f"{figure(seen.share[0], 0)} %", "", such),
            ("finds it", f"{figure(power, 0)} of 100", "", f"when {share:g} % {does}"),
            ("to find it 80 of 100", f"{enough:,}", "", "tasters needed"),
        ]
        leads = large(did, found, f"{of} guessing; {needed} at a risk of {seen.risk:g} %")
        notes = small(" ".join(seen.notes), margin="0 0 4px")
        numbers = wrapped(("0 0 auto", leads), ("1 1 420px", tiles(entries)))
        self._tell(numbers, status(kept(seen.told())), notes)
        self._show_behind()

    def _behind_html(self):
        return small(f"So many, or more: {p_words(self.result.p)}.")
