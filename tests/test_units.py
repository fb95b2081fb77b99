"""Amounts against exact definitions: NIST Handbook 44 Appendix C and NIST SP 811 Appendix B.

US customary: 1 lb = 453.592 37 g exactly, 16 oz to the pound, 1 gal = 231 cubic inches = 3.785 411 784 L exactly
(128 fl oz, 16 cups, 256 tablespoons, 768 teaspoons), 1 in = 2.54 cm exactly; t/degC = (t/degF - 32) / 1.8.
"""

import re
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import AmountError, UnitError
from kit.units import UNIT_OF, amount, number, read, temperature_difference
from tests.laws import drawn

LAWS = drawn(60)
POUND, GALLON = 453.59237, 3785.411784
EXACT = [
    ("1 lb", "mass", POUND),
    ("1 oz", "mass", POUND / 16),
    ("1 lb 2 oz", "mass", POUND * 18 / 16),
    ("2 lbs", "mass", 2 * POUND),
    ("1 kg", "mass", 1000),
    ("1,5 kilos", "mass", 1500),
    ("250 mg", "mass", 0.25),
    ("0.5 stone", "mass", 7 * POUND),
    ("1 tonne", "mass", 1e6),
    ("1 cup", "volume", GALLON / 16),
    ("1 tbsp", "volume", GALLON / 256),
    ("1 tsp", "volume", GALLON / 768),
    ("1 fl oz", "volume", GALLON / 128),
    ("1 quart", "volume", GALLON / 4),
    ("1 pint", "volume", GALLON / 8),
    ("2 litres", "volume", 2000),
    ("25 cl", "volume", 250),
    ("1 inch", "length", 2.54),
    ("12 mm", "length", 1.2),
    ("0.4 m", "length", 40),
    ("32 degF", "temperature", 0),
    ("212 °F", "temperature", 100),
    ("-40 F", "temperature", -40),
    ("78 Fahrenheit", "temperature", 46 / 1.8),
    ("273.15 K", "temperature", 0),
    ("26 °C", "temperature", 26),
    ("1 h 30 min", "time", 90),
    ("90 s", "time", 1.5),
    ("1 day", "time", 1440),
    ("1 1/2 hours", "time", 90),
    ("62,5 %", "percentage", 62.5),
    ("18 percent", "percentage", 18),
]


@pytest.mark.parametrize(("written", "kind", "value"), EXACT, ids=[case[0] for case in EXACT])
def test_exact_conversions(written, kind, value):
    assert read(written, kind) == pytest.approx(value, rel=1e-12, abs=1e-9)
    assert amount(written).kind == kind
    assert amount(written).unit == UNIT_OF[kind]


def test_a_cup_as_rounded_by_nist():
    """NIST SP 811, Appendix B.8: 1 cup (US) = 236.588 2 mL; tablespoon 14.786 76 mL; teaspoon 4.928 922 mL."""
    assert round(read("1 cup", "volume"), 4) == 236.5882
    assert round(read("1 tablespoon", "volume"), 5) == 14.78676
    assert round(read("1 teaspoon", "volume"), 6) == 4.928922


@pytest.mark.parametrize(
    ("written", "difference"),
    [("18 degF", 10), ("10 degC", 10), ("9 °F", 5), ("-9 F", -5), ("4 K", 4), ("1,8 degF", 1), (3, 3)],
)
def test_differences_of_temperature_take_no_32_off(written, difference):
    """NIST SP 811, Appendix B.8: an interval of 1 degF is 5/9 of an interval of 1 degC."""
    assert temperature_difference(written) == pytest.approx(difference, abs=1e-9)


@LAWS
@given(st.floats(-100, 500))
def test_fahrenheit_and_celsius(value):
    """NIST SP 811: t/degC = (t/degF - 32) / 1.8."""
    assert read(f"{value:.6f} degF", "temperature") == pytest.approx((round(value, 6) - 32) / 1.8, abs=1e-9)
    warmer = temperature_difference(f"{value:.6f} degF")
    assert warmer == pytest.approx(round(value, 6) / 1.8, abs=1e-9)


@LAWS
@given(st.floats(0, 1e9).filter(lambda value: not re.search(r"\.\d{3}$", repr(value))), st.sampled_from(list(UNIT_OF)))
def test_a_bare_number_is_in_the_house_unit(value, kind):
    """Three digits behind a point may be thousands: that is asked."""
    assert read(value, kind) == value
    assert read(f"{value!r} {UNIT_OF[kind]}" if "e" not in repr(value) else value, kind) == value


@LAWS
@given(st.integers(0, 10**9), st.integers(0, 99))
def test_marks_of_thousands_and_decimals(whole, hundredths):
    """The same number as written in English, in most of Europe, in Switzerland and with fixed spaces."""
    value = whole + hundredths / 100
    english = f"{whole:,}.{hundredths:02d}"
    swapped = english.replace(",", " ").replace(".", ",")
    for written in (english, swapped, swapped.replace(" ", "."), swapped.replace(" ", "\u00a0"),
                    swapped.replace(" ", "\u202f"), english.replace(",", "'")):  # fmt: skip
        assert number(written) == pytest.approx(value, rel=1e-12)
        assert read(f"{written} g", "mass") == pytest.approx(value, rel=1e-12)


@LAWS
@given(st.integers(0, 500), st.integers(1, 15), st.sampled_from([2, 3, 4, 8, 16]))
def test_fractions(whole, top, bottom):
    assert number(f"{whole} {top}/{bottom}") == pytest.approx(whole + top / bottom)
    assert number(f"{top}/{bottom}") == number(f"{top} / {bottom}") == pytest.approx(top / bottom)
    assert read(f"{top}/{bottom} oz", "mass") == pytest.approx(top / bottom * POUND / 16)


def test_vulgar_fractions_of_unicode():
    """The Unicode Standard, Number Forms: compatibility decompositions of the vulgar fractions."""
    wanted = {"¼": 1 / 4, "½": 1 / 2, "¾": 3 / 4, "⅓": 1 / 3, "⅔": 2 / 3, "⅛": 1 / 8, "⅜": 3 / 8, "⅝": 5 / 8,
              "⅞": 7 / 8, "⅕": 1 / 5, "⅖": 2 / 5, "⅗": 3 / 5, "⅘": 4 / 5, "⅙": 1 / 6, "⅚": 5 / 6}  # fmt: skip
    assert {sign: number(sign) for sign in wanted} == pytest.approx(wanted)
    assert {sign: number(f"1{sign}") for sign in wanted} == pytest.approx({sign: 1 + v for sign, v in wanted.items()})


@pytest.mark.parametrize(
    ("written", "kind"),
    [("20 cm", "mass"), ("3 g", "volume"), ("5 min", "temperature"), ("1 cup", "mass"), ("3 eggs", "mass")],
)  # fmt: skip
def test_another_kind_of_unit_is_refused(written, kind):
    with pytest.raises(UnitError, match="'dose' must be"):
        read(written, kind, "dose")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "nan", "inf g", "9" * 400 + " g", True, None, [1]])
def test_what_is_no_finite_number_is_refused(value):
    with pytest.raises((AmountError, UnitError), match="'dose' must be"):
        read(value, "mass", "dose")


def test_what_is_not_a_unit_is_a_count():
    eggs = amount("3 large eggs")
    assert (eggs.value, eggs.kind, eggs.unit) == (3, "count", "large eggs")


# ---- a closed list --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "value"),
    [("12 ct", 12), ("15 doz", 180), ("1 dz", 12), ("2 dozen", 24), ("½ dozen", 6), ("1 baker's dozen", 13),
     ("half dozen", 6), ("half a dozen", 6), ("3 Stück", 3), ("2 pcs", 2), ("1 ea", 1), ("1 gross", 144),
     ("2 half dozens", 12)],
)  # fmt: skip
def test_counts(written, value):
    """A dozen is 12, a baker's dozen 13, a gross 144."""
    assert (amount(written).value, amount(written).kind, amount(written).unit) == (value, "count", "pieces")
    assert amount("2 dozen large eggs").unit == "large eggs"


@pytest.mark.parametrize(
    ("written", "kind", "value"),
    [
        ("1 EL", "volume", 15), ("2 TL", "volume", 10), ("2 gestrichene EL", "volume", 30),
        ("1 Esslöffel", "volume", 15),
        ("3 cuillères à soupe", "volume", 45), ("2 c. à c.", "volume", 10), ("2 c. à s.", "volume", 30),
        ("1 msk", "volume", 15), ("1 tsk", "volume", 5), ("2 krm", "volume", 2), ("1 dsp", "volume", 10),
        ("1 Australian tbsp", "volume", 20), ("2 metric cups", "volume", 500), ("1 UK pint", "volume", 568.26125),
        ("1 Pfund", "mass", 500), ("½ Pfund", "mass", 250), ("1 livre", "mass", 500), ("20 dag", "mass", 200),
        ("1 etto", "mass", 100), ("1 quintal", "mass", 1e5), ("5 #", "mass", 5 * POUND),
        ("1 lb. 2 oz.", "mass", 1.125 * POUND),
        ("1 Tbsp.", "volume", GALLON / 256), ("2 Tbs", "volume", GALLON / 128), ("2 TSP", "volume", GALLON / 384),
        ("1 Fl. Oz.", "volume", GALLON / 128), ("1 c", "volume", GALLON / 16), ("1 level tsp", "volume", GALLON / 768),
        ("3/4 cup + 2 Tbsp", "volume", 0.875 * GALLON / 16), ("1 kg 250 g", "mass", 1250),
        ("26 C", "temperature", 26),
        ("26 c", "temperature", 26), ("2 Std", "time", 120), ("2 weeks", "time", 20160),
        ("1 1/2 cups", "volume", 1.5 * GALLON / 16),
        ("1-1/2 cups", "volume", 1.5 * GALLON / 16), ("2-½ lb", "mass", 2.5 * POUND), ("half a kilo", "mass", 500),
        ("half an hour", "time", 30), ("1 h 15", "time", 75), ("1h15", "time", 75),
        ("1 lb, 4 oz", "mass", 1.25 * POUND),
        ("1 cup plus 2 tbsp", "volume", 1.125 * GALLON / 16), ("1’234 g", "mass", 1234), ("180ºC", "temperature", 180),
        ("1 EL gestr.", "volume", 15), ("1 cucchiaio", "volume", 15), ("1 cucharadita", "volume", 5),
        ("2¼ oz", "mass", 2.25 * POUND / 16), ("1.230,5 g", "mass", 1230.5), ("250g", "mass", 250),
    ],
)  # fmt: skip
def test_units_as_bakers_write_them(written, kind, value):
    """Metric spoons: a German maker's page and New South Wales Health's chart; Pfund: a German magazine, 2017."""
    assert read(written, kind) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("written", "do"),
    [("3 T", "write tbsp, tsp or tonne"), ("3 t", "write tbsp, tsp or tonne"), ("1 T.", "tbsp"), ("5 gr", "write g"),
     ("2 st", "write pieces, or stone"), ("1 pk", "write packet"), ("1 quarter", "1 stick"), ("1 ton", "write tonne"),
     ("2 cc", "mL"), ("1 cwt", "100 in America"), ("1 Tasse", "write mL"), ("1 gill", "fl oz"), ("1 q", "quart"),
     ("200°", "write °C or °F"), ("27 deg", "°F")],
)  # fmt: skip
def test_what_two_people_read_differently_is_asked(written, do):
    with pytest.raises(AmountError, match="clear about its unit") as caught:
        amount(written)
    assert do in str(caught.value)


@pytest.mark.parametrize("written", ["1 lb 20 oz", "1 oz 2 lb", "1 lb 3", "1 lb 2 cups", "10² g", "10¹ g"])
def test_two_amounts_that_are_not_one(written):
    """Nor is the mark of a footnote a digit: 10² g is not 102."""
    with pytest.raises(UnitError):
        read(written, "mass")


RANGES = ["1-2 tbsp", "1 – 2 tbsp", "1 to 2 tbsp", "2 or 3 g", "2 bis 3 g", "1 - 1/2 cups", "1-2 1/2 cups"]


@pytest.mark.parametrize("written", RANGES)
def test_a_range_is_asked(written):
    with pytest.raises(AmountError, match="must be one amount"):
        amount(written)


@pytest.mark.parametrize(
    "unit",
    ["carat", "EG", "Em", "amu", "mol", "furlong", "grain", "bag", "barrel", "bushel", "firkin", "slug", "u", "Da", "P",
     "hogshead", "scruple", "dram", "kPa", "ftm", "drachm", "minim", "Ml",
     "Gg", "uL", "ng", "angstrom"],
)  # fmt: skip
def test_no_unit_but_those_of_the_list(unit):
    """Units of other trades that a general library of units reads; Ml as a megalitre."""
    found = amount(f"1 {unit}")
    assert found.kind == "count" or (unit, found.kind, found.value) == ("Ml", "volume", 1)
    with pytest.raises(UnitError):
        read(f"1 {unit}", "mass")


@pytest.mark.parametrize("written", ["1.234 g", "1.000 g", "2.500 mL"])
def test_a_thousandth_or_a_thousand_is_asked(written):
    with pytest.raises(AmountError, match="clear about its point"):
        read(written, "volume" if "L" in written else "mass")


def test_a_packet_is_counted_by_any_name():
    for written in ("1 sachet", "1 pkt", "1 Pck.", "1 Päckchen", "1 packet"):
        assert (amount(written).value, amount(written).kind, amount(written).unit) == (1, "count", "packet")


def test_a_slip_of_a_unit_is_asked_back():
    with pytest.raises(UnitError, match="did you mean oz"):
        read("3 ouncse", "mass")
    with pytest.raises(UnitError, match="weigh it, or give it in the right unit"):
        read("3 carats", "mass")


def test_reading_a_formula_needs_no_registry_of_units():
    """House units are read without pint, which takes longer to load than the rest of the kit."""
    code = (
        "import sys, kit; bun = kit.Formula.read(kit.places.notebooks() / 'formulas' / 'crackle_bun.toml');"
        "kit.total_hydration(bun); print('pint' in sys.modules, bun.vary(butter='25 %').pieces.dough);"
        "kit.units.read('2 lb', 'mass'); print('pint' in sys.modules)"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert said.split() == ["False", "60.0", "True"]
