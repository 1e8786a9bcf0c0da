import re
import shutil

import pytest
from bench import laid
from bench.asking import Asking
from bench.browser import chromium, running

# What the browser says of an answer that a test asks for: another tab was first, it does not fit,
# there is no such piece.
EXPECTED = re.compile(r"status of (409|422)|status of 404.*/piece/0123456789abcdef$")


@pytest.fixture(scope="module")
def bench(request, tmp_path_factory):
    """Give a bench that runs for all tests of a module, in a new folder, with keys of its own.

    The pieces of `pieces` lie on it where the module says so: PIECES_LIE = True.
    """
    folder = tmp_path_factory.mktemp("bench")
    if getattr(request.module, "PIECES_LIE", False):
        request.getfixturevalue("copied")(folder)
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("XDG_CONFIG_HOME", str(folder / "config"))
        with running(folder) as found:
            yield found


@pytest.fixture(scope="session")
def browser():
    """Give one Chromium for all tests."""
    with chromium() as found:
        yield found


@pytest.fixture
def tab(bench, browser):
    """Give a tab in which the bench is open; anything that breaks the content policy fails."""
    context = browser.new_context(viewport={"width": 1280, "height": 900}, reduced_motion="reduce")
    context.set_default_timeout(90_000)  # a busy machine is no fault of the page
    page = context.new_page()
    trouble, asked = [], []
    page.on(
        "console",
        lambda told: (
            trouble.append(f"{told.text} {told.location['url']}") if told.type == "error" else None
        ),
    )
    page.on("pageerror", lambda wrong: trouble.append(str(wrong)))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(bench.opens)
    yield page
    context.close()
    trouble = [text for text in trouble if not EXPECTED.search(text)]
    assert not trouble, trouble
    away = [url for url in asked if not url.startswith((bench.root, "blob:"))]
    assert not away, away


@pytest.fixture(scope="session")
def pieces(tmp_path_factory):
    """Give a folder with pieces, to be copied: working out an opinion takes long.

    A locked case with an opinion and one without, one that is being read, a practice piece.
    """
    folder = tmp_path_factory.mktemp("pieces")
    book = laid.begin(folder)
    laid.take_in(book, laid.example("certified/04-marrable"), story="found in a boat locker")
    laid.take_in(book, laid.example("05-copy"), opinion=False)
    laid.take_in(book, laid.example("07-cleaned"), locked=False)
    laid.lay(folder, "certified/04-marrable", "a" * 16)
    laid.lay(folder, "04-marrable", "b" * 16, practice=True)
    laid.lay(folder, "05-copy", "d" * 16)
    return folder


@pytest.fixture(scope="session")
def copied(pieces):
    """Give a way to have these pieces in a folder of one's own."""
    return lambda folder: shutil.copytree(pieces, folder, dirs_exist_ok=True)


@pytest.fixture
def asking(copied, tmp_path, monkeypatch):
    """Give a bench on which pieces lie, some days after they were locked."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    found = Asking(copied(tmp_path))
    found.ticks = 10 * 24 * 60
    return found
