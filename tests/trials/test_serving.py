"""How a tasting is served: balanced orders, codes that tell nothing, cards and key, and answers read back."""

import itertools
import re
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

import kit
from kit.errors import FileError, KitError, UnknownName
from kit.trials import TrialError, tasting
from kit.trials.serving import CODES, TESTS, serving_orders
from tests.laws import drawn

FOLDER = kit.places.notebooks() / "formulas"
TWO, THREE = ["plain", "25 % butter"], ["plain", "cocoa", "sesame"]


def plan(test="triangle", samples=TWO, tasters=12, seed=7, **more):
    return kit.serving_plan(test, samples, tasters, seed, **more)


# codes and orders


def test_codes_tell_nothing():
    assert len(CODES) == len(set(CODES)) == 9 * 9 * 9  # no nought first, and no digit like the one before
    for code in CODES:
        assert re.fullmatch(r"[1-9]\d\d", code)
        assert code[0] != code[1] != code[2]


@given(st.sampled_from(list(TESTS)), st.integers(2, 40), st.integers(0, 10**9), st.integers(2, 4))
@drawn(60)
def test_laws_of_a_plan(test, tasters, seed, samples):
    names = TWO if test != "ranking" else [f"bake {n}" for n in range(samples)]
    made = plan(test, names, tasters, seed)
    assert made == plan(test, names, tasters, seed)
    codes = [code for cups in made.servings.values() for code, _ in cups]
    assert len(codes) == len(set(codes))
    assert set(codes) <= set(CODES)
    orders = Counter(tuple(sample for _, sample in cups) for cups in made.servings.values())
    assert set(orders) <= set(serving_orders(test, len(names)))
    each = tasters // len(serving_orders(test, len(names)))
    assert {orders[order] for order in serving_orders(test, len(names))} <= {each, each + 1}
    assert len(made.to_frame()) == sum(map(len, made.servings.values()))


def test_the_triangle_has_its_six_orders_equally_often():
    """ISO 4120: ABB, AAB, ABA, BAA, BBA, BAB, each as often (from memory)."""
    orders = Counter("".join("AB"[sample] for _, sample in cups) for cups in plan(tasters=24).servings.values())
    assert orders == dict.fromkeys(["ABB", "AAB", "ABA", "BAA", "BBA", "BAB"], 4)


@pytest.mark.parametrize("samples", [2, 3, 4, 5, 6, 7])
def test_williams(samples):
    """Williams 1949: each sample as often in each place, and right after each other one, as often."""
    orders = serving_orders("ranking", samples)
    assert len(orders) == (samples if samples % 2 == 0 else 2 * samples)
    each = len(orders) // samples
    for place in range(samples):
        assert Counter(order[place] for order in orders) == dict.fromkeys(range(samples), each)
    after = Counter(pair for order in orders for pair in itertools.pairwise(order))
    assert after == dict.fromkeys(itertools.permutations(range(samples), 2), each)


def test_another_seed_is_another_plan():
    assert plan(seed=7).servings != plan(seed=8).servings


# cards and key


def test_allergens_of_every_sample_are_on_the_card_and_names_are_not():
    buns = {name: kit.Formula.read(FOLDER / f"crackle_bun{end}.toml") for name, end in
            (("plain", ""), ("seeded one", "_sesame"))}  # fmt: skip
    made = plan("preference", buns, 4)
    cards, key = made.cards(), made.key()
    for html in (cards, key):
        assert "WHEAT, EGG, MILK, SESAME" in html or all(a in html for a in ("WHEAT", "EGG", "MILK", "SESAME"))
        assert html.count("size: A4") == 1
    body = cards.partition("<body>")[2]
    assert "seeded one" not in body
    assert "seeded one" in key
    assert body.count("Allergic to anything? Say so before you taste.") == 4
    assert body.count("No raw dough or raw topping") == 4
    assert body.count("I agree to taste; I may stop at any time. Signed") == 4
    assert body.count("Local rules on food, allergens and data come first.") == 4
    assert body.count("(raw egg, raw flour)") == 4
    assert "Ask every taster about allergies before the tasting" in key
    assert "Ask every taster for consent before the tasting" in key
    assert kit.cautions.FIRST in key
    assert made.invented
    assert "(invented)" in made.title
    for cups in made.servings.values():
        for code, _ in cups:
            assert len(re.findall(rf">{code}<", body)) == 1
    assert "size: letter" in made.cards("Letter")


def test_every_test_says_what_to_do():
    for test in TESTS:
        made = plan(test)
        assert page_text(made.cards()).count(made.task) == 12
        assert "{}" not in made.task
    assert "the crispest first" in plan("ranking", question="the crispest").task


def page_text(html):
    return re.sub(r"<[^>]*>", "", html.partition("<body>")[2]).replace("&#x27;", "'")


def test_what_the_kitchen_is_told():
    assert any("18 would be served each equally often" in note for note in plan(tasters=13).notes)
    assert not any("equally often" in note for note in plan(tasters=12).notes)
    assert any("crumb and crust in sittings of their own" in note for note in plan().notes)
    assert not any("sittings of their own" in note for note in plan(served="crumb").notes)
    assert any("at most 4 in a sitting" in note for note in plan("ranking", list("ABCDE")).notes)
    assert not any("tire" in note for note in plan("ranking", list("ABCD")).notes)


def test_names_are_text_on_cards_key_and_form():
    made = plan("ranking", ["<i>", "=1+1", "c"], ["<script>", "=1+1", "+x"])
    for html in (made.cards(), made.key(), made._repr_html_()):
        assert "<script>" not in html
        assert "<i>" not in html
        assert "&lt;script&gt;" in html
    rows = made.form().splitlines()
    assert rows[1] == "taster,codes,answer"
    assert [row.split(",")[0] for row in rows[2:]] == ["<script>", "'=1+1", "'+x"]


# answers


def filled(made, tmp_path, answer, name="answers.csv"):
    """The plan's form with the answers that a function of the cups gives; its path."""
    rows = made.form().splitlines()
    out = rows[:2]
    for (taster, cups), row in zip(made.servings.items(), rows[2:], strict=True):
        out.append(row + answer(taster, cups))
    (tmp_path / name).write_text("\n".join(out) + "\n", encoding="utf-8")
    return tmp_path / name


def odd(cups):
    samples = [sample for _, sample in cups]
    return next(code for code, sample in cups if samples.count(sample) == 1)


def test_triangle_answers(tmp_path):
    made = plan(tasters=24)
    right = [f"P{n}" for n in range(1, 16)]

    def answer(taster, cups):
        return odd(cups) if taster in right else next(code for code, _ in cups if code != odd(cups))

    read = made.answers(filled(made, tmp_path, answer))
    assert read.result() == tasting("triangle", 15, 24, TWO)
    assert read.blank == ()


def test_preference_answers(tmp_path):
    made = plan("preference", tasters=9)
    path = filled(made, tmp_path, lambda taster, cups: "None" if taster > "P7" else next(c for c, s in cups if s == 1))
    result = made.answers(path).result()
    assert (result.right, result.tasters, result.neither) == (0, 7, 2)


def test_ranking_answers_with_ties(tmp_path):
    made = plan("ranking", THREE, 6)

    def answer(taster, cups):
        code = {sample: code for code, sample in cups}
        return f"{code[2]} = {code[0]} {code[1]}" if taster == "P1" else f"{code[2]} > {code[0]} > {code[1]}"

    read = made.answers(filled(made, tmp_path, answer))
    assert read.given["P1"] == [1.5, 3, 1.5]
    assert read.result().sums == (11.5, 18, 6.5)


def test_blank_answers_and_missing_rows_are_counted_and_told(tmp_path):
    made = plan(tasters=24)
    path = filled(made, tmp_path, lambda taster, cups: " " if taster in ("P3", "P9") else odd(cups))
    text = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join(text[:-1]), encoding="utf-8")  # P24's row is cut off
    read = made.answers(path)
    assert read.blank == ("P3", "P9", "P24")
    assert read.result().tasters == 21
    assert "3 blank answers left out: P3, P9 and P24." in read.notes
    assert "P3, P9 and P24" in read._repr_html_()
    assert read.about.startswith("Triangle: plain and 25 % butter. Seed 7.")


def test_a_form_that_is_filled_in_is_never_written_over(tmp_path):
    made = plan()
    cards, key, form = made.save(tmp_path)
    assert [path.suffix for path in (cards, key, form)] == [".html", ".html", ".csv"]
    assert made.answers(form).blank == tuple(made.servings)
    form.write_text("filled in", encoding="utf-8")
    made.save(tmp_path)
    assert form.read_text(encoding="utf-8") == "filled in"


def test_semicolons_and_names_that_a_spreadsheet_would_run(tmp_path):
    made = plan("preference", TWO, ["=1+1", "P2", "@b"])
    text = made.form().replace(",", ";")
    (tmp_path / "a.csv").write_text(text, encoding="utf-8-sig")
    assert made.answers(tmp_path / "a.csv").blank == ("=1+1", "P2", "@b")


HEAD = "taster,answer\n"


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("", FileError, "'a.csv' must be a table with taster and answer (got an empty file)"),
        ("taster,reply\n", FileError, "(got taster and reply)"),
        (HEAD + "P1\n", FileError, "a broken row 2"),
        (HEAD + 'P1,"12', FileError, "a broken row"),
        (HEAD + "P99,412\n", UnknownName, "a.csv row 2: 'taster' must be one of P1, P2, P3"),
        (HEAD + "=1+1,412\n", UnknownName, "(got '=1+1')"),
        (HEAD + "P1,000\n", TrialError, "a.csv row 2: 'answer' must be a code on that taster's card (got '000')"),
        (HEAD + "P1,none\n", TrialError, "must be a code on that taster's card (got 'none')"),
        (HEAD + "P1,\nP1,\n", TrialError, "a.csv row 3: 'taster' must be named once (got P1 again)"),
    ],
)
def test_broken_files_are_told(tmp_path, text, kind, words):
    (tmp_path / "a.csv").write_text(text, encoding="utf-8")
    with pytest.raises(kind) as error:
        plan().answers(tmp_path / "a.csv")
    assert words in str(error.value)


def test_a_code_of_another_taster_is_no_answer(tmp_path):
    made = plan()
    other = made.servings["P2"][0][0]
    (tmp_path / "a.csv").write_text(f"{HEAD}P1,{other}\n", encoding="utf-8")
    with pytest.raises(TrialError, match="P1 was served"):
        made.answers(tmp_path / "a.csv")
    with pytest.raises(FileError, match="a file that can be read"):
        made.answers(tmp_path / "none.csv")


def test_rank_answers_name_each_code_once(tmp_path):
    made = plan("ranking", THREE, 6)
    (a, _), (b, _), _ = made.servings["P1"]
    for answer in (f"{a} {b}", f"{a} {a} {b}"):
        (tmp_path / "a.csv").write_text(f"{HEAD}P1,{answer}\n", encoding="utf-8")
        with pytest.raises(TrialError, match="every code once"):
            made.answers(tmp_path / "a.csv")


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"test": "triangl"}, "did you mean triangle?"),
        ({"samples": []}, "'samples' must be two (got none)"),
        ({"samples": "plain"}, "'samples' must be two"),
        ({"samples": THREE}, "'samples' must be two (got 3)"),
        ({"samples": ["plain", ""]}, "'sample' must be given (got nothing)"),
        ({"samples": ["plain", 5]}, "'sample' must be text"),
        ({"samples": ["plain", "Plain"]}, "'names' must be 2 names that differ"),
        ({"tasters": 1}, "'tasters' must be a whole number from 2 to 364 (got 1)"),
        ({"tasters": -3}, "(got -3)"),
        ({"tasters": float("nan")}, "(got nan)"),
        ({"tasters": 300}, "'codes' must be a whole number from 2 to 729 (got 900)"),
        ({"tasters": []}, "'tasters' must be 2 or more, each once (got none)"),
        ({"tasters": ["Ines", "ines"]}, "'tasters' must be 2 or more, each once"),
        ({"tasters": "Ines"}, "'tasters' must be 2 or more, each once (got Ines)"),
        ({"seed": 1.5}, "'seed' must be a whole number, 0 or more (got 1.5)"),
        ({"seed": "seven"}, "'seed' must be a whole number"),
    ],
)
def test_what_cannot_be_served(given, words):
    with pytest.raises(KitError) as error:
        plan(**given)
    assert words in str(error.value)
