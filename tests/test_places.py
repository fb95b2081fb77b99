"""Where the data lie in a checkout; tests/packaging looks at the wheel."""

from pathlib import Path

from kit import places

CHECKOUT = Path(__file__).resolve().parent.parent


def test_a_checkout_uses_its_own_folders():
    assert places.in_checkout()
    assert places.reference_tables() == CHECKOUT / "reference_tables"
    assert places.notebooks() == CHECKOUT / "notebooks"


def test_the_packed_folders_come_first(tmp_path, monkeypatch):
    packed = tmp_path / "_data"
    packed.mkdir()
    monkeypatch.setattr(places, "_PACKED", packed)
    assert not places.in_checkout()
    assert places.reference_tables() == packed / "reference_tables"
