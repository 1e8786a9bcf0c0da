"""The folder of drafts: whose it is, who reads it, and what else may lie in it."""

import os
import stat
import threading
from pathlib import Path

import pytest
from bench.asking import Asking

from claywit.bench import drafts
from claywit.errors import ClaywitError

posix = pytest.mark.skipif(os.name != "posix", reason="owners and modes of files")


@pytest.fixture
def bench(tmp_path):
    return Asking(tmp_path)


def name_of(piece):
    return piece.rpartition("/")[2]


@posix
def test_a_folder_that_was_there_is_closed_to_others(bench):
    bench.desk.drafts.mkdir(mode=0o755)
    bench.practise()
    assert stat.S_IMODE(bench.desk.drafts.stat().st_mode) == 0o700


@posix
@pytest.mark.parametrize("is_link", [False, True])
def test_a_folder_of_another_user_is_not_written(bench, tmp_path, monkeypatch, is_link):
    if is_link:
        (tmp_path / "elsewhere").mkdir()
        bench.desk.drafts.symlink_to(tmp_path / "elsewhere")
    else:
        bench.desk.drafts.mkdir()
    monkeypatch.setattr(drafts.os, "getuid", lambda: bench.desk.drafts.lstat().st_uid + 1)
    refused = bench.post("/practise", {"piece": "heron"})
    assert refused.status_code == 422
    assert "belongs to another user" in refused.json()["error"]
    assert list(bench.desk.drafts.iterdir()) == []


def test_a_file_in_place_of_the_folder_is_one_clear_error(tmp_path):
    (tmp_path / "taken").write_text("")
    with pytest.raises(ClaywitError, match="taken: cannot be written"):
        drafts.own(tmp_path / "taken")


def test_a_draft_under_the_name_of_another_is_not_taken_for_it(bench):
    one, other = bench.practise("one"), bench.practise("other")
    bench.see(one, grog="present")
    (newest,) = bench.desk.drafts.glob(f"{name_of(one)}.*2.json")
    for name in (f"{name_of(other)}.000000009.json", f"{name_of(one)}.000000009.json"):
        copied = Path(bench.desk.drafts / name)
        copied.write_bytes(newest.read_bytes())
        refused = bench.get(f"/piece/{name[:16]}")
        assert refused.status_code == 422
        assert "holds another draft" in refused.text
        copied.unlink()


def test_a_copy_that_a_program_left_beside_a_draft_is_no_version_of_it(bench):
    piece = bench.practise()
    bench.see(piece, grog="present")
    first = bench.desk.drafts / f"{name_of(piece)}.000000001.json"
    for name in ("000000002.conflict", "000000002 (1)", "zz", "٠٠٠٠٠٠٠٠٩"):
        (bench.desk.drafts / f"{name_of(piece)}.{name}.json").write_bytes(first.read_bytes())
    assert bench.state(piece)["version"] == 2
    bench.see(piece, wear="none")


def test_an_answer_has_bounds_in_every_part(bench):
    piece = bench.practise()
    for wrong in (
        {"measures": {f"m{i}": {"value": "1"} for i in range(51)}},
        {"photographs": ["0" * 64] * 101},
        {"note": "x" * 4001},
    ):
        assert bench.answer(piece, "size", {"way": "measured", **wrong}).status_code == 422
    assert bench.state(piece)["version"] == 1


def test_a_draft_that_could_not_be_read_again_is_not_written(bench, monkeypatch):
    piece = bench.practise()
    monkeypatch.setattr(drafts, "MAX_DRAFT", 700)
    refused = bench.answer(piece, "wear", {"way": "seen", "state": "none", "note": "x" * 600})
    assert refused.status_code == 507
    assert bench.state(piece)["version"] == 1


def beside(bench, folder):
    """Return another run of the bench on the same casebook and drafts."""
    other = Asking(folder)
    assert other.desk.drafts == bench.desk.drafts
    return other


def test_two_runs_never_begin_two_drafts_of_one_examination(bench, tmp_path):
    other = beside(bench, tmp_path)
    first = bench.examine("weir-030")
    assert other.post("/begin", {"case": "weir-030", "examiner": "A"}).json()["go"] == first


def test_readings_cannot_be_locked_by_one_run_while_another_saves(bench, tmp_path, monkeypatch):
    piece, other = bench.examine("weir-031"), beside(bench, tmp_path)
    bench.see(piece, wear="none")
    version = bench.state(piece)["version"]
    locked = []
    keep = drafts.save

    def save(folder, draft):
        run = threading.Thread(
            target=lambda: locked.append(other.post(f"{piece}/lock", {"version": version}))
        )
        run.start()
        run.join(0.5)
        assert not locked
        keep(folder, draft)
        threads.append(run)

    threads = []
    monkeypatch.setattr(drafts, "save", save)
    bench.see(piece, grog="present")
    threads[0].join(60)
    assert locked[0].status_code == 409  # it had not seen the newest
