"""Drive JupyterLab in Chromium the way a user does, and measure what the user waits for."""

from __future__ import annotations

import os
import secrets
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Locator, Page

CHROMIUM = os.environ.get("CHROMIUM") or shutil.which("chromium")
CHROMIUM_FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
LAPTOP = {"width": 1280, "height": 800}
TABLET_UPRIGHT = {"width": 820, "height": 1180}

HOUSE = Path(__file__).resolve().parents[2]
NOTEBOOK = ".jp-NotebookPanel:not(.lm-mod-hidden)"
_CODE_CELL = f"{NOTEBOOK} .jp-CodeCell"
_OUTPUTS = ".jp-Cell-outputArea > .jp-OutputArea-child"


# --- the server -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Server:
    """A running JupyterLab: its address, its token and the folder it serves."""

    url: str
    token: str
    folder: Path
    log: Path

    def get(self, path: str) -> bytes:
        """The answer to a GET of `path`; raises urllib.error.URLError."""
        request = urllib.request.Request(f"{self.url}{path}", headers={"Authorization": f"token {self.token}"})
        with urllib.request.urlopen(request, timeout=10) as answer:
            return answer.read()


def own_surroundings(folder: Path) -> dict[str, str]:
    """Environment in which Jupyter reads and writes its settings below `folder`, and none of the user's."""
    places = {
        "JUPYTER_CONFIG_DIR": "config",
        "JUPYTER_DATA_DIR": "data",
        "JUPYTER_RUNTIME_DIR": "runtime",
        "IPYTHONDIR": "ipython",
    }
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("JUPYTER", "PYTHONPATH"))}
    return kept | {name: str(folder / place) for name, place in places.items()}


@contextmanager
def serve(
    python: str | Path, folder: Path, surroundings: Path, environment: Mapping[str, str] | None = None
) -> Iterator[Server]:
    """`python -m kit --folder folder`, as a user starts it, until it answers; ended on leaving."""
    surroundings.mkdir(parents=True, exist_ok=True)
    own = {"PYTHONPATH": str(HOUSE)} if Path(python) == Path(sys.executable) else {}  # the kit under test, not another
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = Server(f"http://127.0.0.1:{port}", secrets.token_hex(16), folder, surroundings / "server.log")
    with server.log.open("w") as log:
        process = subprocess.Popen(
            [python, "-m", "kit", "--folder", folder, "--no-browser", f"--ServerApp.port={port}",
             "--ServerApp.port_retries=0", f"--IdentityProvider.token={server.token}",
             "--LabApp.expose_app_in_browser=True"],
            cwd=surroundings, env={**own_surroundings(surroundings), **own, **(environment or {})},
            stdout=log, stderr=subprocess.STDOUT, start_new_session=True,
        )  # fmt: skip
        try:
            _wait_until_it_answers(server, process)
            yield server
        finally:
            process.send_signal(signal.SIGTERM)
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)
                process.wait()


def _wait_until_it_answers(server: Server, process: subprocess.Popen, seconds: float = 90) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if process.poll() is not None:
            break
        try:
            server.get("/api/status")
            return
        except urllib.error.URLError:
            time.sleep(0.2)
    raise RuntimeError(f"JupyterLab did not start:\n{server.log.read_text()}")


# --- a notebook -------------------------------------------------------------------------------------------------------


def open_notebook(page: Page, name: str) -> None:
    """Open the notebook `name` (path below the served folder) and wait until its kernel is ready."""
    # A workspace of its own: no panel left over from another test.
    page.goto(f"/lab/workspaces/{secrets.token_hex(4)}/tree/{name}")
    page.locator(f"{NOTEBOOK} .jp-Cell").first.wait_for()
    _wait_for_kernel(page)


def run_all(page: Page, seconds: float = 120) -> None:
    """Clear all outputs, run all cells and wait for the end, or for the first error; raises AssertionError."""
    _menu(page, "Edit", "editmenu:clear-all")
    total = _prompts(page, "[ ]:")
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        _menu(page, "Run", "runmenu:run-all")
        # JupyterLab loses the command now and then while it still settles (3 of 60 starts): nothing runs. Click again.
        if comes_true(lambda: _prompts(page, "[ ]:") < total or _says(page, "| Busy"), 5):
            break
    # cells whose code is folded tell by their outputs alone that they have run
    comes_true(
        lambda: _says(page, "| Idle") and (not _waiting(page) or errors_in_outputs(page)), end - time.monotonic()
    )
    left = _waiting(page)
    # After an error the cells below it never run; `errors_in_outputs` tells which error.
    if left and not errors_in_outputs(page):
        raise AssertionError(f"{left} of {total} cells have not run after {seconds:.0f} s")
    wait_idle(page)


def wait_idle(page: Page, seconds: float = 60) -> None:
    """Wait until the kernel has answered all that was sent and the notebook has stopped changing for 300 ms."""
    _quiet(page, seconds)
    while not (_answered(page) and _says(page, "| Idle")):
        _quiet(page, seconds)


def _answered(page: Page) -> bool:
    """Whether nothing changes any more in the page once the kernel has answered a question asked after all moves.

    The bar tells of a busy kernel late, and a widget holds a move back while an earlier one is under way: on a busy
    machine a page that is quiet and a bar that says "Idle" may both stand before the move. Messages are answered in
    their order; a kernel that is gone answers nothing.
    """
    return page.evaluate(
        """selector => new Promise(done => {
            const context = window.jupyterapp.shell.currentWidget?.context;
            const kernel = context?.sessionContext?.session?.kernel;
            let changed = false;
            const watch = new MutationObserver(() => { changed = true; });
            const end = () => { watch.disconnect(); done(!changed); };
            watch.observe(document.querySelector(selector),
                {childList: true, subtree: true, attributes: true, characterData: true});
            if (!kernel || kernel.connectionStatus !== 'connected') return end();
            setTimeout(end, 30000);
            kernel.requestKernelInfo().then(() => setTimeout(end, 50), end);
        })""",
        f"{NOTEBOOK} .jp-Notebook",
    )


def _quiet(page: Page, seconds: float) -> None:
    _wait_for_kernel(page, seconds)
    page.evaluate(
        """([selector, most]) => new Promise((done, fail) => {
            const watch = new MutationObserver(() => { clearTimeout(timer); timer = setTimeout(end, 300); });
            const end = () => { watch.disconnect(); clearTimeout(last); done(); };
            let timer = setTimeout(end, 300);
            const stop = () => { watch.disconnect(); fail(new Error('the notebook keeps changing')); };
            const last = setTimeout(stop, most);
            watch.observe(document.querySelector(selector),
                {childList: true, subtree: true, attributes: true, characterData: true});
        })""",
        [f"{NOTEBOOK} .jp-Notebook", seconds * 1000],
    )


def cell(page: Page, index: int) -> Locator:
    """The code cell number `index`, from 0."""
    return page.locator(_CODE_CELL).nth(index)


def outputs(page: Page, index: int | None = None) -> Locator:
    """The outputs of the code cell number `index`, from 0, or of all cells."""
    return (page.locator(_CODE_CELL) if index is None else cell(page, index)).locator(_OUTPUTS)


def errors_in_outputs(page: Page) -> list[str]:
    """Text of every traceback and stderr shown in the notebook, widgets' outputs included."""
    # JupyterLab draws a traceback as it draws stderr.
    return page.locator(f'{NOTEBOOK} [data-mime-type="application/vnd.jupyter.stderr"]').all_text_contents()


def too_wide(page: Page) -> list[str]:
    """What must be scrolled sideways in the notebook, code and outputs alike: its text and both widths [px]."""
    return page.evaluate(
        """panel => [...document.querySelectorAll(`${panel} .jp-Notebook, ${panel} .jp-Notebook *`)]
            .filter(element => ['auto', 'scroll'].includes(getComputedStyle(element).overflowX)
                && element.clientWidth > 0 && element.scrollWidth > element.clientWidth + 1)
            .map(element => `${element.scrollWidth} px in ${element.clientWidth}: `
                + (element.textContent.trim() || element.className).slice(0, 60))""",
        NOTEBOOK,
    )


def screenshot(page: Page, locator: Locator, path: Path) -> Path:
    """A picture of `locator`, scrolled into view, written to `path`."""
    locator.scroll_into_view_if_needed()
    wait_idle(page)
    path.parent.mkdir(parents=True, exist_ok=True)
    locator.screenshot(path=path)
    return path


def console_errors(page: Page) -> list[str]:
    """Errors the page wrote to its console or threw since it was opened."""
    return page.console_errors


def watch_console(page: Page) -> None:
    """Begin to collect what `console_errors` returns."""
    page.console_errors = []
    page.on("console", lambda message: message.type == "error" and page.console_errors.append(message.text))
    page.on("pageerror", lambda error: page.console_errors.append(str(error)))


def _menu(page: Page, menu: str, command: str) -> None:
    page.locator(".lm-MenuBar-item", has_text=menu).first.click()
    page.locator(f'.lm-Menu-item[data-command="{command}"]').click()


def _prompts(page: Page, prompt: str) -> int:
    """How many code cells show this prompt; an empty cell, which keeps `[ ]:` whatever is run, does not count.

    A cell whose code is folded shows none: without an output it counts as one that has not run.
    """
    return page.evaluate(
        """([cells, outputs, prompt]) => [...document.querySelectorAll(cells)].filter(cell =>
            cell.querySelector('.jp-InputPlaceholder')
                ? prompt === '[ ]:' && !cell.querySelector(outputs)
                : cell.querySelector('.cm-content')?.textContent.trim() &&
                  cell.querySelector('.jp-InputPrompt').textContent.trim() === prompt).length""",
        [_CODE_CELL, _OUTPUTS, prompt],
    )


def _waiting(page: Page) -> int:
    """How many code cells have not run to their end."""
    return _prompts(page, "[*]:") + _prompts(page, "[ ]:")


def _says(page: Page, state: str) -> bool:
    """Whether the status bar shows this state of the kernel."""
    return page.locator("#jp-main-statusbar").get_by_text(state).count() > 0


# The status bar shows the kernel's state at any width; the notebook's own toolbar folds it away on a narrow screen.
def _wait_for_kernel(page: Page, seconds: float = 60) -> None:
    page.locator("#jp-main-statusbar").get_by_text("| Idle").wait_for(timeout=seconds * 1000)


def comes_true(condition, seconds: float = 5) -> bool:
    """Whether a condition holds now or within some seconds."""
    end = time.monotonic() + max(seconds, 0)
    while True:
        if condition():
            return True
        if time.monotonic() > end:
            return False
        time.sleep(0.1)


# --- sliders and what the user waits for ------------------------------------------------------------------------------


def slider(page: Page, description: str | None = None, index: int = 0) -> Locator:
    """The handle of a slider, by its description or its number from 0."""
    row = page.locator(f"{NOTEBOOK} .widget-slider")
    if description is not None:
        row = row.filter(has=page.get_by_text(description, exact=True))
    return row.nth(index).locator(".noUi-handle")


def press(page: Page, handle: Locator, key: str = "ArrowRight", times: int = 1) -> None:
    """Move a slider by the keyboard and wait until what it changes stands still."""
    handle.focus()
    for _ in range(times):
        page.keyboard.press(key)
    wait_idle(page)


# Records when a key went down and when a changed picture of the element was on the screen: the first message after an
# animation frame is handled once that frame has been handed over. An <img> counts when it is decoded.
_RECORDER = """([selector, moves]) => {
    const element = document.querySelector(selector);
    if (!element) throw new Error('nothing matches ' + selector);
    const seen = window.kitSeen = {keys: [], painted: []};
    const content = () => element.outerHTML;
    let last = content(), waiting = false;
    const onKey = event => seen.keys.push(event.timeStamp);
    document.addEventListener(moves, onKey, true);
    const afterPaint = () => new Promise(done => requestAnimationFrame(() => {
        const channel = new MessageChannel();
        channel.port1.onmessage = () => done(performance.now());
        channel.port2.postMessage(null);
    }));
    const watch = new MutationObserver(async () => {
        if (waiting) return;
        waiting = true;
        const images = element.matches('img') ? [element] : [...element.querySelectorAll('img')];
        await Promise.all(images.map(image => image.decode().catch(() => null)));
        const when = await afterPaint();
        waiting = false;
        const now = content();
        if (now !== last) { last = now; seen.painted.push(when); }
    });
    watch.observe(element, {childList: true, subtree: true, attributes: true, characterData: true});
    seen.end = () => { watch.disconnect(); document.removeEventListener(moves, onKey, true); };
}"""


@contextmanager
def _recording(page: Page, selector: str, moves: str = "keydown"):
    page.evaluate(_RECORDER, [selector, moves])
    try:
        yield lambda: page.evaluate("() => ({keys: kitSeen.keys, painted: kitSeen.painted})")
    finally:
        page.evaluate("() => kitSeen.end()")


def painted_after_key(
    page: Page, handle: Locator, selector: str, key: str = "ArrowRight", times: int = 15
) -> list[float]:
    """Time from a key press on `handle` to the changed picture of `selector` on the screen, `times` over [ms]."""
    handle.focus()
    return _painted(page, selector, "keydown", [lambda: page.keyboard.press(key)] * times)


def painted_after_drag(page: Page, mark: Locator, selector: str, step: float = 6, times: int = 15) -> list[float]:
    """The same of `mark` that is dragged on by `step` pixels, `times` over [ms]; it ends where it began."""
    x, y = _middle(mark)
    page.mouse.move(x, y)
    page.mouse.down()
    moves = [lambda n=n: page.mouse.move(x + n * step, y) for n in range(1, times + 1)]
    measured = _painted(page, selector, "pointermove", moves)
    page.mouse.move(x, y)
    page.mouse.up()
    wait_idle(page)
    return measured


def _painted(page: Page, selector: str, moves: str, acts: list) -> list[float]:
    measured = []
    for act in acts:
        with _recording(page, selector, moves) as seen:
            act()
            page.wait_for_function("() => kitSeen.painted.length > 0", timeout=10_000)
            page.wait_for_timeout(200)
            record = seen()
        measured.append(record["painted"][0] - record["keys"][0])
    return measured


def _middle(mark: Locator) -> tuple[float, float]:
    box = mark.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


@dataclass(frozen=True)
class Held:
    """What a held key or a drag did: pictures a second, how long the last came after the last move [ms], errors."""

    keys: int
    pictures: int
    pictures_per_second: float
    ms_behind: float
    console_errors: list[str]


def hold_key(
    page: Page, handle: Locator, selector: str, key: str = "ArrowRight", seconds: float = 3, rate: float = 30
) -> Held:
    """Hold `key` on `handle`, repeated `rate` times a second, and count the distinct pictures of `selector`."""
    handle.focus()
    errors_before = len(console_errors(page))
    with _recording(page, selector) as seen:
        begin = time.monotonic()
        for number in range(round(seconds * rate)):
            time.sleep(max(0, begin + number / rate - time.monotonic()))
            page.keyboard.down(key)
        page.keyboard.up(key)
        wait_idle(page)
        record = seen()
    return _held(page, record, errors_before)


def drag(page: Page, mark: Locator, selector: str, seconds: float = 3, rate: float = 30, step: float = 6) -> Held:
    """Drag `mark` to and fro by `step` pixels `rate` times a second, and count the distinct pictures of `selector`."""
    errors_before, (x, y) = len(console_errors(page)), _middle(mark)
    page.mouse.move(x, y)
    page.mouse.down()
    with _recording(page, selector, "pointermove") as seen:
        begin = time.monotonic()
        for number in range(round(seconds * rate)):
            time.sleep(max(0, begin + number / rate - time.monotonic()))
            way = (number + 1) % 40
            page.mouse.move(x + step * min(way, 40 - way), y)
        page.mouse.move(x, y)
        wait_idle(page)
        record = seen()
    page.mouse.up()
    return _held(page, record, errors_before)


def _held(page: Page, record: dict, errors_before: int) -> Held:
    keys, painted = record["keys"], record["painted"]
    lasted = max(keys[-1] - keys[0], 1) / 1000
    during = sum(when <= keys[-1] for when in painted)
    return Held(
        keys=len(keys),
        pictures=len(painted),
        pictures_per_second=during / lasted,
        ms_behind=max(0.0, painted[-1] - keys[-1]) if painted else float("nan"),
        console_errors=console_errors(page)[errors_before:],
    )


def in_words(painted: list[float], held: Held) -> str:
    """One line with both measurements."""
    return (
        f"painted {statistics.median(painted):.0f} ms (of {len(painted)}: {min(painted):.0f} to {max(painted):.0f}); "
        f"held: {held.pictures_per_second:.1f} pictures a second, {held.ms_behind:.0f} ms behind at the end"
    )


@contextmanager
def signed_in(server: Server, browser: Browser, size: dict | None = None) -> Iterator[Page]:
    """A page of a laptop's size or of another, signed in; its kernels end with it."""
    context = browser.new_context(base_url=server.url, viewport=size or LAPTOP)
    context.request.get(f"/lab?token={server.token}")
    page = context.new_page()
    watch_console(page)
    yield page
    end_kernels(server, context)
    context.close()


def end_kernels(server: Server, context: BrowserContext) -> None:
    """End every kernel of the server."""
    authorised = {"Authorization": f"token {server.token}"}
    for session in context.request.get("/api/sessions", headers=authorised).json():
        context.request.delete(f"/api/sessions/{session['id']}", headers=authorised)


@contextmanager
def panel_of(page: Page, name: str) -> Iterator[Locator]:
    """The one panel of a notebook that was opened and run; afterwards nothing may have gone wrong in it."""
    open_notebook(page, name)
    run_all(page)
    panel = page.locator(f"{NOTEBOOK} .kit-panel")
    panel.scroll_into_view_if_needed()
    wait_idle(page)
    yield panel
    assert errors_in_outputs(page) == []
    assert console_errors(page) == []


def at_sizes(page: Page, *sizes: dict) -> Iterator[dict]:
    """The page at one size of the window after the other, the list of files folded away on the upright tablet alone.

    Without sizes at a laptop's and at an upright tablet's; in the end at a laptop's again.
    """

    def turn(size: dict) -> None:
        page.set_viewport_size(size)
        side = f"window.jupyterapp.shell.{'collapse' if size == TABLET_UPRIGHT else 'expand'}Left()"
        page.evaluate(f"() => {{ {side}; }}")
        wait_idle(page)

    for size in sizes or (LAPTOP, TABLET_UPRIGHT):
        turn(size)
        yield size
    turn(LAPTOP)


def panels_laid_out(page: Page) -> tuple[list, list]:
    """What reaches beyond its panel, and the heights [px] of all words in pictures."""
    return page.evaluate(
        """() => {
            const wide = [], sizes = [];
            for (const panel of document.querySelectorAll('.kit-panel')) {
                const right = panel.getBoundingClientRect().right + 1;
                for (const e of panel.querySelectorAll('*')) {
                    const box = e.getBoundingClientRect();
                    if (box.width && box.right > right && !e.closest('svg')) wide.push(e.className);
                }
                for (const text of panel.querySelectorAll('svg text')) {
                    const svg = text.ownerSVGElement;
                    const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
                    if (scale) sizes.push(parseFloat(getComputedStyle(text).fontSize) * scale);
                }
            }
            return [wide, sizes];
        }"""
    )
