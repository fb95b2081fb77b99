"""`python -m kit` up to the start of the server; tests/browser and tests/packaging start it."""

import os

import pytest

from kit import __main__ as start


@pytest.fixture
def source(tmp_path):
    folder = tmp_path / "source"
    (folder / "formulas").mkdir(parents=True)
    (folder / "start_here.ipynb").write_text("first")
    (folder / "formulas" / "bun.toml").write_text("bun")
    (folder / ".ipynb_checkpoints").mkdir()
    (folder / ".ipynb_checkpoints" / "start_here.ipynb").write_text("old")
    return folder


def test_copies_what_is_lacking(source, tmp_path):
    folder = tmp_path / "mine"
    assert start.copy_notebooks(source, folder) == []
    copied = {path.relative_to(folder).as_posix(): path.read_text() for path in folder.rglob("*") if path.is_file()}
    assert copied == {"start_here.ipynb": "first", "formulas/bun.toml": "bun"}


def test_keeps_and_names_what_the_user_changed(source, tmp_path):
    folder = tmp_path / "mine"
    start.copy_notebooks(source, folder)
    (folder / "formulas" / "bun.toml").write_text("my bun")
    (folder / "start_here.ipynb").unlink()
    kept = start.copy_notebooks(source, folder)
    assert [path.as_posix() for path in kept] == ["formulas/bun.toml"]
    assert (folder / "formulas" / "bun.toml").read_text() == "my bun"
    assert (folder / "start_here.ipynb").read_text() == "first"


def test_stays_on_this_machine_and_the_users_arguments_win(source):
    arguments = start.lab_arguments(source, ["--ServerApp.ip=::1"])
    assert "--ServerApp.ip=127.0.0.1" in arguments
    assert arguments[-1] == "--ServerApp.ip=::1"
    assert not any("token" in argument or "password" in argument for argument in arguments)


def test_opens_the_first_notebook_where_there_is_one(source, tmp_path):
    assert "--LabApp.default_url=/lab/tree/start_here.ipynb" in start.lab_arguments(source)
    assert "--LabApp.default_url=/lab" in start.lab_arguments(tmp_path)


@pytest.mark.parametrize(("user", "allowed"), [(0, True), (1000, False)])
def test_root_is_allowed_only_for_root(source, monkeypatch, user, allowed):
    monkeypatch.setattr(os, "geteuid", lambda: user, raising=False)
    assert ("--ServerApp.allow_root=True" in start.lab_arguments(source)) == allowed


def test_a_file_is_no_folder(tmp_path, capsys):
    path = tmp_path / "file"
    path.touch()
    with pytest.raises(SystemExit):
        start.main(["--folder", str(path)])
    assert "'--folder' must be a folder" in capsys.readouterr().err
