"""A folder with a small model, and what runs a command in it."""

import pytest
from here import runner
from small import SHOPS


@pytest.fixture
def bench(tmp_path):
    """A folder with a small model in which one piece of some is impossible: a seal of the north."""
    (tmp_path / "m.yaml").write_text(SHOPS.replace("absent: 1}", "absent: 1.0}"))
    return tmp_path


@pytest.fixture
def here(bench, monkeypatch, capsys):
    """Return what runs a command in this process, in the folder, which saves its start."""
    return runner(bench, monkeypatch, capsys)
