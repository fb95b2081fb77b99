"""`python -m kit` up to the start of the server; tests/browser and tests/packaging start it."""

import json
import os
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path
from unittest import mock

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
    (folder / "our_trials.db-wal").write_text("theirs")
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


def server_settings(folder):
    return start.lab_settings(folder)["jupyter_server_config.json"]


def test_stays_on_this_machine_and_keeps_the_token(source):
    settings = server_settings(source)
    assert settings["ServerApp"]["ip"] == "127.0.0.1"
    assert "token" not in str(settings)
    assert "password" not in str(settings)


def test_opens_the_first_notebook_where_there_is_one(source, tmp_path):
    assert server_settings(source)["LabApp"]["default_url"] == "/lab/tree/start_here.ipynb"
    assert server_settings(tmp_path)["LabApp"]["default_url"] == "/lab"


@pytest.mark.parametrize(("user", "allowed"), [(0, True), (1000, False)])
def test_root_is_allowed_only_for_root(source, monkeypatch, user, allowed):
    monkeypatch.setattr(os, "geteuid", lambda: user, raising=False)
    assert server_settings(source)["ServerApp"].get("allow_root", False) == allowed


def test_jupyterlab_reads_the_settings_and_the_users_arguments_win(source):
    command = [sys.executable, "-m", "kit", "--folder", source, "--ip", "127.0.0.2", "--show-config-json"]
    shown = json.loads(subprocess.run(command, capture_output=True, text=True, check=True, timeout=60).stdout)
    assert shown["ServerApp"]["root_dir"] == str(source)
    assert shown["ServerApp"]["ip"] == "127.0.0.2"
    assert shown["LabApp"]["default_url"] == "/lab/tree/start_here.ipynb"


VIEW = "application/vnd.jupyter.widget-view+json"


def saved(*bundles):
    """The data of outputs as `keep_pictures` leaves them in the file."""
    cells = [{"cell_type": "markdown"}, {"outputs": [{"output_type": "stream"}, *({"data": b} for b in bundles)]}]
    model = {"type": "notebook", "content": {"cells": cells}}
    start.keep_pictures(model=model, path="a.ipynb", contents_manager=None)
    return [output["data"] for output in cells[1]["outputs"][1:]]


def test_a_view_is_saved_only_where_no_picture_stands_beside_it():
    view = {VIEW: {"model_id": "1"}, "text/plain": "Press"}
    assert saved(view | {"text/html": "<img>"}) == [{"text/html": "<img>", "text/plain": "Press"}]
    assert saved(view | {"image/png": "AA"}) == [{"image/png": "AA", "text/plain": "Press"}]
    assert saved(view, {"text/html": "<p>"}) == [view, {"text/html": "<p>"}]


def test_a_file_that_is_no_notebook_is_saved_as_it_is():
    model = {"type": "file", "content": "cells"}
    start.keep_pictures(model=model, path="a.txt")
    assert model == {"type": "file", "content": "cells"}


def test_jupyter_finds_the_hook_and_the_settings_by_their_names(source):
    from traitlets.utils.importstring import import_item

    settings = start.lab_settings(source)
    assert import_item(settings["jupyter_server_config.json"]["ContentsManager"]["pre_save_hook"]).__doc__
    overrides = settings["labconfig/default_setting_overrides.json"]
    if tuple(map(int, version("jupyterlab").split(".")[:2])) < (4, 4):  # which knows no threads beside each other
        overrides.pop("@jupyterlab/apputils-extension:kernels-settings")
    for plugin, wishes in overrides.items():
        name, schema = plugin.split(":")
        known = json.loads(Path(sys.prefix, "share/jupyter/lab/schemas", name, f"{schema}.json").read_text())[
            "properties"
        ]
        assert wishes.keys() <= known.keys()
        for key, wish in wishes.items():
            assert wish in [each["const"] for each in known[key].get("oneOf", [{"const": wish}])]


def test_each_message_of_a_kernel_goes_to_the_page_at_once(source, monkeypatch):
    """Nagle's wait for an acknowledgement, which the other side may hold back (RFC 896; RFC 1122, 4.2.3.2), is off."""
    from jupyter_server.serverapp import ServerApp
    from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection
    from jupyter_server.services.kernels.websocket import KernelWebsocketHandler
    from traitlets.utils.importstring import import_item

    name = server_settings(source)["ServerApp"]["kernel_websocket_connection_class"]
    assert ServerApp(kernel_websocket_connection_class=name).kernel_websocket_connection_class is import_item(name)
    done = []
    handler = mock.Mock(spec=KernelWebsocketHandler, set_nodelay=lambda on: done.append(("at once", on)))
    monkeypatch.setattr(ZMQChannelsWebsocketConnection, "connect", lambda self: done.append("opened") or "kernel")
    assert import_item(name)(websocket_handler=handler).connect() == "kernel"
    assert done == [("at once", True), "opened"]


def test_a_file_is_no_folder(tmp_path, capsys):
    path = tmp_path / "file"
    path.touch()
    with pytest.raises(SystemExit):
        start.main(["--folder", str(path)])
    assert "'--folder' must be a folder" in capsys.readouterr().err
