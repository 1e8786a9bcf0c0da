"""What lies in the folder of a batch was damaged: one line says so, or the part is done again."""

import pytest
from here import runner
from small import SHOPS

from claywit.batch import run as batch_run
from claywit.errors import ClaywitError

ASKED = ("batch", "m.yaml", "c.csv", "-o", "out.csv", "--workers", 1)
FOLDER = ("batch", "m.yaml", "in", "-o", "out", "--workers", 1)


@pytest.fixture
def here(tmp_path, monkeypatch, capsys):
    """Return what runs a command in this process, in a folder with pieces."""
    (tmp_path / "m.yaml").write_text(SHOPS)
    rows = "".join(f"p{i},{('flat', 'flatt', 'bevelled')[i % 3]}\n" for i in range(30))
    (tmp_path / "c.csv").write_text(f"id,rim\n{rows}")
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "a.csv").write_text(f"id,rim\n{rows}")
    return runner(tmp_path, monkeypatch, capsys)


def stopped(here, monkeypatch):
    """Stop a batch when all its parts are done, and none is in the answer."""

    def stop(*_):
        raise ClaywitError("stopped")

    with monkeypatch.context() as patch:
        patch.setattr(batch_run, "_join_rejects", stop)
        assert "stopped" in here(*ASKED).stderr


@pytest.mark.parametrize(
    ("file", "text"),
    [
        ("000000.csv", None),
        ("_batch/000000.rejects.csv", None),
        ("_batch/run.json", b"\xff{"),
        ("_batch/run.json", b"[" * 100_000),
    ],
)
def test_a_part_that_was_damaged_is_told_of_in_one_line(here, monkeypatch, tmp_path, file, text):
    stopped(here, monkeypatch)
    damaged = tmp_path / "out.csv.parts" / file
    damaged.write_bytes(text) if text else damaged.unlink()
    found = here(*ASKED)
    assert found.returncode == 2
    assert "out.csv.parts: " in found.stderr
    assert "remove" in found.stderr
    assert "Traceback" not in found.stderr


@pytest.mark.parametrize(
    "text",
    [b"{", b'{"read": 3, "used": 30, "rejected": 0}', b'{"read": 0, "used": 9, "rejected": -9}'],
)
def test_a_part_whose_account_cannot_be_is_done_again(here, monkeypatch, tmp_path, text):
    stopped(here, monkeypatch)
    (tmp_path / "out.csv.parts" / "_batch" / "000000.part.json").write_bytes(text)
    found = here(*ASKED)
    assert found.returncode == 0
    assert "30 pieces read: 20 used, 10 rejected" in found.stderr


@pytest.mark.parametrize("text", [None, b"123"])
def test_ids_that_were_damaged_are_told_of_in_one_line(here, tmp_path, text):
    assert here(*FOLDER).returncode == 0
    (tmp_path / "out" / "_batch" / "account.json").write_bytes(b"{")
    if text:
        (tmp_path / "out" / "_batch" / "a.ids").write_bytes(text)
    found = here(*FOLDER)
    assert found.returncode == 2
    assert "out: a finished part was damaged or taken away" in found.stderr
