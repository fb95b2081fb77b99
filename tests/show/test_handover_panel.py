"""The panel to hand over: its figures are those of the papers, and the papers are written as they are shown."""

import re

import pytest
from matplotlib.cbook import is_math_text

import kit
from kit.errors import AmountError, FormulaError, UnknownName
from kit.handover import production_sheet
from kit.show import HandoverPanel
from kit.show.handover_charts import REST, CostRows
from kit.show.handover_panel import label_words, sheet_words

FOLDER = kit.places.notebooks() / "formulas"
PRICES = kit.read_prices(FOLDER / "crackle_bun_prices.csv", today="2025-03-03")


@pytest.fixture(scope="module")
def bun():
    return kit.Formula.read(FOLDER / "crackle_bun.toml")


@pytest.fixture
def panel(bun, tmp_path):
    return HandoverPanel(bun, PRICES, tmp_path)


def slide(panel, name, value):
    panel.dials[name].slider.value = value


def type_in(panel, name, text):
    panel.dials[name].box.value = text


def words(html):
    """What a reader reads."""
    text = re.sub(r"<[^>]*>", " ", html).replace("\u00a0", " ").replace("&nbsp;", " ").replace("&#x27;", "'")
    return re.sub(r"\s+", " ", text)


# figures


def test_cost_batch_and_price_are_those_of_cost(panel, bun):
    slide(panel, "butter", 25)
    slide(panel, "egg", 20)
    slide(panel, "batch", 96)
    slide(panel, "margin", 70)
    cost, was = (kit.cost(f, PRICES, pieces=96) for f in (bun.vary(butter=25, egg=20), bun))
    said = words(panel._live.value)
    assert f"a piece costs {cost.per_piece:.4f} EUR +{cost.per_piece - was.per_piece:.4f}" in said
    assert f"96 pieces cost {cost.total:.2f} EUR +{cost.total - was.total:.2f}" in said
    # price = cost / (1 - margin): arithmetic of the trade
    price = cost.per_piece / 0.3
    assert f"before tax {price:.2f} EUR +{price - was.per_piece / 0.3:.4f} at a margin of 70 %" in said
    assert "Ingredients only: crackle_bun_prices.csv (invented), prices of 2024-11-04 to 2025-02-10." in said
    assert panel.result.sheet.pieces == 96


def test_the_price_is_the_largest_number(panel):
    sizes = re.findall(r"font-size:(\d+)px[^>]*>([\d.]+) EUR", panel._live.value)
    largest = max(sizes, key=lambda found: int(found[0]))
    assert float(largest[1]) == pytest.approx(panel.result.cost.selling_price(65), abs=5e-3)
    assert [size for size, _ in sizes].count(largest[0]) == 1


@pytest.mark.parametrize(("which", "butter"), [("base", 18), ("now", 25)])
def test_marks_stand_where_the_cost_of_each_ingredient_lies(panel, bun, which, butter):
    slide(panel, "butter", 25)
    cost = kit.cost(bun.vary(butter=butter), PRICES)
    frame = cost.to_frame().groupby("ingredient")["cost per piece"].sum()
    (chart,) = panel._handles
    *named, rest = [text.get_text() for text in chart.names]
    assert rest == REST
    assert named == list(dict(sorted(panel.before.cost.by_ingredient.items(), key=lambda entry: -entry[1])))[:7]
    marks = getattr(chart, which).get_xdata()
    assert marks[:-1] == pytest.approx(frame[named].to_numpy())
    assert marks[-1] == pytest.approx(frame.drop(named).sum())
    assert sum(marks) == pytest.approx(cost.per_piece)
    slide(panel, "egg", 0)  # the rows keep their places
    assert [text.get_text() for text in chart.names] == [*named, REST]


def test_the_baseline_is_hollow_and_the_variant_filled(panel):
    assert panel._handles[0].base.get_markerfacecolor() == "white"
    assert panel._handles[0].now.get_markerfacecolor() != "white"


def test_what_lies_beyond_the_chart_waits_at_its_edge_and_is_told(panel):
    type_in(panel, "butter", "75")
    (chart,) = panel._handles
    assert max(chart.now.get_xdata()) == chart.high
    assert chart.words[0].get_text() in panel.alt[0]


def test_rows_of_what_no_list_has_a_price_for(bun):
    prices = {"butter": 8, "flour": 0.8}
    before, after = kit.cost(bun, prices), kit.cost(bun.vary(butter=25), prices)
    change = after.against(before)
    rows = {row.name: row.words for row in CostRows(change).rows(change)}
    assert rows["egg"] == "no price"
    assert "→" in rows["unsalted butter"]
    assert before.by_ingredient["egg"] == 0


def test_the_batch_may_be_typed_in_dozens(panel):
    for text, pieces in (("8 dozen", 96), ("60 pieces", 60), ("48", 48)):
        type_in(panel, "batch", text)
        assert panel.result.sheet.pieces == pieces


# sheet and label in words


def test_the_sheet_tells_first_what_moves_most_and_counts_the_rest(bun):
    """The grams are those of the two sheets; butter gains 90 g, the flour of the dough loses 36 g."""
    before, now = (production_sheet(f) for f in (bun, bun.vary(butter=25)))
    said, rows = sheet_words(before, now), now.against(before).rows
    assert said.startswith("Dough, unsalted butter 261 g → 351 g; dough, bread flour 1089 g → 1053 g; ")
    assert said.endswith(f"; and {len(rows) - 4} other lines.")
    assert sheet_words(before, before) == "Nothing new."


def test_a_step_or_check_that_changes_is_told_before_the_lines(bun):
    before, now = (production_sheet(bun, water={"room": room, "flour": 18}) for room in (20, 25))
    assert sheet_words(before, now).startswith("Step 2 water: at 15 °C")


def test_only_the_stretch_of_the_order_that_moves_is_told(bun):
    before = kit.label(bun)
    assert label_words(before, kit.label(bun.vary(butter=25)))[0] == (
        "Order of ingredients: sugar, butter → butter, sugar."
    )
    assert label_words(before, before) == ["No allergen comes or goes."]


def test_an_allergen_that_comes_or_goes_is_told():
    plain = kit.Formula.from_weights("bun", {"flour": 100, "water": 50, "butter": 10}, makes={"piece": 60})
    panel = HandoverPanel(plain)
    slide(panel, "butter", 0)
    assert "butter → gone" in words(panel._live.value)
    assert "(wheat), milk → cereals containing gluten (wheat)." in words(panel._live.value)
    slide(panel, "egg", 10)
    assert "(wheat), milk → cereals containing gluten (wheat), eggs." in words(panel._live.value)


@pytest.mark.parametrize("market", ["EU", "US"])
def test_declared_figures_that_move_are_those_of_the_label(panel, bun, market):
    panel.choices["market"].value = market
    slide(panel, "butter", 25)
    said = words(panel._live.value)
    assert f"draft for the {market}, not legal advice" in said
    assert ("per 100 g before now" in said) == (market == "EU")
    moved = kit.label(bun.vary(butter=25), market).against(kit.label(bun, market))
    assert moved
    for line, before, now in moved.rows:
        assert (f"{line} {before} {now}" in said) == (line not in ("order of ingredients", "allergens"))


def test_the_column_that_is_worked_in_is_told(panel, bun):
    slide(panel, "butter", 25)
    panel.choices["working"].value = "US"
    assert "unsalted butter 9¼ oz → 12½ oz" in words(panel._live.value)
    assert panel.result.sheet.working == panel.before.sheet.working == "US"


# alive


@pytest.mark.parametrize(
    ("name", "typed", "says"),
    [
        ("batch", "0", "whole number of pieces, 1 or more"),
        ("batch", "12.5", "whole number of pieces, 1 or more"),
        ("batch", "inf", "must be a number"),
        ("batch", "60 g", "must be a number without a unit"),
        ("margin", "100", "less than 100 %"),
        ("margin", "0.65", "write 65 for 65 %"),
        ("butter", "-1", "0 % or more"),
        ("butter", "0.18", "did you mean 18 %?"),
        ("sugar", "<b>a lot</b>", "&lt;b&gt;"),
    ],
)
def test_what_cannot_be_is_said_and_the_last_good_picture_stays(panel, name, typed, says):
    slide(panel, "egg", 20)
    shown, result = panel._live.value, panel.result
    type_in(panel, name, typed)
    assert says in panel._problem.value
    assert (panel._live.value, panel.result) == (shown, result)
    slide(panel, "egg", 22)
    assert panel._problem.value == ""
    assert panel._live.value != shown


def test_a_refusal_in_the_middle_leaves_baseline_and_variant_of_one_batch(panel, bun, monkeypatch):
    """What is told is never a difference between two batches."""

    def refuse(*given, **more):
        raise AmountError("no")

    with monkeypatch.context() as patched:
        patched.setattr("kit.show.handover_panel.label", refuse)
        slide(panel, "batch", 96)
    assert panel._problem.value
    assert panel.result.sheet.pieces == panel.before.sheet.pieces == 48
    slide(panel, "butter", 25)
    assert panel.result.sheet.pieces == panel.before.sheet.pieces == 96


def test_prices_that_no_ingredient_has_are_refused_at_once(bun):
    with pytest.raises(UnknownName, match="did you mean butter"):
        HandoverPanel(bun, {"buttr": 8})


def test_a_piece_that_cannot_be_is_refused_at_once(bun):
    with pytest.raises(FormulaError, match="a larger tray or a smaller piece"):
        HandoverPanel(bun.vary(piece="900 kg"), PRICES)


def test_without_a_price_all_is_at_least(bun):
    panel = HandoverPanel(bun, {"butter": 8, "flour": 0.8})
    said = words(panel._live.value)
    assert "a piece costs ≥ " in said
    assert "No price for whole milk, fresh yeast, water, egg" in said


def test_without_prices_sheet_and_label_alone(bun, tmp_path):
    panel = HandoverPanel(bun, folder=tmp_path)
    slide(panel, "butter", 25)
    assert "No prices given" in words(panel._live.value)
    assert "unsalted butter 261 g → 351 g" in words(panel._live.value)
    assert panel.write("cost") is None
    assert "must be given" in panel._problem.value
    assert panel.write("sheet").is_file()
    assert "<img" not in panel.picture()._repr_html_()


def test_undo_and_reset(panel, bun):
    start = panel._live.value
    slide(panel, "butter", 20)
    slide(panel, "butter", 25)
    slide(panel, "batch", 96)
    panel.choices["market"].value = "US"
    panel.undo()
    assert (panel.choices["market"].value, panel.result.sheet.pieces) == ("EU", 96)
    panel.undo()
    assert (panel.result.sheet.pieces, panel.variant.of_kind("butter")) == (48, 25)
    panel.undo()  # a run of one dial is one step
    assert panel.variant is bun
    assert panel._live.value == start
    slide(panel, "sugar", 20)
    panel.reset()
    assert panel._live.value == start
    panel.undo()
    assert panel.variant.of_kind("sugar") == 20


def test_a_kitchens_own_figures_reach_all_three(bun):
    year = kit.TrialBook.read(kit.places.notebooks() / "trials" / "crackle_bun_trials.csv", FOLDER).trials()
    ours = kit.calibrate(year)
    panel = HandoverPanel(bun, PRICES, calibration=ours)
    assert panel.result.cost.made.baked_piece == kit.cost(bun, PRICES, calibration=ours).made.baked_piece
    assert panel.result.label.baked_piece == kit.label(bun, calibration=ours).baked_piece
    assert panel.result.label.baked_piece != kit.label(bun).baked_piece
    assert panel.result.sheet.checks == production_sheet(bun, calibration=ours).checks != production_sheet(bun).checks


# the papers


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_papers_are_written_whole_as_they_are_shown_and_named(panel, tmp_path, paper):
    slide(panel, "butter", 25)
    slide(panel, "batch", 96)
    panel.choices["paper"].value = paper
    variant, result = panel.variant, panel.result
    expected = {
        "sheet": result.sheet.page(paper, since=panel.before.sheet),
        "cost": kit.cost(variant, PRICES, pieces=96).page(paper),
        "label": kit.label(variant).page(paper),
    }
    for what, button in panel.write_buttons.items():
        button.click()
        name = re.search(r"Written: (\S+\.html)", panel.written.value)[1]
        assert what in name
        assert variant.fingerprint in name
        assert (tmp_path / name).read_text(encoding="utf-8") == expected[what]
    assert "New since formula" in expected["sheet"]
    assert "not legal advice" in expected["label"]
    assert len(list(tmp_path.iterdir())) == 3  # nothing half written is left beside them


def test_a_folder_that_is_none_is_said(bun, tmp_path):
    panel = HandoverPanel(bun, PRICES, tmp_path / "none")
    assert panel.write("label") is None
    assert "in a folder that can be written" in panel._problem.value
    assert panel.written.value == ""


def test_names_are_shown_as_text_and_stay_in_the_folder(bun, tmp_path):
    house = tmp_path / "ours.csv"
    bad = '<script>alert("x")</script>'
    text = (FOLDER / "crackle_bun.toml").read_text(encoding="utf-8")
    text = text.replace('name = "Cardamom crackle bun"', f"house_ingredients = 'ours.csv'\nname = '../{bad}'")
    house.write_text(f'key,name\nbutter_unsalted,"{bad.replace(chr(34), chr(34) * 2)}"\n', encoding="utf-8")
    (tmp_path / "bad.toml").write_text(text.replace("unsalted butter", bad.replace('"', '\\"')), encoding="utf-8")
    panel = HandoverPanel(kit.Formula.read(tmp_path / "bad.toml"), PRICES, tmp_path)
    slide(panel, "butter", 25)
    assert "&lt;script" in panel._live.value
    assert "<script" not in panel._live.value
    for what in panel.write_buttons:
        path = panel.write(what)
        assert path.parent == tmp_path
        assert "<script" not in path.read_text(encoding="utf-8")


def test_a_currency_with_a_dollar_sign_is_no_equation(bun, tmp_path):
    text = (FOLDER / "crackle_bun_prices.csv").read_text(encoding="utf-8")
    (tmp_path / "prices.csv").write_text(text.replace(",EUR,", ",$$,"), encoding="utf-8")
    panel = HandoverPanel(bun, kit.read_prices(tmp_path / "prices.csv", today="2025-03-03"))
    label = panel._handles[0].base.axes.get_xlabel()
    assert not is_math_text(label)
    assert label.replace(r"\$", "$") == "$$ a piece"


def test_the_still_picture_says_what_it_shows(panel):
    slide(panel, "butter", 25)
    html = panel.picture()._repr_html_()
    assert html.count("<img") == 1
    assert "unsalted butter 0.0946 → 0.1095" in html
