"""The bench as a program of its own, and Debian's Chromium to look at it."""

import io
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from patience import HANGS
from PIL import Image

ROOT = Path(__file__).parents[2]
CHROMIUM = next(
    (
        found
        for name in ("chromium", "chromium-browser", "google-chrome")
        if (found := shutil.which(name))
    ),
    None,
)
needs_browser = pytest.mark.skipif(
    CHROMIUM is None, reason="no Chromium on this machine; .ci/run installs it"
)
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-extensions",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@dataclass(frozen=True)
class Running:
    """A bench that runs: the address that opens it, its root, its casebook, its process."""

    opens: str
    root: str
    casebook: Path
    process: subprocess.Popen

    def kill(self):
        """End it at once, as a power cut would."""
        self.process.kill()
        self.process.wait(HANGS)


@contextmanager
def running(
    folder: Path, *, port: int = 0, model: Path = ROOT / "models" / "oskervane.yaml"
) -> Iterator[Running]:
    """Run `claywit bench` with its casebook in *folder*."""
    casebook = folder / "casebook.db"
    command = [
        sys.executable,
        "-c",
        "from claywit.cli import main; main()",
        "bench",
        str(model),
        "--casebook",
        str(casebook),
        "--no-open",
        "--port",
        str(port),
    ]
    process = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    try:
        said = ""
        for line in process.stdout:
            said += line
            if found := re.search(r"http://(\S+?)/start\?key=\S+", line):
                yield Running(found[0], f"http://{found[1]}", casebook, process)
                break
        else:
            pytest.fail(f"the bench did not open: {said}")
    finally:
        process.terminate()
        process.wait(HANGS)
        process.stdout.close()


@contextmanager
def chromium() -> Iterator:
    """Run Chromium; yield the browser."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


def until(page, expression: str, argument=None, *, seconds: float = 60) -> None:
    """Wait until *expression* holds; Playwright's own wait needs `eval`, which the page forbids."""
    end = time.monotonic() + seconds
    while not page.evaluate(expression, argument):
        assert time.monotonic() < end, (
            f"not within {seconds:g} s: {expression}; {page.inner_text('#said')}"
        )
        page.wait_for_timeout(25)


def hold_back(page, pattern: str):
    """Hold back what *page* asks for next at an address; return a function that lets it go."""
    held = []
    # Not `held.append` itself: Playwright sets a mark on the handler.
    page.route(pattern, lambda route: held.append(route), times=1)  # noqa: PLW0108

    def let_go():
        assert held, f"{pattern} was not asked for"
        held[0].continue_()

    return let_go


def picture(page, name: str, at: str = "body") -> None:
    """Make the picture of a how-to page anew where that is asked for; else see that it is there.

    at: what the picture begins with.
    """
    path = ROOT / "docs" / "how-to" / "pictures" / f"{name}.webp"
    if not os.environ.get("CLAYWIT_REWRITE"):
        assert path.is_file(), f"{path} is missing; run with CLAYWIT_REWRITE=1"
        return
    path.parent.mkdir(exist_ok=True)
    page.evaluate("at => document.querySelector(at).scrollIntoView()", at)
    page.wait_for_timeout(150)
    with Image.open(io.BytesIO(page.screenshot())) as shot:
        shot.convert("RGB").save(path, "WEBP", quality=72, method=6)
