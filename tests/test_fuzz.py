"""Valid input, broken at random: only a KitError may come of it, and never an answer that takes for ever.

A fixed seed; KIT_TEST_FULL=1 draws 100,000 cases anew, and prints the seed.
"""

import io
import json
import math
import random
import re
import signal
import zipfile

import pytest

from kit import units
from kit.errors import KitError
from kit.formula import Formula, weigh
from kit.formula.files import write
from kit.handover.prices import read_prices
from kit.lessons import exercise, exercises, mark
from kit.show.panel import Dial, WholeDial
from kit.tables import ingredients
from kit.trials import Trial, TrialBook, write_csv
from kit.trials.exchange import unpack

HANGS = 20  # s of the processor's own time, a hundred times what the slowest case takes
ODD = [
    *"½٣−–’％＝éßİﬁ🥐#=.,;:/%()[]{}-0xTg", *"\n\t\x00\ufeff\u200b\u0301\ud800", " ", '"', "'", "\'\'", '"""', "=1+1",
    "/0", "[[", "]]", "<b>", "nan", "inf", "-1", "1e9", "1e400", "0x1f", "1_000", "1,720", "1.720", "true", "null",
    "None", "lb", "oz", "kg", "cups", " x ", "of flour", "% of", "to", "-12", "2025-03-04", "dough", "flour", "topping",
    "day 1", "by P1", "9" * 30, "9" * 400, "9" * 5000, "a" * 300, " " * 3000,
]  # fmt: skip


def broken(rng, text):
    """Return text with a few slips: a piece taken out, doubled, moved, or something odd put in its place."""
    for _ in range(rng.choice((1, 1, 1, 2, 3, 6))):
        at = rng.randrange(len(text) + 1)
        end = min(len(text), at + rng.choice((0, 1, 1, 2, 5, 20)))
        to = rng.randrange(len(text) + 1)
        kind = rng.randrange(6)
        if kind == 0:
            text = text[:at] + text[end:]
        elif kind == 1:
            text = text[:to] + text[at:end] + text[to:]
        elif kind == 2 and at < len(text):
            text = text[:at] + chr(ord(text[at]) ^ 1 << rng.randrange(7)) + text[at + 1 :]
        else:
            text = text[:at] + rng.choice(ODD) + text[end:]
    return text


def _file(folder, data, name="broken"):
    path = folder / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode("utf-8", "surrogatepass"))
    return path


BUN = Formula.from_weights(
    "bun", {"bread flour": 1000, "whole milk": 500, "unsalted butter": 150, "egg": 100, "salt": 16},
    {"sponge": {"flour": 250, "milk": 200}}, topping={"plain flour": 100, "icing sugar": 90, "butter": 80},
    makes={"pieces": 24, "piece": 60}, losses={"baking": 10},
)  # fmt: skip
TOML = (
    write(BUN)
    + """
[[steps]]
do = "mix"
part = "dough"
minutes = 12
temperature = "26 degC"

[bake]
oven = "190 degC"
"""
)
INLINE = "\n".join([
    'format = 1', 'name = "bun"', 'pieces = {count = 24, dough = "60 g"}', "losses.baking = 10",
    "parts.dough = {lines = {flour = 100, milk = 50, butter = 15}}", "parts.topping.lines.flour = 100",
    'parts.topping.lines."icing sugar" = 90', 'house_ingredients.honey.note = "ours"',
    'steps = [{do = "mix", minutes = 9}]',
])  # fmt: skip


VALUES = ["0", "-1", "nan", "inf", "1e9", "1e400", "9" * 18, "9" * 400, "true", "[]", "[1, [2]]", "{}", '"½"']


def formulas(folder):
    def act(rng):
        text = rng.choice((TOML, TOML, INLINE))
        if rng.random() < 0.7:  # one value, so that the file is whole
            values = list(re.finditer(r"(?<= = )[^{}\n]+", text))
            start, end = rng.choice(values).span()
            written = json.dumps(broken(rng, text[start:end].strip('"')), ensure_ascii=False)
            bun = Formula.parse(f"{text[:start]}{rng.choice((written, rng.choice(VALUES)))}{text[end:]}")
        else:
            bun = Formula.parse(broken(rng, text))
        assert bun.of_kind("flour") == pytest.approx(100)
        assert Formula.parse(write(bun)).fingerprint == bun.fingerprint
        for made in (bun.vary(butter=11), bun.vary(topping={"icing sugar": 80}) if bun.has("topping") else bun):
            assert Formula.parse(write(made)).fingerprint == made.fingerprint
        assert bun._repr_html_().encode()

    return act


def spreadsheets(folder):
    BUN.save(folder / "bun.xlsx")
    with zipfile.ZipFile(folder / "bun.xlsx") as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    BUN.save(folder / "bun.csv")
    texts = [
        "Buns, makes 24 at 60 g\n\n" + (folder / "bun.csv").read_text(encoding="utf-8-sig"),
        "Zutat;Menge;Einheit\nflour;1;kg\nmilk;500,5;g\negg;2;large\nTopping\nflour;100;g\nsugar;90;g\n",
    ]

    def act(rng):
        if rng.random() < 0.85:
            data = broken(rng, rng.choice(texts))
        else:
            data = io.BytesIO()
            chosen = rng.choice(["xl/worksheets/sheet1.xml", *members])
            with zipfile.ZipFile(data, "w") as archive:
                for name, body in members.items():
                    text = body.decode("utf-8")
                    archive.writestr(name, (broken(rng, text) if name == chosen else text).encode("utf-8", "replace"))
            data = data.getvalue()
        bun = Formula.read(_file(folder, data, "broken.csv"))
        assert bun.of_kind("flour") == pytest.approx(100)
        assert Formula.parse(write(bun)).fingerprint == bun.fingerprint

    return act


def whole_trial():
    trial = Trial.of("more butter", "2025-03-04", baker="M1", height=[41.5, 42], notes="fine", verdict="keep",
                     planned_formula=BUN, oven_set="190 degC", baked_mass=[70, 71], flour_weighed=1000)  # fmt: skip
    for entry, value in (("crumb dent day 1", [5, 6]), ("liking by P1", 6), ("predicted height", (41, 40, 43)),
                         ("weighed dough egg", 101)):  # fmt: skip
        trial = trial.with_entry(entry, value)
    return trial


def trials(folder):
    (folder / "bun.toml").write_text(TOML, encoding="utf-8")
    trial = whole_trial()
    document = json.dumps(trial.document(), indent=1)
    sheets = [
        write_csv([trial]), 'name;date;"height, cm";oven set\nb;2025-03-04;4,2;190 degC\n',
        "name,date,planned formula,height\na,2025-03-04,bun.toml butter=22 topping.sugar=90,41; 42\n",
    ]  # fmt: skip
    entries = ["height", "crumb dent day 1", "liking by P1", "predicted height", "weighed dough egg", "date", "verdict",
               "parent", "notes", "oven set", "planned proof time", "score pattern"]  # fmt: skip
    values = ["41.5", "4.2 cm; 43,5", "6 of 9", "1 h 30 min", "190 degC", "2025-03-04", "keep", "50 g", "0,6"]

    def act(rng):
        way = rng.randrange(3)
        if way == 0:
            try:
                again = json.loads(broken(rng, document))
            except (ValueError, RecursionError):
                return
            made = Trial.from_document(again)
            assert made.document() == again
        elif way == 1:
            made = [trial, *TrialBook.read(_file(folder, broken(rng, rng.choice(sheets))), folder)][-1]
            assert made._repr_html_()
        else:
            value = rng.choice([broken(rng, rng.choice(values)), rng.choice(
                [None, True, [], {}, [[1], [1, 2]], 10**400, math.nan, -math.inf, b"1", 1j, (1, "x")])])  # fmt: skip
            entry = rng.choice(entries)
            made = trial.with_entry(broken(rng, entry) if rng.random() < 0.5 else entry, value)
        assert Trial.from_document(json.loads(json.dumps(made.document()))).document() == made.document()

    return act


def exports(folder):
    with TrialBook.open(folder / "book.db") as book:
        kept = book.save(whole_trial(), "M1")
        book.save(kept.with_entry("notes", "finer"), "M2")
        whole = book.export(folder / "whole.zip").read_bytes()
    with zipfile.ZipFile(folder / "whole.zip") as archive:
        members = {name: archive.read(name).decode("utf-8") for name in archive.namelist()}

    def act(rng):
        data = bytearray(whole)
        if rng.random() < 0.5:
            for _ in range(rng.choice((1, 1, 4))):
                data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
            if rng.random() < 0.2:
                del data[rng.randrange(len(data)) :]
        else:
            out = io.BytesIO()
            with zipfile.ZipFile(out, "w") as archive:
                for name, text in members.items():
                    text = broken(rng, text) if name == "trials.json" else text
                    archive.writestr(name, text.encode("utf-8", "surrogatepass"))
            data = out.getvalue()
        for kept in unpack(_file(folder, bytes(data)))[0]:
            assert all(Trial.from_document(version.trial.document()) for version in kept.versions)

    return act


def price_lists(folder):
    text = ("# Invented\ningredient,price,currency,pack,usable_percent,date,low_price,high_price,note\n"
            "butter,80,EUR,20 x 250 g,,2025-03-04,70,90,\negg,4.5,EUR,case of 30 large eggs,98,,,,fresh\n"
            'milk,"1,10",EUR,1 L,,,,,\n')  # fmt: skip

    def act(rng):
        for price in read_prices(_file(folder, broken(rng, text), "prices.csv"), today="2025-04-01").rows:
            assert 0 < price.per_kg < math.inf

    return act


AMOUNTS = ["62.5 g", "1 1/2 kg", "2 lb 3 oz", "1 h 30 min", "78 degF", "18 %", "3 large eggs", "2 dozen", "½ cup",
           "1.720,3 g", "20 x 250 g", "2 EL", "1 tbsp sugar", "4 1/4 in", "−3 degC"]  # fmt: skip


def amounts(folder):
    known = ingredients()
    keys = ["egg_whole_fresh", "butter_unsalted", "bread_flour_enriched", "milk_whole"]

    def act(rng):
        text = broken(rng, rng.choice(AMOUNTS))
        way = rng.randrange(6)
        if way == 0:
            assert math.isfinite(units.amount(text).value)
        elif way == 1:
            assert math.isfinite(units.number(text))
        elif way == 2:
            assert math.isfinite(units.temperature_difference(text))
        elif way == 3:
            assert 0 <= weigh(text, rng.choice(keys), known).grams < math.inf
        elif way == 4:
            assert BUN.vary(butter=text)
        else:
            assert math.isfinite(units.read(text, rng.choice([*units.UNIT_OF, "number"])))

    return act


def answers(folder):
    tasks = [exercise(kind, 3, level) for kind in exercises() for level in (1, 3)]
    texts = ["62,5 %", "5/8", "1.2 kg", "18 % of total flour", "2 lb 3 1/4 oz", "12 buns", "3 points", "80 degF"]

    def act(rng):
        task = rng.choice(tasks)
        text = rng.choice([*texts, task.in_words(task.answer), *task.choices])
        assert mark(task, broken(rng, text), rng.choice((1, 2)))._repr_html_()

    return act


def boxes(folder):
    dials = [
        Dial("butter", 18.0, 0.0, 30.0, 0.25), Dial("proof", 26.0, 4.0, 40.0, 0.5, "degC", "temperature"),
        Dial("height", 41.0, 1.0, 90.0, 1.0, "mm", "length", 10), WholeDial("pieces", 24, 1, 90, 1, "pieces"),
    ]  # fmt: skip

    def act(rng):
        dial = rng.choice(dials)
        dial.box.value = broken(rng, rng.choice(["18", "18 1/2", "62,5 %", "26.5 degC", "4.2 cm", "24"]))
        assert math.isfinite(dial.typed())

    return act


# what is broken, cases here, and of 100,000
TARGETS = [
    (formulas, 400, 10_000), (spreadsheets, 300, 10_000), (trials, 500, 12_000), (exports, 400, 8_000),
    (price_lists, 600, 10_000), (amounts, 4000, 25_000), (answers, 2000, 15_000), (boxes, 1500, 10_000),
]  # fmt: skip


@pytest.fixture
def no_hang():
    def hangs(*_):
        raise TimeoutError("it hangs")

    before = signal.signal(signal.SIGVTALRM, hangs)
    yield lambda: signal.setitimer(signal.ITIMER_VIRTUAL, HANGS)
    signal.setitimer(signal.ITIMER_VIRTUAL, 0)
    signal.signal(signal.SIGVTALRM, before)


@pytest.mark.long
@pytest.mark.parametrize(("target", "some", "many"), TARGETS, ids=[each[0].__name__ for each in TARGETS])
def test_only_words_come_of_broken_input(target, some, many, tmp_path, full, no_hang):
    seed = random.SystemRandom().randrange(10**9) if full else 1
    act, escaped, refused = target(tmp_path), {}, 0
    for n in range(many if full else some):
        no_hang()
        try:
            act(random.Random(f"{seed} {n}"))
        except KitError as error:
            refused += 1
            str(error).encode()
        except Exception as error:
            place = error.__traceback__
            while place.tb_next:
                place = place.tb_next
            file = place.tb_frame.f_code.co_filename
            where = f"{type(error).__name__}: {str(error)[:60]} ({file}:{place.tb_lineno})"
            escaped.setdefault(where, []).append(n)
    n += 1
    away = sum(map(len, escaped.values()))
    print(f"\n{target.__name__}: {away} of {n:,} escaped, {refused:,} refused; seed {seed}")
    assert not escaped, "\n".join(f"{where}: {len(at)}, first {at[0]}" for where, at in escaped.items())
    assert refused < n
