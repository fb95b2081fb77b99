"""The wheel works far from the checkout: its tables, its notebooks and `python -m kit` come along."""

import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import lab
import pytest

from kit import places

pytestmark = pytest.mark.packaging

CHECKOUT = Path(__file__).resolve().parents[2]


def run(*command, cwd, **more):
    """Output of a command, with nothing of this environment on Python's path."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    done = subprocess.run(command, cwd=cwd, capture_output=True, text=True, env=environment, check=False, **more)
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    """A folder far from the checkout."""
    return tmp_path_factory.mktemp("far")


@pytest.fixture(scope="module")
def wheel(base):
    """The wheel, just built."""
    run(sys.executable, "-m", "pip", "wheel", "--no-deps", "--wheel-dir", base / "dist", CHECKOUT, cwd=base)
    (wheel,) = (base / "dist").glob("*.whl")
    return wheel


@pytest.fixture(scope="module")
def python(base, wheel):
    """Python of a fresh environment into which the wheel and what it asks for were installed."""
    venv.create(base / "env", with_pip=True)
    python = base / "env" / ("Scripts" if os.name == "nt" else "bin") / "python"
    run(python, "-m", "pip", "install", wheel, cwd=base)
    return python


@pytest.fixture
def empty(tmp_path):
    """An empty folder to start from."""
    folder = tmp_path / "empty"
    folder.mkdir()
    return folder


def files(folder):
    """Every file of a folder with its content, but for what running its pages leaves behind."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
        and not {".ipynb_checkpoints", ".virtual_documents", ".at_hand"} & set(path.parts)
        and not path.name.startswith("our_trials.db")
    }


@pytest.mark.parametrize("place", ["reference_tables", "notebooks"])
def test_the_wheel_carries_the_folder_as_it_is(python, empty, place):
    found = Path(run(python, "-c", f"from kit import places; print(places.{place}())", cwd=empty).strip())
    assert CHECKOUT not in found.parents
    packed = files(found)
    assert packed
    assert packed == files(getattr(places, place)())


def test_the_wheel_carries_its_licence(wheel):
    with zipfile.ZipFile(wheel) as packed:
        (name,) = (name for name in packed.namelist() if "dist-info/licenses" in name)
        text = packed.read(name).decode()
        (about,) = (packed.read(name).decode() for name in packed.namelist() if name.endswith("dist-info/METADATA"))
    assert text == (CHECKOUT / "kit" / "LICENSE").read_text()
    assert text.startswith("MIT License")
    assert "License-Expression: MIT" in about
    assert f"License-File: {name.partition('licenses/')[2]}" in about


def test_help_needs_nothing_but_the_install(python, empty):
    assert "--folder" in run(python, "-m", "kit", "--help", cwd=empty)


def test_notebooks_are_copied_and_never_overwritten(python, empty):
    folder = empty / "mine"
    with lab.serve(python, folder, empty / "surroundings") as server:
        assert files(folder) == files(places.notebooks())
        assert b"start_here.ipynb" in server.get("/api/contents")
    (folder / "start_here.ipynb").write_text("mine")
    with lab.serve(python, folder, empty / "surroundings") as server:
        assert (folder / "start_here.ipynb").read_text() == "mine"
        assert "kept your start_here.ipynb" in server.log.read_text()


def test_the_first_notebook_runs_from_a_copy(python, empty):
    with lab.serve(python, empty / "mine", empty / "surroundings"):
        pass
    run(python.with_name("jupyter-execute"), "start_here.ipynb", cwd=empty / "mine", timeout=300)
