"""A batch on a real scheduler with two workers, one of which is killed at work."""

import csv
import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from small import SHOPS
from test_cli import claywit

distributed = pytest.importorskip("distributed")
PARTS, PIECES = 8, 2_000


@pytest.fixture
def bench(tmp_path):
    (tmp_path / "m.yaml").write_text(SHOPS)
    (tmp_path / "in").mkdir()
    for k in range(PARTS):
        rows = (f"k{k}p{i},{('flat', 'bevelled', 'flatt')[i % 3]}\n" for i in range(PIECES))
        (tmp_path / "in" / f"part-{k}.csv").write_text("id,rim\n" + "".join(rows))
    return tmp_path


def kill_one(cluster, folder, killed):
    """Kill a worker once a part is done."""
    with distributed.Client(cluster, set_as_default=False) as client:
        pids = client.run(os.getpid)
        for _ in range(3000):
            if list(folder.glob("_batch/*.part.json")):
                victim = next(iter(pids.values()))
                os.kill(victim, signal.SIGKILL)
                killed.append(victim)
                return
            time.sleep(0.005)


@pytest.fixture(scope="module")
def cluster():
    """Return a real scheduler with two workers on loopback."""
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None,
    ) as running:  # fmt: skip
        yield running.scheduler_address


def test_a_scheduler_that_is_none_is_told_of_within_seconds(bench):
    """By processes of their own: a client that Dask half made can hold up the next one for ever."""

    def told(address):
        asked = ("batch", "m.yaml", "in", "-o", "nowhere", "--scheduler", address)
        done = claywit(*asked, folder=bench)
        assert done.returncode == 2, address
        assert "Traceback" not in done.stderr
        return done.stderr

    with socket.create_server(("127.0.0.1", 0)) as silent:
        begun = time.monotonic()
        said = told(f"tcp://127.0.0.1:{silent.getsockname()[1]}")
        assert "cannot be reached: timed out" in said
        assert time.monotonic() - begun < 60  # it waited for ever
    for address in ("tcp://127.0.0.1:notaport", "tls://127.0.0.1:1", "tcp://"):
        assert "cannot be reached" in told(address)


def test_a_batch_that_was_stopped_goes_on_on_a_cluster_unless_the_pieces_changed(bench, cluster):
    folders = {bench / "in": bench / "out", bench / "in" / "part-0.csv": bench / "one.csv"}
    for cases, output in folders.items():
        asked = ["batch", "m.yaml", cases, "-o", output, "--scheduler", cluster]
        whole = bench / f"whole-{output.name}"
        assert claywit(*asked[:4], whole, "--workers", 1, folder=bench).returncode == 0
        process = subprocess.Popen(
            [Path(sys.executable).parent / "claywit", *map(str, asked)],
            cwd=bench, stderr=subprocess.PIPE,
        )  # fmt: skip
        for _ in range(3000):
            if list(bench.glob(f"{output.name}*/_batch/*.part.json")) or process.poll() is not None:
                break
            time.sleep(0.005)
        process.kill()
        process.communicate()
        time.sleep(0.5)  # what a worker has begun it still ends
        done = claywit(*asked, folder=bench)
        assert done.returncode == 0, done.stderr
        names = [path.name for path in output.glob("*.csv")] if output.is_dir() else ["."]
        for name in names:
            assert (output / name).read_bytes() == (whole / name).read_bytes()
    with (bench / "in" / "part-0.csv").open("a") as file:
        file.write("more,flat\n")
    (bench / "bad").mkdir()
    (bench / "bad" / "a.csv").write_text("id,rim\na,flat\n")
    (bench / "bad" / "b.csv").write_text("id,rmi\na,flat\n")  # named from a folder of one's own
    bad = claywit("batch", "m.yaml", "bad", "-o", "nowhere", "--scheduler", cluster, folder=bench)
    assert bad.returncode == 2
    assert "b.csv:1: no node rmi in the model; did you mean rim?" in bad.stderr
    assert "Traceback" not in bad.stderr
    changed = claywit("batch", "m.yaml", "in", "-o", "out", "--scheduler", cluster, folder=bench)
    assert changed.returncode == 2
    assert "other pieces, or the same file before it was changed" in changed.stderr


def test_the_draws_of_a_cluster_are_those_of_one_process(bench, cluster):
    (bench / "e.yaml").write_text(
        "format: claywit-evidence/1\npiece: {id: p}\nexaminer: x\nfindings: {rim: flat}\n"
    )
    asked = ["assess", "m.yaml", "e.yaml", "--json"]
    here = claywit(*asked, folder=bench)
    assert here.returncode == 0, here.stderr
    for more in (["--scheduler", cluster], ["--workers", 2]):
        assert claywit(*asked, *more, folder=bench).stdout == here.stdout


def test_no_partition_is_lost_or_doubled_when_a_worker_is_killed(bench):
    killed = []
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None,
    ) as cluster:  # fmt: skip
        thread = threading.Thread(target=kill_one, args=(cluster, bench / "out", killed))
        thread.start()
        done = claywit(
            "batch", "m.yaml", bench / "in", "-o", bench / "out",
            "--scheduler", cluster.scheduler_address, folder=bench,
        )  # fmt: skip
        thread.join()
    assert done.returncode == 0, done.stderr
    assert killed
    account = json.loads((bench / "out" / "_batch" / "account.json").read_text())
    good = PARTS * sum(i % 3 < 2 for i in range(PIECES))
    assert (account["read"], account["used"], account["rejected"]) == (
        PARTS * PIECES, good, PARTS * PIECES - good,
    )  # fmt: skip
    assert account["again"] == 0
    for k in range(PARTS):
        with (bench / "out" / f"part-{k}.csv").open() as file:
            found = [row["id"] for row in csv.DictReader(file)]
        assert found == [f"k{k}p{i}" for i in range(PIECES) if i % 3 < 2]
    alone = claywit("batch", "m.yaml", "in", "-o", "alone", "--workers", 1, folder=bench)
    assert alone.returncode == 0
    for k in range(PARTS):
        one, other = (bench / name / f"part-{k}.csv" for name in ("out", "alone"))
        assert one.read_bytes() == other.read_bytes()
    assert [path for path in (bench / "out").iterdir() if path.name.startswith(".")] == []
