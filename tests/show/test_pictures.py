"""What kit.show offers, and that every kind of value with a chart has a picture with its words."""

import pytest

import kit
from kit.errors import AmountError
from kit.show.pictures import CHARTS, charts_of, picture_of

FOLDER = kit.places.notebooks() / "formulas"


@pytest.fixture(scope="module")
def values():
    bun = kit.Formula.read(FOLDER / "crackle_bun.toml")
    book = kit.TrialBook.read(FOLDER.parent / "trials" / "crackle_bun_trials.csv", FOLDER)
    year, own, richer = book.trials(), kit.rise(bun), kit.rise(bun.vary(sugar=24))
    return [
        bun,
        own,
        richer.against(own),
        kit.topping_fit(bun),
        kit.water_temperature(bun, 26, 22),
        kit.day(bun),
        kit.solve(bun, {"butter": 25}, hold=["total_hydration"], free=["water"]),
        kit.side_by_side(year[:2], kitchen=year),
    ]


def test_what_is_offered_is_panels_and_the_one_word():
    assert len(kit.show.__all__) <= 16
    panels = [name for name in kit.show.__all__ if name != "picture_of"]
    assert all(name.endswith(("Panel", "Card", "View", "Picture")) for name in panels)


def test_every_kind_of_value_has_charts_that_say_what_they_show(values):
    seen = {kind for kind in CHARTS for value in values if isinstance(value, kind)}
    assert {kind.__name__ for kind in CHARTS} == {kind.__name__ for kind in seen}
    for value in values:
        charts = charts_of(value)
        assert all(len(chart.alt) > 20 for chart in charts), type(value)
        shown = picture_of(value).pictures
        assert [words for *_, words in shown] == [chart.alt for chart in charts]
        assert all(png.startswith(b"\x89PNG") for _, png, _ in shown)


def test_a_chart_shows_itself_with_its_words_and_follows_another_value(values):
    (chart,) = charts_of(values[1])
    first = chart._repr_html_()
    assert f'alt="{chart.alt}"' in first
    chart.update(kit.rise(values[0].vary(sugar=24)), before=values[1])
    assert "before" in chart.alt
    assert chart._repr_html_() != first


def test_what_has_no_picture_is_refused_in_words():
    with pytest.raises(AmountError, match="'value' must be what kit computes"):
        picture_of(42)
