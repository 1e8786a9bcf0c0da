"""A batch that is stopped, by whatever: it goes on where it was, and gives the same bytes."""

import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import pytest
from batches import pieces, rows_of
from dying import dies_always, dies_once
from patience import HANGS
from small import SHOPS
from test_cli import claywit

from claywit.batch.folders import clear
from claywit.batch.pools import processes
from claywit.errors import CasesError
from claywit.records.disk import drafted


def begun(bench, *arguments):
    """Start a batch of many small parts, and return it once some of them are done."""
    process = subprocess.Popen(
        [Path(sys.executable).parent / "claywit", "batch", "m.yaml", "c.csv", "-o", "out.csv", *arguments],
        cwd=bench, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    for _ in range(1500):
        if (
            len(list(bench.glob("out.csv.parts/_batch/*.part.json"))) >= 3
            or process.poll() is not None
        ):
            break
        time.sleep(0.02)
    return process


MANY = 40_000


@pytest.fixture(scope="module")
def uninterrupted(tmp_path_factory):
    """Return the bytes of a batch that nothing stopped."""
    folder = tmp_path_factory.mktemp("whole")
    (folder / "m.yaml").write_text(SHOPS)
    pieces(folder / "c.csv", MANY)
    done = claywit("batch", "m.yaml", "c.csv", "-o", "out.csv", "--workers", 1, folder=folder)
    assert done.returncode == 0, done.stderr
    assert [row["id"] for row in rows_of(folder / "out.csv")] == [f"p{i}" for i in range(MANY)]
    return (folder / "out.csv").read_bytes()


@pytest.mark.parametrize(
    ("sent", "status"),
    [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGKILL, -9)],
    ids=["interrupted", "terminated", "killed"],
)
def test_a_batch_that_was_stopped_goes_on_and_gives_the_same_bytes(
    bench, uninterrupted, sent, status
):
    pieces(bench / "c.csv", MANY)
    process = begun(bench, "--workers", "1")
    process.send_signal(sent)
    _, said = process.communicate(timeout=HANGS)
    assert process.returncode == status, said
    assert "Traceback" not in said
    assert not (bench / "out.csv").exists()
    assert 3 <= len(list(bench.glob("out.csv.parts/_batch/*.part.json"))) < MANY / 2000
    done = claywit("batch", "m.yaml", "c.csv", "-o", "out.csv", "--workers", 1, folder=bench)
    assert done.returncode == 0, done.stderr
    assert "40,000 pieces read: 40,000 used, 0 rejected" in done.stderr
    assert (bench / "out.csv").read_bytes() == uninterrupted
    assert sorted(path.name for path in bench.iterdir()) == [
        "c.csv", "m.yaml", "out.csv", "out.csv.account.json", "out.csv.rejects.csv"
    ]  # fmt: skip


def test_finished_parts_are_not_done_again_and_those_of_another_batch_are_refused(bench):
    pieces(bench / "c.csv", 30_000)
    process = begun(bench, "--workers", "1")
    process.kill()
    process.communicate()
    part = bench / "out.csv.parts" / "000000.csv"
    part.write_text(part.read_text().replace("p0,", "p0 as it was,"))
    other = claywit("batch", "m.yaml", "c.csv", "-o", "out.csv", "--quick", folder=bench)
    assert other.returncode == 2
    assert "holds parts of another batch: other options" in other.stderr
    claywit("batch", "m.yaml", "c.csv", "-o", "out.csv", "--workers", 1, folder=bench)
    assert rows_of(bench / "out.csv")[0]["id"] == "p0 as it was"


def test_a_reader_that_goes_away_is_no_error_and_the_answer_is_whole(bench):
    pieces(bench / "c.csv", 20)
    gone, pipe = os.pipe()
    os.close(gone)
    done = subprocess.run(
        [Path(sys.executable).parent / "claywit", "batch", "m.yaml", "c.csv", "-o", "out.csv"],
        cwd=bench, stderr=pipe, check=False,
    )  # fmt: skip
    os.close(pipe)
    assert done.returncode == 0
    assert len(rows_of(bench / "out.csv")) == 20


def test_two_processes_give_the_bytes_of_one(bench):
    pieces(bench / "c.csv", 9_000)
    for workers in (1, 2):
        done = claywit(
            "batch", "m.yaml", "c.csv", "-o", f"{workers}.csv", "--workers", workers, folder=bench
        )
        assert done.returncode == 0, done.stderr
    assert (bench / "1.csv").read_bytes() == (bench / "2.csv").read_bytes()


def test_what_a_dead_process_was_at_is_done_by_another(tmp_path):
    with processes(2) as run_all:
        asked = [str(tmp_path / f"{i}") for i in range(3)]
        assert list(run_all(dies_once, asked)) == ["0", "1", "2"]


def test_a_part_that_kills_every_process_is_an_error_in_the_end():
    with (
        pytest.raises(CasesError, match="a worker died 5 times on one part"),
        processes(1) as run_all,
    ):
        list(run_all(dies_always, [1]))


def left_waiting(here, monkeypatch):
    """Leave a batch of one part that was done, and stopped before it was put together."""
    with monkeypatch.context() as broken:
        broken.setattr("claywit.batch.run._assemble", lambda *_: sys.exit(99))
        assert here("batch", "m.yaml", "c.csv", "-o", "out.csv").returncode == 99


@pytest.mark.parametrize(
    ("change", "arguments", "said"),
    [
        ("pieces", [], "other pieces, or the same file before it was changed"),
        ("options", ["--quick"], "other options"),
        ("model", [], "another model"),
        ("version", [], "claywit 0.0.1, and this is"),
    ],
)
def test_parts_of_another_batch_are_refused_with_what_differs(
    bench, here, monkeypatch, change, arguments, said
):
    pieces(bench / "c.csv", 50)
    if change == "version":
        monkeypatch.setattr("claywit.batch.about.__version__", "0.0.1")
    left_waiting(here, monkeypatch)
    if change == "version":
        monkeypatch.undo()
        monkeypatch.chdir(bench)
        monkeypatch.setattr("claywit.cli.end_on_termination", lambda: None)
    if change == "pieces":
        pieces(bench / "c.csv", 51)
    if change == "model":
        text = (bench / "m.yaml").read_text()
        (bench / "m.yaml").write_text(
            text.replace("much: 0.3", "much: 0.2").replace("little: 0.7", "little: 0.8")
        )
    before = sorted(bench.rglob("*"))
    done = here("batch", "m.yaml", "c.csv", "-o", "out.csv", *arguments)
    assert done.returncode == 2
    assert said in done.stderr
    assert sorted(bench.rglob("*")) == before


def test_what_was_being_written_when_it_ended_is_cleared_away_and_nothing_else(bench, monkeypatch):
    monkeypatch.setattr("secrets.token_hex", lambda _: "01234567")
    (bench / "aside" / "_batch").mkdir(parents=True)
    mine = bench / "aside" / ".mine"
    mine.touch()
    with monkeypatch.context() as killed, suppress(KeyboardInterrupt):
        killed.setattr(Path, "unlink", lambda *_, **__: None)
        with drafted(bench / "aside" / f"{'long' * 20}.csv"):
            raise KeyboardInterrupt
    assert len(list((bench / "aside").iterdir())) == 3
    clear(bench / "aside")
    assert sorted((bench / "aside").iterdir()) == [mine, bench / "aside" / "_batch"]


def test_a_batch_that_ends_while_it_clears_away_can_be_given_again(bench, here, monkeypatch):
    pieces(bench / "c.csv", 50)
    here("batch", "m.yaml", "c.csv", "-o", "whole.csv")
    unlink, left = Path.unlink, [3]

    def tired(path, **options):
        if "out.csv.parts" in path.parts and not path.name.startswith("."):
            left[0] -= 1
            if not left[0]:
                raise KeyboardInterrupt
        unlink(path, **options)

    monkeypatch.setattr(Path, "unlink", tired)
    assert here("batch", "m.yaml", "c.csv", "-o", "out.csv").returncode == 130
    left_over = {path.name for path in (bench / "out.csv.parts" / "_batch").iterdir()}
    assert "run.json" in left_over
    assert "000000.part.json" not in left_over
    monkeypatch.setattr(Path, "unlink", unlink)
    done = here("batch", "m.yaml", "c.csv", "-o", "out.csv")
    assert done.returncode == 0, done.stderr
    assert (bench / "out.csv").read_bytes() == (bench / "whole.csv").read_bytes()
    assert not (bench / "out.csv.parts").exists()
