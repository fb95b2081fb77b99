"""Laws every reference table keeps, and figures held against the print they were copied from."""

import csv
import math
import re
from collections import Counter, defaultdict
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from kit import tables, units
from kit.trials import fits
from tests.laws import drawn

ROOT = Path(__file__).parents[2]
TABLES = ROOT / "reference_tables"
PUBLISHED = ROOT / "tests" / "published"
INCH = 2.54  # cm, exact

COMPONENTS = [f"{c}_g_per_100g" for c in ("water", "protein", "fat", "carbohydrate", "ash", "alcohol")]
PARTS = {
    "saturated_fat_g_per_100g": "fat_g_per_100g",
    "sugars_g_per_100g": "carbohydrate_g_per_100g",
    "lactose_g_per_100g": "carbohydrate_g_per_100g",
    "starch_g_per_100g": "carbohydrate_g_per_100g",
    "fibre_g_per_100g": "carbohydrate_g_per_100g",
}


def read(path):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def number(text):
    return float(text) if text != "" else math.nan


ALL = {path.stem: read(path) for path in sorted(TABLES.glob("*.csv"))}
INGREDIENTS = ALL["ingredients"]
ADD_INS = ALL["add_ins"]  # what only a recipe's reader brings in
BY_KEY = {row["key"]: row for row in INGREDIENTS}
READABLE = {row["key"] for row in (*INGREDIENTS, *ADD_INS)}
NAMES = {row["name"] for row in INGREDIENTS}
KINDS = {row["kind"] for row in INGREDIENTS}
SOURCES = {row["key"]: row for row in ALL["sources"]}


def known(row, column):
    return float(row[column] or 0)


# ---- every table -------------------------------------------------------------------------------------------

# Rows, and the sum of each column of numbers: a slip in any one cell shows here. No source: our own tally.
PINNED = {
    "add_ins": (
        64,
        {
            "water_g_per_100g": 73.81,
            "protein_g_per_100g": 56.8,
            "fat_g_per_100g": 381.22,
            "saturated_fat_g_per_100g": 77.067,
            "carbohydrate_g_per_100g": 476.4,
            "sugars_g_per_100g": 332.9,
            "lactose_g_per_100g": 0,
            "starch_g_per_100g": 7.2,
            "fibre_g_per_100g": 43.3,
            "ash_g_per_100g": 11.78,
            "alcohol_g_per_100g": 0,
            "sodium_mg_per_100g": 189,
            "energy_kcal_per_100g": 5401,
            "added_salt_g_per_100g": 0,
        },
    ),
    "allergen_lists": (24, {}),
    "allergen_words": (273, {}),
    "bench_tasks": (3, {"low_percent": -33, "high_percent": 19.5}),
    "cautions": (25, {}),
    "bake_temperatures": (10, {"low_degC": 1363.8, "high_degC": 1381.8}),
    "energy_factors": (5, {"energy_kcal_per_g": 26.0, "energy_kj_per_g": 108.0}),
    "label_names": (54, {}),
    "label_nutrients": (9, {"factor": 8.0025}),
    "label_words": (26, {}),
    "label_rounding": (16, {"from_value": 26.6125, "step": 4.41}),
    "day_defaults": (9, {"minutes": 291.0, "low_minutes": 224.0, "high_minutes": 368.0}),
    "dome_stages": (4, {"low": 1.147, "high": 1.516}),
    "paper_words": (45, {}),
    "piece_defaults": (7, {"value": 116.25, "low": 100, "high": 120}),
    "trays": (4, {"length_cm": 225.0, "width_cm": 151.5}),
    "dough_classes": (
        19,
        {
            "order": 42,
            "fat_min": 189,
            "fat_max": 128,
            "sugar_min": 84,
            "sugar_max": 113,
            "fat_sugar_sum_min": 11.11,
            "butterfat_of_mix_min": 52,
            "yolk_of_mix_min": 12,
        },
    ),
    "exercise_levels": (97, {"level": 196}),
    "exercise_steps": (185, {}),
    "exercises": (24, {}),
    "ingredients": (
        83,
        {
            "water_g_per_100g": 2292.39,
            "protein_g_per_100g": 963.98,
            "fat_g_per_100g": 1827.1,
            "saturated_fat_g_per_100g": 588.216,
            "carbohydrate_g_per_100g": 2682.26,
            "sugars_g_per_100g": 1124.96,
            "lactose_g_per_100g": 17.63,
            "starch_g_per_100g": 139.81,
            "fibre_g_per_100g": 482.6,
            "ash_g_per_100g": 397.64,
            "alcohol_g_per_100g": 67.8,
            "sodium_mg_per_100g": 83607,
            "energy_kcal_per_100g": 29736,
            "added_salt_g_per_100g": 103.5631,
        },
    ),
    "lesson_pictures": (8, {}),
    "losses": (17, {"default_percent": 71.2, "low_percent": 39.7, "high_percent": 62.5}),
    "measures": (224, {"grams_per_measure": 23486.3, "ml_per_measure": 27107.1729}),
    "misconceptions": (341, {}),
    "mixing_method": (5, {"from_percent": 32, "to_percent": 32}),
    "preferments": (
        5,
        {
            "hydration_percent": 715,
            "hydration_low_percent": 705,
            "hydration_high_percent": 760,
            "fresh_yeast_percent": 2.75,
        },
    ),
    "scale_steps": (8, {"below_g": 30, "step_g": 1.7}),
    "sheet_steps": (17, {"below": 4, "step": 14.555}),
    "sources": (115, {}),
    "substitutions": (84, {}),
    "water_softening": (
        2,
        {
            "points_per_point": 0.8,
            "low_points_per_point": 0.3,
            "high_points_per_point": 0.82,
            "from_percent": 7,
            "to_percent": 93,
        },
    ),
    "tasting_rules": (4, {"value": 96.0}),
    "trial_fields": (
        73,
        {
            "resolution": 45.651,
            "low": -19717.4,
            "high": 262219.0,
            "usual_low": 636.5,
            "usual_high": 8230.0,
            "n_per_bake": 261.0,
        },
    ),
    "tolerances": (13, {"below": 252, "absolute": 2.315, "relative_percent": 0.35, "decimals": 16}),
    "uncertainties": (
        8,
        {
            "value": 83.6,
            "low": 159.2,
            "high": 248.85,
        },
    ),
    "units": (70, {"value": 1109913.3118125}),
    "usual_prices": (32, {"low_per_kg": 81.1505, "high_per_kg": 2621.0}),
    "usual_ranges": (
        89,
        {
            "low_percent": 579.85,
            "high_percent": 2533.85,
            "hard_high_percent": 5036.5,
        },
    ),
    "yeast_forms": (5, {"factor": 1.98}),
    "dough_temperatures": (8, {"low": 513, "high": 534}),
    "milk_fat_solid": (10, {"temperature_degC": 181, "solid_percent": 305, "low_percent": 255, "high_percent": 356}),
    "specific_heats": (8, {"a": 17.1009, "b": 0.014350936, "c": -1.49131e-05}),
    "thermal_constants": (9, {"value": 533.95, "low": 502.676, "high": 567.124}),
    "calibration_fields": (19, {}),
    "calibration": (11, {"value": 91.3, "low": 59.8, "high": 137.97}),
    "models": (5, {}),
    "recipe_words": (164, {}),
    "comparison_words": (16, {}),
    "store_words": (9, {}),
    "response_words": (30, {}),
    "rise_parameters": (13, {"value": 134.2, "low": 104.64, "high": 149.29}),
    "rise_reference_points": (
        3,
        {
            "minutes": 246,
            "low_minutes": 141,
            "high_minutes": 429,
            "ratio": 6,
            "temperature_degC": 83,
            "fresh_yeast_percent": 12,
            "water_percent": 204,
            "sugar_percent": 36,
            "salt_percent": 3.2,
        },
    ),
    "sugar_shares": (
        13,
        {
            "sucrose_percent_of_sugars": 909,
            "glucose_and_fructose_percent_of_sugars": 369,
            "lactose_percent_of_sugars": 22,
            "added_percent": 1155,
        },
    ),
    "water_activity_solutes": (13, {"value": 962.00367}),
}


@pytest.mark.parametrize("name", ALL)
def test_shape_and_sums_are_as_pinned(name):
    rows, sums = PINNED[name]
    assert len(ALL[name]) == rows
    for column, total in sums.items():
        assert sum(float(row[column]) for row in ALL[name] if row[column] != "") == pytest.approx(total, abs=1e-6)


def numeric_columns(rows):
    def is_number(text):
        try:
            return math.isfinite(float(text))
        except ValueError:
            return False

    cells = {column: [row[column] for row in rows if row[column] != ""] for column in rows[0]}
    return [c for c, texts in cells.items() if texts and c not in LABELS and all(map(is_number, texts))]


# NDB numbers and years are names, not amounts; `figure` holds words around a number.
LABELS = {"ndb_number", "year", "figure"}


@pytest.mark.parametrize("name", ALL)
def test_every_column_of_numbers_is_pinned(name):
    assert set(numeric_columns(ALL[name])) == set(PINNED[name][1])


FILES = [*sorted(TABLES.glob("*.csv")), *sorted(PUBLISHED.glob("sr28_*.csv"))]


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_files_are_plain_csv(path):
    """RFC 4180, but with LF; UTF-8 without a byte order mark; no ragged row, no stray blank around a cell."""
    raw = path.read_bytes()
    assert not raw.startswith(b"\xef\xbb\xbf")
    assert b"\r" not in raw
    assert raw.endswith(b"\n")
    rows = list(csv.reader(raw.decode("utf-8").splitlines(keepends=True), strict=True))
    assert {len(row) for row in rows} == {len(rows[0])}
    assert all(cell == cell.strip() for row in rows for cell in row)


@pytest.mark.parametrize("name", [name for name in ALL if name != "sources"])
def test_every_row_names_a_source_that_is_spelled_out(name):
    assert {row["source"] for row in ALL[name]} <= set(SOURCES)


def test_every_source_is_used_and_of_a_known_kind():
    used = {row["source"] for name, rows in ALL.items() if name != "sources" for row in rows}
    assert used == set(SOURCES)
    kinds = {"published", "law", "common practice", "from memory", "assumed here", "fitted here"}
    assert {row["kind"] for row in SOURCES.values()} <= kinds
    assert len(SOURCES) == len(ALL["sources"])


def test_every_law_and_standard_says_on_what_terms_its_figures_stand():
    """The README's section on terms names the key of each law; standards are the titles that say so."""
    told = (TABLES / "README.md").read_text(encoding="utf-8").split("## On what terms the figures stand")[1]
    told = set(re.findall(r"`(\w+)`", told.split("\n## ")[0]))
    words = re.compile(r"\b(ISO|GOST|Handbook|CFR|Standard)\b")
    standards = {key for key, row in SOURCES.items() if words.search(row["title"])}
    laws = {key for key, row in SOURCES.items() if row["kind"] == "law"}
    books = {"choi_okos_1986", "fermentation_handbook_chapter"}
    assert (laws | standards) - books - told == set()


@pytest.mark.parametrize("name", [name for name, rows in ALL.items() if "provenance" in rows[0]])
def test_provenance_agrees_with_the_kind_of_source(name):
    for row in ALL[name]:
        kind = SOURCES[row["source"]]["kind"]
        own = {"common practice", "assumed here", "from memory", "fitted here"}
        expected = {kind, "derived"} if kind in own else {"published", "from memory", "derived"}
        assert row["provenance"] in expected, row


def test_the_readme_tells_how_many_rows_each_mark_has():
    """Within a tenth, or five rows: it says about."""
    by_kind = {"law": "published"}
    found = Counter(
        row.get("provenance") or by_kind.get(SOURCES[row["source"]]["kind"], SOURCES[row["source"]]["kind"])
        for name, rows in ALL.items() if name != "sources" for row in rows
    )  # fmt: skip
    told = dict(re.findall(r"^\| `([a-z ]+)` \| ([\d,]+) \|", (TABLES / "README.md").read_text(encoding="utf-8"), re.M))
    assert set(told) == set(found), "a line for each mark"
    off = {mark: (told[mark], n) for mark, n in found.items() if abs(int(told[mark]) - n) > max(5, n / 10)}
    assert off == {}, "write the count found (the second) into the README's table of marks"


# ---- ingredients -------------------------------------------------------------------------------------------


def test_no_word_stands_for_two_ingredients():
    meant = defaultdict(set)
    for row in (*INGREDIENTS, *ADD_INS):
        for word in (row["key"], row["name"], *filter(None, row["aliases"].split(";"))):
            meant[word.casefold().replace("_", " ").replace("-", " ")].add(row["key"])
    assert {word: keys for word, keys in meant.items() if len(keys) > 1} == {}
    assert len(BY_KEY) == len(NAMES) == len(INGREDIENTS)
    assert all(row["name"] == row["name"].lower() for row in INGREDIENTS)


def test_everyday_words_of_both_sides_of_the_atlantic_are_known():
    """Common practice, no source: American and British names of the same goods."""
    meaning = {word: row["key"] for row in INGREDIENTS for word in (row["name"], *row["aliases"].split(";"))}
    for american, british in (
        ("all-purpose flour", "plain flour"),
        ("whole wheat flour", "wholemeal flour"),
        ("powdered sugar", "icing sugar"),
        ("superfine sugar", "caster sugar"),
        ("compressed yeast", "fresh yeast"),
        ("nonfat dry milk", "skimmed milk powder"),
        ("canola oil", "rapeseed oil"),
        ("light cream", "single cream"),
    ):
        assert meaning[american] == meaning[british]
    assert "yeast" not in meaning  # fresh or dry differs by a factor of three


@pytest.mark.parametrize(
    "row", [*INGREDIENTS, *(row for row in ADD_INS if row["source"] == "usda_sr28")], ids=lambda r: r["key"]
)
def test_parts_add_up_to_100_g(row):
    """Proximates of SR28 are carbohydrate by difference, so they must close; two rows say why they do not."""
    total = sum(known(row, column) for column in COMPONENTS)
    assert (abs(total - 100) > 1) == bool(row["closure_exception"])
    assert bool(row["closure_exception"]) == (row["key"] in {"baking_soda", "vinegar_distilled"})


@pytest.mark.parametrize("row", INGREDIENTS, ids=lambda r: r["key"])
def test_no_part_is_larger_than_its_whole(row):
    for part, whole in PARTS.items():
        assert 0 <= known(row, part) <= known(row, whole) + (0.9 if row["key"] == "cream_light" else 0.3), part
    inner = known(row, "starch_g_per_100g") + known(row, "sugars_g_per_100g")
    assert inner <= known(row, "carbohydrate_g_per_100g") + 0.9
    # Sodium is in the ash; 61.5 % of table salt is chloride.
    assert known(row, "sodium_mg_per_100g") / 1000 <= known(row, "ash_g_per_100g") + 0.05
    assert 0 <= known(row, "added_salt_g_per_100g") <= 100


def test_only_milk_and_cream_list_more_sugars_than_carbohydrate():
    over = {r["key"] for r in INGREDIENTS if known(r, "sugars_g_per_100g") > known(r, "carbohydrate_g_per_100g")}
    assert over == {"milk_whole", "milk_skim", "cream_heavy", "cream_light"}


# SR28 uses specific factors (Merrill & Watt 1973), so these stray from the general 4, 9, 4, 7 kcal/g.
ENERGY_EXCEPTIONS = {
    "egg_white_dried": "egg protein counts 4.36",
    "soy_lecithin": "phospholipids give less than fat",
    "honey": "its sugars count 3.68",
    "corn_syrup_light": "its sugars count 3.68",
    "baking_powder_sas_double": "carbonate and acid in carbohydrate by difference",
    "cocoa_unsweetened": "cocoa protein 1.83 and carbohydrate 1.33",
    "cocoa_alkalised": "cocoa protein 1.83 and carbohydrate 1.33",
    "chocolate_semisweet": "cocoa solids in it",
    "lemon_juice_raw": "its carbohydrate counts 2.70",
    "vinegar_distilled": "acetic acid is in no component",
}


@pytest.mark.parametrize("row", INGREDIENTS, ids=lambda r: r["key"])
def test_energy_lies_where_general_factors_put_it(row):
    """General factors 4, 9, 4, 7 kcal/g (Atwater; 21 CFR 101.9, from memory), fibre between nothing and 4."""
    protein, fat, carbohydrate, alcohol, fibre = (
        known(row, f"{c}_g_per_100g") for c in ("protein", "fat", "carbohydrate", "alcohol", "fibre")
    )
    high = 4 * protein + 9 * fat + 4 * carbohydrate + 7 * alcohol
    low = high - 4 * fibre
    inside = 0.95 * low - 5 <= float(row["energy_kcal_per_100g"]) <= 1.05 * high + 5
    assert inside == (row["key"] not in ENERGY_EXCEPTIONS)


@pytest.mark.parametrize("cell", read(PUBLISHED / "sr28_cells.csv"), ids=lambda c: f"{c['ndb_number']}-{c['column']}")
def test_composition_is_as_printed(cell):
    """USDA SR28 (May 2016), by NDB number, copied by hand."""
    (row,) = [row for row in INGREDIENTS if row["ndb_number"] == cell["ndb_number"]]
    assert float(row[cell["column"]]) == float(cell["value"])


@pytest.mark.parametrize(
    "cell", read(PUBLISHED / "sr28_weights.csv"), ids=lambda c: f"{c['ndb_number']}-{c['measure']}"
)
def test_household_weights_are_as_printed(cell):
    """USDA SR28 WEIGHT table (May 2016), by NDB number, copied by hand."""
    (row,) = [row for row in INGREDIENTS if row["ndb_number"] == cell["ndb_number"]]
    found = [m for m in ALL["measures"] if (m["ingredient"], m["measure"]) == (row["key"], cell["measure"])]
    assert [float(m["grams_per_measure"]) for m in found] == [float(cell["grams"])]


def test_unknown_stays_blank():
    """SR28 gives ground cardamom no sugars and no alcohol, bread flour no starch; a blank is not a zero."""
    assert BY_KEY["cardamom_ground"]["sugars_g_per_100g"] == ""
    assert BY_KEY["cardamom_ground"]["alcohol_g_per_100g"] == ""
    assert BY_KEY["bread_flour_enriched"]["starch_g_per_100g"] == ""
    assert BY_KEY["potato_mashed_home_whole_milk"]["added_salt_g_per_100g"] == ""


def test_groups_and_kinds():
    assert {row["group"] for row in INGREDIENTS} == {
        "flour", "starch", "egg", "fat", "dairy", "sugar", "salt_leaven", "cocoa", "nut", "flavour", "fruit",
        "fruit_veg", "liquid", "other",
    }  # fmt: skip
    assert {row["counts_as_liquid"] for row in INGREDIENTS} == {"yes", "no"}
    assert all(row["kind"] for row in INGREDIENTS)
    # Only wheat and rye flours make up the 100 of baker's percentages (Gisslen, Professional Baking: all flours).
    assert {r["key"] for r in INGREDIENTS if r["kind"] == "flour"} == {
        "bread_flour_enriched", "ap_flour_enriched_unbleached", "whole_wheat_flour",
        "rye_flour_light", "rye_flour_medium", "rye_flour_dark",
    }  # fmt: skip
    defaults = {}
    for row in INGREDIENTS:
        defaults.setdefault(row["kind"], row["name"])
    assert defaults | {
        "flour": "bread flour", "butter": "unsalted butter", "egg": "egg", "milk": "whole milk", "sugar": "sugar",
        "yeast": "fresh yeast", "oil": "rapeseed oil", "cocoa": "cocoa", "salt": "salt", "water": "water",
    } == defaults  # fmt: skip


def test_what_is_poured_counts_as_liquid_and_egg_does_not():
    """Common practice, no source: hydration as quoted at the bench."""
    liquid = {row["key"] for row in INGREDIENTS if row["counts_as_liquid"] == "yes"}
    assert liquid == {
        "water_tap_drinking", "milk_whole", "milk_skim", "buttermilk_cultured_lowfat", "cream_heavy", "cream_light",
        "milk_evaporated", "orange_juice_raw", "lemon_juice_raw",
    }  # fmt: skip
    assert all(known(row, "water_g_per_100g") > 50 for row in INGREDIENTS if row["counts_as_liquid"] == "yes")


def test_added_salt_is_the_sodium_beyond_the_unsalted_kind():
    """SR28: sodium of salted and unsalted butter 643 and 11, of table salt 38758 mg; margarine 751 and 2."""
    for key, salted, unsalted in (("butter_salted", 643, 11), ("margarine_80_stick_salted", 751, 2)):
        expected = (salted - unsalted) / 38758 * 100
        assert float(BY_KEY[key]["added_salt_g_per_100g"]) == pytest.approx(expected, abs=5e-5)
    assert {r["key"] for r in INGREDIENTS if known(r, "added_salt_g_per_100g")} == {
        "butter_salted", "margarine_80_stick_salted", "salt_table",
    }  # fmt: skip


def test_instant_yeast_stands_in_for_itself_openly():
    instant, dry = BY_KEY["yeast_instant"], BY_KEY["yeast_active_dry"]
    assert all(instant[c] == dry[c] for c in instant if c.endswith("_per_100g"))
    assert "stand-in" in instant["note"]
    assert instant["ndb_number"] == ""
    assert instant["source"] != dry["source"]


def test_yolk_and_white_make_the_egg_again():
    """SR28 WEIGHT: large egg 50 g, yolk 17 g, white 33 g; the sum closes within the data's own spread."""
    size = {(m["ingredient"], m["measure"]): float(m["grams_per_measure"]) for m in ALL["measures"]}
    yolk, white = size["egg_yolk_fresh", "each-large"], size["egg_white_fresh", "each-large"]
    assert yolk + white == size["egg_whole_fresh", "each-large"] == 50
    for column, together, apart in (("water_g_per_100g", 75.6, 0.6), ("fat_g_per_100g", 9.1, 0.4)):
        made = (yolk * float(BY_KEY["egg_yolk_fresh"][column]) + white * float(BY_KEY["egg_white_fresh"][column])) / 50
        assert made == pytest.approx(together, abs=0.05)
        assert made == pytest.approx(float(BY_KEY["egg_whole_fresh"][column]), abs=apart)


# ---- measures, volumes, eggs, yeast ------------------------------------------------------------------------


def one(unit):
    """What one of a unit is in the house unit of its kind, as the kit reads it."""
    row = next(row for row in ALL["units"] if row["unit"] == unit)
    return units.read(f"1 {unit}", row["kind"])


def test_volumes_follow_from_the_gallon():
    """NIST Handbook 44 App. C: US gallon 231 in3; SI 1995/1804: imperial gallon 4.54609 L; both exact."""
    gallon = 231 * INCH**3
    shares = {"gallon": 1, "quart": 4, "pint": 8, "cup": 16, "fl oz": 128, "tbsp": 256, "tsp": 768}
    for measure, share in shares.items():
        assert one(measure) == pytest.approx(gallon / share, rel=1e-12)
    for measure, share in {"gallon": 1, "quart": 4, "pint": 8, "fl oz": 160}.items():
        measure = f"imperial {measure}"
        assert one(measure) == pytest.approx(4546.09 / share, rel=1e-12)
    assert [one(unit) for unit in ("L", "dL", "cL", "mL")] == [1000, 100, 10, 1]
    assert (one("metric cup"), one("metric tbsp"), one("metric tsp"), one("Australian tbsp")) == (250, 15, 5, 20)


def test_each_spelling_of_a_unit_stands_for_one():
    """But c, which is a cup, or Celsius where a temperature is read."""
    spelled = Counter()
    for row in ALL["units"]:
        spelled.update({units._folded(word) for word in (row["unit"], *row["also_written"].split(";")) if word})
    assert [word for word, n in spelled.items() if n > 1] == ["c"]


def test_a_unit_has_a_value_or_is_worked_out_or_asked_about():
    kinds = {*units.UNIT_OF, "count", "ask"}
    for row in ALL["units"]:
        assert row["kind"] in kinds
        worked_out = row["kind"] != "ask" and row["unit"] not in ("packet", "cube")  # which hold what they hold
        assert bool(row["value"]) + bool(row["pint"]) == worked_out
        assert row["kind"] != "ask" or row["note"].startswith("write ")
        assert not row["value"] or float(row["value"]) > 0
    assert all(one(house) == 1 for kind, house in units.UNIT_OF.items() if kind != "temperature")


def test_usual_prices_are_of_kinds_and_groups():
    named = {row[word] for row in INGREDIENTS for word in ("kind", "group")}
    for row in ALL["usual_prices"]:
        assert row["what"] in named
        assert 2 <= float(row["high_per_kg"]) / float(row["low_per_kg"]) <= 5000
    assert max(Counter(row["what"] for row in ALL["usual_prices"]).values()) == 1


def test_each_way_a_response_moves_has_a_word_of_its_own():
    """Every field that is measured, read on days or scored, and what follows from them; no word says two things."""
    words = ALL["response_words"]
    came_out = ("measured", "series", "sensory", "reckoned")
    assert {row["response"] for row in words} == {r["field"] for r in ALL["trial_fields"] if r["group"] in came_out}
    for row in words:
        assert row["more"] != row["less"]
        assert min(len(row["more"]), len(row["less"])) > 3


def test_each_figure_that_bakes_correct_takes_fields_of_a_bake():
    """Every figure that `fits` gives and no other; a line of what to note stands by itself. No source: our own."""
    rows = ALL["calibration_fields"]
    assert list(dict.fromkeys(row["figure"] for row in rows)) == [fit.name for fit in fits([])]
    assert {row["field"] for row in rows} <= {row["field"] for row in ALL["trial_fields"]}
    assert len({(row["figure"], row["corrects"]) for row in rows}) == len({row["figure"] for row in rows})
    assert not any(re.search(r"\b(that|its|it)\b", row["note"]) for row in rows)


def test_words_of_recipes_mean_what_other_tables_know():
    """Every word once among those of its sort, what it means a key, a unit, a part or a number. No source: our own."""
    words, seen = ALL["recipe_words"], set()
    for row in words:
        sort = row["is"] if row["is"] not in ("ingredient", "ask", "spoon") else "ingredient"
        for word in row["words"].split(";"):
            assert word.strip() == word != "", row["words"]
            assert (sort, word.casefold()) not in seen, word
            seen.add((sort, word.casefold()))
        means = row["means"].split(";")
        if sort == "ingredient":
            assert set(means) <= READABLE, row["words"]
        elif row["is"] == "part":
            assert set(means) <= {
                "dough",
                "preferment",
                "cooked flour",
                "topping",
                "filling",
                "wash",
                "inclusion",
                "dusting",
            }
        elif row["is"] == "size":
            assert f"each-{row['means']}" in {m["measure"] for m in ALL["measures"]}
    assert {row["is"] for row in words} == {
        "ingredient", "ask", "spoon", "short", "unit", "state", "measure", "doubt", "container", "vague",
        "part", "section", "method", "verb", "cue", "size", "number", "tray", "piece", "no piece", "column",
    }  # fmt: skip


def test_measures_belong_to_ingredients_and_repeat_no_row():
    assert {m["ingredient"] for m in ALL["measures"]} <= READABLE
    assert max(Counter((m["ingredient"], m["measure"]) for m in ALL["measures"]).values()) == 1
    assert all(float(m["grams_per_measure"]) > 0 for m in ALL["measures"])


def test_measures_of_volume_carry_their_volume():
    volumes = {row["unit"] for row in ALL["units"] if row["kind"] == "volume"}
    for m in ALL["measures"]:
        word = "fl oz" if m["measure"].startswith("fl oz") else m["measure"].split()[0]
        assert bool(m["ml_per_measure"]) == (word in volumes)
        if word in volumes:
            assert float(m["ml_per_measure"]) == pytest.approx(one(word), abs=0.0005)
            # From a whipped or flaky quarter to a syrup (SR28: potato flakes 0.25, malt and honey 1.4).
            assert 0.2 < float(m["grams_per_measure"]) / one(word) < 1.5


def test_german_spoons_are_as_printed():
    """A German maker's page on spoon measures, seen November 2026: g per level EL of 15 mL."""
    printed = {"flour": 7, "sugar": 10, "icing sugar": 4, "salt": 13, "cornstarch": 7, "cocoa": 5, "honey": 15,
               "butter": 10, "baking powder": 9, "condensed milk": 14, "yoghurt": 10, "gelatin": 8}  # fmt: skip
    found = {m["ingredient"]: float(m["grams_per_measure"]) for m in ALL["measures"] if m["measure"] == "EL"}
    assert {name: found[tables.ingredients().find(name)] for name in printed} == printed


def test_the_plain_cup_comes_first():
    first = {}
    for m in ALL["measures"]:
        if m["measure"].startswith("cup"):
            first.setdefault(m["ingredient"], m["measure"])
    assert set(first.values()) == {"cup"}


def test_spoon_and_cup_tell_one_density():
    """SR28's spoons are rounded; they agree with its cups within a fifth, but for skimmed milk powder."""
    density = defaultdict(dict)
    for m in ALL["measures"]:
        if m["measure"] in {"cup", "tbsp", "tsp"}:
            density[m["ingredient"]][m["measure"]] = float(m["grams_per_measure"]) / float(m["ml_per_measure"])
    off = {k for k, d in density.items() if "cup" in d and any(abs(v / d["cup"] - 1) > 0.2 for v in d.values())}
    assert off == {"milk_dry_nonfat_regular"}


def test_yeast_factors_are_as_published():
    """Hamelman 2004, Bread: fresh to active dry 0.40, to instant 0.33; 21 g fresh are 8.4 g and 6.93 g."""
    first = {}
    for row in ALL["yeast_forms"]:
        assert {row["from_form"], row["to_form"]} <= NAMES
        first.setdefault((row["from_form"], row["to_form"]), row)
    assert 21 * float(first["fresh yeast", "active dry yeast"]["factor"]) == pytest.approx(8.4)
    assert 21 * float(first["fresh yeast", "instant yeast"]["factor"]) == pytest.approx(6.93)
    assert {row["source"] for row in first.values()} == {"hamelman_2004"}
    # Old household sheet: 1/4 oz dry for 2/3 oz compressed.
    (sheet,) = [row for row in ALL["yeast_forms"] if row["source"] == "household_yeast_sheet"]
    assert float(sheet["factor"]) == pytest.approx((1 / 4) / (2 / 3))


# ---- dough -------------------------------------------------------------------------------------------------

STEPS = [row for row in ALL["dough_classes"] if row["own"] == "yes"]


def step(value, what):
    """The one step of our own scheme in which a value lies; fails when it lies in none or in two."""
    (order,) = [
        n for n, row in enumerate(STEPS)
        if float(row[f"{what}_min"]) <= value < float(row[f"{what}_max"] or math.inf)
    ]  # fmt: skip
    return order


def own_class(fat, sugar):
    return STEPS[max(step(fat, "fat"), step(sugar, "sugar"))]["class"]


percent = st.floats(min_value=0, max_value=60) | st.floats(min_value=60, max_value=1e6)


@drawn()
@given(percent, percent)
@example(0, 0)
@example(3, 3)
@example(10, 10)
@example(20, 25)
@example(40, 40)
@example(math.nextafter(40, 0), math.nextafter(25, 0))
def test_our_own_classes_tile_the_plane(fat, sugar):
    """Any fat and sugar have exactly one class, and more of either never makes a dough leaner."""
    order = [row["class"] for row in STEPS]
    here = order.index(own_class(fat, sugar))
    assert order.index(own_class(fat + 1, sugar)) >= here <= order.index(own_class(fat, sugar + 1))


def test_our_own_classes_are_one_scheme_of_five():
    assert [row["class"] for row in STEPS] == ["lean", "soft", "sweet", "rich", "very rich"]
    assert {(row["scheme"], row["basis"], row["joint"], row["source"]) for row in STEPS} == {
        ("house_steps", "pure fat % of flour", "higher", "assumed_here")
    }
    for what in ("fat", "sugar"):
        assert STEPS[0][f"{what}_min"] == "0"
        assert [row[f"{what}_max"] for row in STEPS] == [*(row[f"{what}_min"] for row in STEPS[1:]), ""]


@pytest.mark.parametrize(
    ("fat", "sugar", "expected"),
    [(0.5, 0, "lean"), (2.9, 2.9, "lean"), (3, 0, "soft"), (2, 9, "soft"), (15.1, 18, "sweet"), (23.2, 18, "rich"),
     (15, 25, "rich"), (40, 5, "very rich"), (58, 5, "very rich"), (9, 40, "very rich")],
)  # fmt: skip
def test_our_own_classes_of_known_doughs(fat, sugar, expected):
    """Common practice, no source: a bun with 15 % butter is sweet, with 28 % rich, a 70 % brioche very rich."""
    assert own_class(fat, sugar) == expected


def test_published_class_lines_are_as_printed():
    """Reinhart 2001 p. 45; school text; Leitsaetze I.1 (10 on 90 parts); D.M. 22 July 2005 art. 1-2."""
    rows = {(row["scheme"], row["class"]): row for row in ALL["dough_classes"]}
    assert rows["reinhart_2001", "rich"]["fat_min"] == rows["reinhart_2001", "enriched"]["fat_max"] == "20"
    medium = rows["culinary_school", "soft medium"]
    assert [medium[c] for c in ("fat_min", "fat_max", "sugar_min", "sugar_max")] == ["6", "9", "6", "9"]
    line = float(rows["german_code", "fine bakery ware"]["fat_sugar_sum_min"])
    assert line == pytest.approx(10 / 90 * 100, abs=0.005)
    assert rows["german_stollen", "butter stollen"]["fat_min"] == "40"
    assert rows["german_stollen", "stollen"]["fat_min"] == "30"
    for name, butterfat in (("panettone", "16"), ("pandoro", "20")):
        row = rows["italian_decree", name]
        assert (row["butterfat_of_mix_min"], row["yolk_of_mix_min"]) == (butterfat, "4")
        assert row["basis"] == "% of the whole mix"
    assert {row["basis"] for row in rows.values()} <= {
        "pure fat % of flour", "fat as weighed % of flour", "% of the whole mix",
    }  # fmt: skip


def test_only_our_own_scheme_leaves_no_gap():
    """The school text says nothing of a dough with 3 % fat; that gap is the source's and stays."""
    school = [row for row in ALL["dough_classes"] if row["scheme"] == "culinary_school" and row["fat_min"]]
    assert not any(float(row["fat_min"]) <= 3 <= float(row["fat_max"]) for row in school)


@pytest.mark.parametrize("what", ["sugar", "fat"])
def test_mixing_advice_covers_every_level_once(what):
    """Glossary of a baking school: sugar over 12 % late; fat 5-15 % at half, over 15 % at four fifths."""
    rows = [row for row in ALL["mixing_method"] if row["what"] == what]
    assert [row["from_percent"] for row in rows] == {"sugar": ["0", "12"], "fat": ["0", "5", "15"]}[what]
    assert [row["to_percent"] for row in rows] == [*(row["from_percent"] for row in rows[1:]), ""]
    when = {"sugar": ["start", "developed"], "fat": ["start", "half", "four_fifths"]}
    assert [row["when"] for row in rows] == when[what]


# ---- losses, ranges, uncertainties, steps ------------------------------------------------------------------


def default_losses(part):
    rows = [row for row in ALL["losses"] if row["use"] == "default" and row["part"] == part]
    assert max(Counter(row["stage"] for row in rows).values()) == 1
    return {row["stage"]: float(row["default_percent"]) for row in rows}


@pytest.mark.parametrize(("part", "together"), [("dough", 2.0), ("topping", 3.0)])
def test_default_losses_before_the_oven(part, together):
    """Bread formula lesson: about 2 % of the dough before proof; a paste 3 %: common practice, no source."""
    loss = default_losses(part)
    kept = math.prod(1 - loss[stage] / 100 for stage in ("mixing", "fermenting", "dividing"))
    assert 100 * (1 - kept) == pytest.approx(together, abs=0.05)
    assert set(loss) == {"mixing", "fermenting", "dividing", "baking"}


def test_default_losses_lie_among_the_published():
    """Trade dictionary: fermentation 1 % normal, bake-out 9.8 to 11.5 %."""
    dough = default_losses("dough")
    assert dough["fermenting"] == 1
    assert 9.8 <= dough["baking"] <= 11.5
    assert default_losses("topping")["baking"] < dough["baking"]


@pytest.mark.parametrize("row", ALL["losses"], ids=lambda r: f"{r['stage']}-{r['part']}-{r['source']}")
def test_losses_are_in_order_and_under_100(row):
    assert row["stage"] in {"mixing", "fermenting", "dividing", "baking"}
    assert row["part"] in {"dough", "topping"}
    assert (row["use"] == "default") == (row["provenance"] in {"common practice", "assumed here"})
    given = [float(row[c]) for c in ("low_percent", "default_percent", "high_percent") if row[c] != ""]
    assert given == sorted(given)
    assert 0 <= given[0] <= given[-1] < 100


def test_every_loss_in_print_says_what_it_is_of():
    """A baker's bun: 84 g to 75 g, small loaf: 314 g to 267 g; a miller's hot cross bun: 80 g to 72 g."""
    for row in ALL["losses"]:
        assert bool(row["of"]) == (row["use"] == "printed")
    weighed = [row for row in ALL["losses"] if " baked to " in row["of"]]
    assert len(weighed) == 3
    for row in weighed:
        raw, baked = (float(word) for word in re.findall(r"([0-9]+) g", row["of"]))
        assert float(row["default_percent"]) == round(100 * (1 - baked / raw), 1)


@pytest.mark.parametrize("row", ALL["usual_ranges"], ids=lambda r: f"{r['what']}-{r['part']}-{r['source']}")
def test_usual_ranges_are_of_something_known_and_in_order(row):
    assert row["what"] in KINDS | NAMES | {"hydration", "total hydration"}
    assert 0 <= float(row["low_percent"]) < float(row["high_percent"]) or row["what"] == "flour"
    assert float(row["low_percent"]) > 0 or row["what"] == "water"  # where milk and egg bring all
    assert not row["hard_high_percent"] or float(row["hard_high_percent"]) >= float(row["high_percent"])


def test_every_kind_has_a_usual_range():
    usual = {row["what"] for row in ALL["usual_ranges"] if row["part"] == "dough"}
    assert usual >= KINDS
    assert {row["what"]: row["low_percent"] for row in ALL["usual_ranges"]}["flour"] == "100"  # of itself


def test_usual_dry_yeast_is_usual_fresh_yeast_converted():
    """Hamelman 2004: factors 0.40 and 0.33."""
    rows = [row for row in ALL["usual_ranges"] if row["source"] == "common_practice"]
    usual = {row["what"]: row for row in rows}
    for form, factor in (("active dry yeast", 0.40), ("instant yeast", 0.33)):
        for column in ("low_percent", "high_percent"):
            assert float(usual[form][column]) == pytest.approx(factor * float(usual["fresh yeast"][column]), rel=0.1)


@pytest.mark.parametrize("row", ALL["uncertainties"], ids=lambda r: r["what"])
def test_spreads_are_whole(row):
    assert row["kind_of_spread"] in {"standard deviation", "uniform", "coverage"}
    if row["kind_of_spread"] == "uniform":
        assert float(row["low"]) < float(row["high"])
        if row["value"]:  # a scale's step: the error lies within half of it to either side
            assert float(row["high"]) - float(row["low"]) == pytest.approx(float(row["value"]))
    if row["kind_of_spread"] == "coverage":
        assert float(row["high"]) - float(row["low"]) == float(row["value"])


def test_table_values_lie_within_their_spread():
    """Legal floors: butter 80 % (Act of 1923), whole milk 3.25 % (21 CFR 131.110, from memory)."""
    spread = {row["what"]: (float(row["low"]), float(row["high"])) for row in ALL["uncertainties"] if row["low"]}
    for what, key, column in (
        ("butter fat", "butter_unsalted", "fat_g_per_100g"),
        ("whole milk fat", "milk_whole", "fat_g_per_100g"),
        ("fresh yeast water", "yeast_compressed", "water_g_per_100g"),
    ):
        low, high = spread[what]
        assert low <= float(BY_KEY[key][column]) <= high


def test_every_mass_has_a_scale_step():
    """Common practice, no source: 0.1 g for yeast, salt, spice and below 30 g, else 1 g."""
    assert {row["kind"] for row in ALL["scale_steps"]} <= KINDS | {"all"}

    def finest(kind, grams):
        fitting = [row for row in ALL["scale_steps"] if row["kind"] in (kind, "all")]
        return min(float(r["step_g"]) for r in fitting if not r["below_g"] or grams < float(r["below_g"]))

    assert [finest(*of) for of in (("yeast", 500), ("salt", 30), ("flour", 29.9), ("flour", 30), ("butter", 2000))] == [
        0.1, 0.1, 0.1, 1, 1,
    ]  # fmt: skip


def test_the_sheet_has_a_step_for_every_measure():
    """Common practice, no source: 1/4 oz from 4 oz, 0.01 oz below and for yeast, salt, spice; oven 5 degF, else 1."""
    rows = ALL["sheet_steps"]
    assert {row["kind"] for row in rows} <= KINDS | {"all"}
    fine = {row["kind"] for row in rows if row["what"] == "mass" and row["step"] == "0.01" and not row["below"]}
    assert fine == {r["kind"] for r in ALL["scale_steps"] if r["step_g"] == "0.1" and not r["below_g"]}
    of = {(row["what"], row["unit"], row["below"]): float(row["step"]) for row in rows if row["kind"] == "all"}
    assert (of["mass", "oz", "4"], of["mass", "oz", ""]) == (0.01, 0.25)
    assert (of["oven", "degF", ""], of["dough", "degF", ""]) == (5, 1)
    assert of["length", "inch", ""] * 8 == of["length", "mm", ""] == 1  # eighths of an inch are what is printed
    pairs = {what: {unit for w, unit, _ in of if w == what} for what in ("oven", "dough", "length", "thickness")}
    assert set(map(frozenset, pairs.values())) == {frozenset({"degC", "degF"}), frozenset({"mm", "inch"})}
    assert all(float(row["step"]) > 0 for row in rows)


# ---- cautions and allergens --------------------------------------------------------------------------------


def test_cautions_arise_on_known_words():
    assert {row["arises_when"] for row in ALL["cautions"]} == {
        "always", "raw_egg", "egg_wash", "raw_flour", "allergens", "mixer", "oven", "filling", "hot_syrup",
        "nuts_seeds", "label", "tasting",
    }  # fmt: skip
    assert len({row["key"] for row in ALL["cautions"]}) == len(ALL["cautions"])
    assert all(row["hazard"].endswith(".") and row["control"].endswith(".") for row in ALL["cautions"])
    assert all(row["short"].endswith(".") and len(row["short"]) < 80 for row in ALL["cautions"] if row["short"])


def test_allergen_lists_are_whole():
    """Regulation (EU) 1169/2011 Annex II: 14 entries; FALCPA with the FASTER Act 2021: 9, and sulfites beside them."""
    lists = defaultdict(dict)
    for row in ALL["allergen_lists"]:
        lists[row["list"]][row["allergen"]] = row["members"].split(";")
    assert {name: len(entries) for name, entries in lists.items()} == {"EU": 14, "US": 9 + 1}
    european = {word for members in lists["EU"].values() for word in members}
    american = {word for members in lists["US"].values() for word in members}
    assert american - european == {"black walnut", "California walnut", "heartnut", "pine nut"}
    assert european - american == {"rye", "barley", "oats", "celery", "mustard", "lupin", "molluscs"}
    for row in INGREDIENTS:
        assert {word for cell in ("allergens", "may_contain") for word in row[cell].split(";") if word} <= european


def test_what_an_ingredient_is_tells_its_allergen():
    """Annex II of Regulation (EU) 1169/2011, by the nature of the ingredient."""
    by_group = {"egg": "egg", "dairy": "milk"}
    by_kind = {"butter": "milk", "clarified butter": "milk", "seed": "sesame", "gluten": "wheat", "malt": "barley"}
    for row in INGREDIENTS:
        need = by_group.get(row["group"]) or by_kind.get(row["kind"])
        assert not need or need in row["allergens"].split(";"), row["key"]
        if row["kind"] == "flour":
            assert row["allergens"] == ("rye" if "rye" in row["name"] else "wheat")
        if row["kind"] == "nut":
            assert row["allergens"]
