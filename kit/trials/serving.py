"""How a tasting is served, so that neither code nor order tells anything, and how its answers are read back.

All is drawn from a seed: the same seed prints the same cards again.
"""

import contextlib
import os
import random
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from .. import page
from ..cautions import FIRST, cautions_for, together
from ..errors import AmountError, FileError, KitError, must, whole
from ..files import as_cell, from_cell, stem, write_whole
from ..formula import Formula
from ..page import Result
from ..tables import read_csv, table, told
from ..words import capital, listing, one_of, plain, plural
from .fields import text_of
from .reading import TrialError
from .tasting import ranking, rules, sample_names, tasting

TESTS = ("triangle", "preference", "ranking")
CODES = [f"{n}" for n in range(100, 1000) if n // 100 != n // 10 % 10 != n % 10]  # three digits, no two alike in a row
CSS = page.style(__file__)


def serving_orders(test, samples):
    """Return the orders [places of samples] that balance each other when all are served equally often.

    Triangle: the six of two samples. Else Williams 1949, Austral. J. Sci. Res. A 2:149: each sample as often in each
    place and after each other.

    >>> serving_orders("ranking", 4)
    ((0, 1, 3, 2), (1, 2, 0, 3), (2, 3, 1, 0), (3, 0, 2, 1))
    """
    test = one_of("test", test, TESTS)
    if test == "triangle":
        return (0, 0, 1), (0, 1, 0), (1, 0, 0), (1, 1, 0), (1, 0, 1), (0, 1, 1)
    first = [(n + 1) // 2 if n % 2 else -n // 2 for n in range(samples)]
    rows = tuple(tuple((each + n) % samples for each in first) for n in range(samples))
    return rows + tuple(row[::-1] for row in rows) if samples % 2 else rows


@dataclass(frozen=True)
class ServingPlan(Result):
    """Who is served what, under which codes, in which order; see `cards`, `key` and `form`."""

    test: str
    names: tuple
    servings: dict = field(repr=False)  # taster: ((code, place of the sample), ...) in order
    seed: int
    question: str = ""
    served: str = ""  # crumb, crust
    hazards: Any = None  # of the samples whose formulas are known
    invented: bool = False

    @property
    def title(self):
        """What is tasted, marked when invented."""
        part = f", {self.served}" if self.served else ""
        return f"{capital(self.test)}: {listing(self.names)}{part}{' (invented)' * self.invented}"

    @property
    def task(self):
        """What a taster is told to do."""
        return told("paper_words", {"question": self.question}, paper=self.test, what="do")[0]

    @property
    def notes(self):
        """What the kitchen is to see to."""
        many, orders = len(self.servings), len(serving_orders(self.test, len(self.names)))
        figures = {
            "wait": f"{rules()['wait']:g}",
            "samples": f"{len(self.names)}" * (len(self.names) > rules()["most_samples"]),
            "most": f"{rules()['most_samples']:g}",
            "parts": "crumb and crust" * (self.test == "triangle" and not self.served),
            "orders": f"{orders}" * bool(many % orders),
            "tasters": plural(many, "taster"),
            "near": f"{orders * (many // orders + 1)}",
        }
        return (*told("paper_words", figures, paper="tasting", what="serve"), *(row.control for row in _cautions()))

    columns, named = ("taster", "place", "code", "sample"), False

    def frame_rows(self):
        """Return the rows of the frame, one a sample served."""
        return [
            (taster, place, code, self.names[sample])
            for taster, cups in self.servings.items()
            for place, (code, sample) in enumerate(cups, 1)
        ]

    def tables(self):
        """Return who is served what in which place, and room for the answer."""
        names = [name.replace(" %", "\xa0%") for name in self.names]
        rows = [[who, *(f"{code}: {names[n]}" for code, n in cups), ""] for who, cups in self.servings.items()]
        places = map(str, range(1, len(rows[0]) - 1))
        return [(["taster", *places, "answer"], rows, f"{self.title}, seed {self.seed}")]

    def cards(self, paper: str = "A4") -> str:
        """Return the cards to print and cut, as a whole HTML page: one a taster, A4 or Letter."""
        made = "".join(self._card(taster) for taster in self.servings)
        return page.sheet(f"Cards. {self.title}", f'<main class="cards">{made}</main>', CSS, paper)

    def key(self, paper: str = "A4") -> str:
        """Return the kitchen's page as whole HTML: who gets which sample under which code; tasters must not see it."""
        notes = page.paragraphs((*self.notes, self._contains, FIRST))
        body = f"<h1>Key, for the kitchen alone</h1>{page.table(*self.tables()[0])}{notes}"
        return page.sheet(f"Key. {self.title}", body, CSS, paper)

    def form(self) -> str:
        """Return the CSV text that the kitchen fills in: a row a taster."""
        rows = [(as_cell(who), " ".join(code for code, _ in cups), "") for who, cups in self.servings.items()]
        table = page.frame(("taster", "codes", "answer"), rows).to_csv(index=False, lineterminator="\n")
        return f"# {' '.join(self.title.split())}. Seed {self.seed}.\n{table}"

    def save(self, folder: str | os.PathLike = ".", paper: str = "A4") -> tuple[Path, ...]:
        """Write cards, key and the form for the answers into a folder; return their paths. Raises FileError.

        A form that is there already stays: it may be filled in.
        """
        name = stem(f"{self.test} {' '.join(self.names)}"[:40] + f" {self.seed}")
        made = {"cards.html": self.cards(paper), "key.html": self.key(paper), "answers.csv": self.form()}
        paths = tuple(Path(folder) / f"{name}_{end}" for end in made)
        for path, text in zip(paths, made.values(), strict=True):
            with contextlib.suppress(FileExistsError):
                write_whole(path, text, page.is_sheet if path.suffix == ".html" else None)
        return paths

    def answers(self, path: str | os.PathLike) -> "Answers":
        """Return the Answers in a CSV file made by `form`: taster and answer.

        path: an answer is a code; "none" for no preference; or the codes in order, = between those that are alike

        Blank ones are left out and told. Raises FileError, AmountError, TrialError, UnknownName, with file and row.
        """
        path = Path(path)
        own, given = read_csv(path), {}
        columns = {plain(name): name for name in own.columns}
        if not {"taster", "answer"} <= columns.keys():
            got = listing(own.columns) or "an empty file"
            raise FileError(must(path.name, "a table with taster and answer", got, "start from the plan's form"))
        for n, row in zip(own.places, own.rows, strict=True):
            try:
                taster = one_of("taster", from_cell(row[columns["taster"]]), self.servings)
                if taster in given:
                    raise TrialError(must("taster", "named once", f"{taster} again", "keep the row that holds"))
                answer = from_cell(row[columns["answer"]])
                given[taster] = _read(self, taster, answer) if answer.strip() else ""
            except KitError as error:
                raise type(error)(f"{path.name} row {n}: {error}") from None
        answered = {who: given[who] for who in self.servings if given.get(who, "") != ""}
        return Answers(self, answered, tuple(who for who in self.servings if who not in answered), own.about)

    @property
    def _contains(self):
        check = f"; to check: {listing(self.hazards.to_check)}" if self.hazards.to_check else ""
        return f"Samples contain {', '.join(self.hazards.allergens).upper() or '__________'}{check}."

    def _card(self, taster):
        """Return a card as HTML: what is asked before a taster begins, what to do, the cups by code, what to mind."""
        codes = "".join(f"<b>{code}</b>" for code, _ in self.servings[taster])
        part = f": {page.escape(self.served)}" if self.served else ""
        short = {row.key: page.escape(row.short) for row in _cautions()}
        ask, consent = short.pop("tasting"), short.pop("tasting_consent")
        mind = f"Drink water and wait {rules()['wait']:g} min between samples. Do not talk. {' '.join(short.values())}"
        return (
            f'<section><p><b>{page.escape(taster)}</b>{part}</p><p class="ask"><b>{ask}</b> '
            f'{page.escape(self._contains)}</p><p class="line">{consent} Signed<span></span></p>'
            f'<p class="task">{page.escape(self.task)}</p><div class="cups">{codes}</div>'
            f'<p class="line">Answer<span></span></p><p>{mind}</p></section>'
        )


def _cautions():
    return [row for row in table("cautions").rows if row.arises_when == "tasting"]


def serving_plan(
    test: str,
    samples: "Iterable[str] | Mapping[str, Formula]",
    tasters: "int | Iterable[str]",
    seed: int,
    question: str = "",
    served: str = "",
) -> ServingPlan:
    """Return the ServingPlan of a tasting: who is served what, under which codes, in which order.

    test: triangle, preference or ranking
    samples: {name: Formula}, whose allergens are then named, or names; two of them but to rank
    tasters: their number [count], or names
    seed: a whole number; the same one gives the same cards
    question: of a ranking, what comes first
    served: crumb or crust

    Raises AmountError, TrialError, UnknownName.

    >>> plan = serving_plan("triangle", ["plain", "25 % butter"], 12, seed=7)
    >>> len(plan.servings), plan.servings == serving_plan("triangle", ["plain", "25 % butter"], 12, seed=7).servings
    (12, True)
    """
    test = one_of("test", test, TESTS)
    samples = samples if isinstance(samples, dict) else dict.fromkeys(samples) if not isinstance(samples, str) else {}
    if len(samples) < 2 or (test != "ranking" and len(samples) > 2):
        be = "two or more" if test == "ranking" else "two"
        raise AmountError(must("samples", be, len(samples) or "none", "name each bake that is tasted once"))
    names = sample_names([text_of(name, "sample", needed=True) for name in samples], len(samples))
    seed, given = whole("seed", seed, 0), [tasters] if isinstance(tasters, str) else tasters
    if not isinstance(given, Iterable):
        given = [f"P{n}" for n in range(1, whole("tasters", given, 2, len(CODES) // 2) + 1)]
    who = [text_of(each, "taster", needed=True) for each in given]
    if len(who) < 2 or len({plain(each) for each in who}) < len(who):
        got, do = listing(who) or "none", "give each a code, such as P1"
        raise AmountError(must("tasters", "2 or more, each once", got, do))
    question = text_of(question, "question") or ("the best liked" if test == "ranking" else "")
    orders, dice = serving_orders(test, len(names)), random.Random(seed)
    times, rest = divmod(len(who), len(orders))
    drawn = [*orders * times, *dice.sample(orders, rest)]
    dice.shuffle(drawn)
    needed = whole("codes", len(who) * len(orders[0]), 2, len(CODES), do="split the tasters into two sittings")
    codes = iter(dice.sample(CODES, needed))
    servings = {
        taster: tuple((next(codes), sample) for sample in order) for taster, order in zip(who, drawn, strict=True)
    }
    formulas = [each for each in samples.values() if isinstance(each, Formula)]
    hazards, invented = together(map(cautions_for, formulas)), any(each.invented for each in formulas)
    return ServingPlan(test, names, servings, seed, question, text_of(served, "served") or "", hazards, invented)


@dataclass(frozen=True)
class Answers:
    """What the tasters answered: {taster: answer}; of a preference None is for neither."""

    plan: ServingPlan
    given: dict
    blank: tuple  # tasters whose answer is blank, or not whole
    about: str = ""  # what the file says of itself

    @property
    def notes(self):
        """What is left out, and what the file says of itself."""
        left = f"{plural(len(self.blank), 'blank answer')} left out: {listing(self.blank)}." if self.blank else ""
        return tuple(filter(None, (left, self.about)))

    def result(self):
        """Return the Tasting or Ranking of the answers. Raises AmountError."""
        plan, given = self.plan, list(self.given.values())
        if plan.test == "ranking":
            return ranking(given, plan.names, plan.question)
        neither = given.count(None)
        return tasting(plan.test, given.count(True), len(given) - neither, plan.names, neither)

    def _repr_html_(self):
        return self.result()._repr_html_() + page.paragraphs(self.notes)


def _read(plan, taster, answer):
    """Return what one answer says: whether it is right or for the first sample, or ranks."""
    cups = dict(plan.servings[taster])
    do = f"{taster} was served {listing(cups)}"
    if plan.test == "ranking":
        from scipy.stats import rankdata

        groups = [group.split("=") for group in re.sub(r"\s*=\s*", "=", answer).replace(">", " ").split()]
        placed = [(code, n) for n, group in enumerate(groups) for code in group]
        if sorted(code for code, _ in placed) != sorted(cups):
            raise TrialError(must("answer", "every code once", repr(answer), do))
        return list(rankdata([dict(placed)[code] for code in sorted(cups, key=cups.__getitem__)]))
    if plan.test == "preference" and plain(answer) in ("none", "no preference", "neither"):
        return None
    if answer not in cups:
        raise TrialError(must("answer", "a code on that taster's card", repr(answer), do))
    chosen = cups[answer]
    return list(cups.values()).count(chosen) == 1 if plan.test == "triangle" else chosen == 0
