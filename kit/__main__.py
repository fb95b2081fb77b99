"""`python -m kit`: open JupyterLab on the first notebook."""

import argparse
import json
import os
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from kit import places
from kit.files import whole

FIRST = "start_here.ipynb"
PICTURES = {"text/html", "image/png"}
_NOT_COPIED = {".at_hand", ".ipynb_checkpoints", ".virtual_documents", "__pycache__"}


def copy_notebooks(source: Path, folder: Path) -> list[Path]:
    """Copy what `folder` lacks of `source`; what differs there stays, and is returned (relative paths)."""
    kept = []
    for path in sorted(source.rglob("*")):
        relative = path.relative_to(source)
        # A book of trials is a kitchen's own.
        if path.is_dir() or _NOT_COPIED & set(relative.parts) or path.suffix.startswith(".db"):
            continue
        target = folder / relative
        if not target.exists():
            target.parent.mkdir(parents=True, exist_ok=True)
            with whole(target) as file:
                file.write(path.read_bytes())
        elif not target.is_file() or target.read_bytes() != path.read_bytes():
            kept.append(relative)
    return kept


def keep_pictures(model: dict[str, Any], **_: Any) -> None:
    """Before a notebook is saved: where a picture stands beside a panel, the file keeps the picture alone.

    A panel lives in its kernel; opened the next day its view would show an error in the picture's place.
    """
    if model["type"] == "notebook":
        for cell in model["content"]["cells"]:
            for output in cell.get("outputs", ()):
                if PICTURES & output.get("data", {}).keys():
                    output["data"].pop("application/vnd.jupyter.widget-view+json", None)


def lab_settings(folder: Path) -> dict[str, dict]:
    """What JupyterLab is told to serve `folder` with, by the name of its settings file."""
    # A photo travels in one message; beyond this the page would lose its kernel without a word.
    server: dict[str, Any] = {
        "ip": "127.0.0.1",
        "root_dir": str(folder),
        "tornado_settings": {"websocket_max_message_size": 2**27},
        "kernel_websocket_connection_class": "kit.connection.Prompt",
    }
    # JupyterLab refuses to run as root unless told; in a container root is the usual user.
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        server["allow_root"] = True
    page = f"/lab/tree/{FIRST}" if (folder / FIRST).is_file() else "/lab"
    return {
        "jupyter_server_config.json": {
            "ServerApp": server,
            "LabApp": {"default_url": page},
            "ContentsManager": {"pre_save_hook": "kit.__main__.keep_pictures"},
        },
        # No pop-up about news over the notebook, and no look-up of newer versions on the network. And no other icon of
        # the browser's tab while a kernel works: it would be fetched again at every move of a slider.
        "labconfig/page_config.json": {
            "disabledExtensions": {
                "@jupyterlab/apputils-extension:announcements": True,
                "@jupyterlab/application-extension:faviconbusy": True,
            }
        },
        # One press runs a page from the top: no question first. What is moved is taken one after the other: in threads
        # beside each other, the page's answer to one move would count as another. The ring that tells of a kernel at
        # work stands below: in the toolbar each of its turns would have all buttons measured anew.
        "labconfig/default_setting_overrides.json": {
            "@jupyterlab/apputils-extension:sessionDialogs": {"skipKernelRestartDialog": True},
            "@jupyterlab/apputils-extension:kernels-settings": {"commsOverSubshells": "disabled"},
            "@jupyterlab/notebook-extension:tracker": {"kernelStatus": {"showOnStatusBar": True, "showProgress": True}},
        },
    }


def _open_lab(folder: Path, arguments: Sequence[str]) -> None:
    """Run JupyterLab until it is stopped; `arguments` win over the kit's settings, and these over the user's files."""
    # Only here: `--help` and the tests of the copying need no server.
    from jupyterlab.labapp import LabApp

    with tempfile.TemporaryDirectory() as place:
        for name, settings in lab_settings(folder).items():
            path = Path(place, name)
            path.parent.mkdir(exist_ok=True)
            path.write_text(json.dumps(settings))
        others = os.environ.get("JUPYTER_CONFIG_PATH")
        os.environ["JUPYTER_CONFIG_PATH"] = os.pathsep.join([place, *([others] if others else [])])
        LabApp.launch_instance(list(arguments))


def main(argv: Sequence[str] | None = None) -> None:
    """Open JupyterLab on the notebooks: the checkout's own, or a copy of the wheel's in a folder of the user's."""
    parser = argparse.ArgumentParser(
        prog="python -m kit",
        description="Open JupyterLab on the first notebook of the kit.",
        epilog="Whatever else is given goes on to JupyterLab, for instance: --no-browser --port 8899",
        allow_abbrev=False,
    )
    parser.add_argument(
        "--folder",
        type=Path,
        help="work in a copy of the notebooks in this folder; files of yours in it are never overwritten "
        "(default: the notebooks of the checkout, or ~/kit-notebooks when the kit was installed from a wheel)",
    )
    known, rest = parser.parse_known_args(argv)
    folder = known.folder
    if folder is None:
        folder = places.notebooks() if places.in_checkout() else Path.home() / "kit-notebooks"
    folder = folder.expanduser().resolve()
    if folder.exists() and not folder.is_dir():
        parser.error(f"'--folder' must be a folder (got the file {folder}); name another one")
    if folder != places.notebooks():
        folder.mkdir(parents=True, exist_ok=True)
        for relative in copy_notebooks(places.notebooks(), folder):
            print(f"kept your {relative}: it differs from the kit's; move it away to get the kit's", file=sys.stderr)
    _open_lab(folder, rest)


if __name__ == "__main__":
    main()
