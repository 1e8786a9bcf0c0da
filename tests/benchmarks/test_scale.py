"""One worker and two, on this machine and on a cluster of this machine, and ten million pieces.

The wall clock says what two workers gain only where two cores are idle, so the load of the machine
stands beside it; the processor time of all workers together says what is lost on the way, always.
`CLAYWIT_TEN_MILLION=1` runs the long one, half an hour of one core and 6 GB of disk; a smaller
number of pieces is taken if it is another number.
"""

import os
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from pathlib import Path

import pytest
from figures import figure

from claywit.report.batched import BatchAccount

pytestmark = pytest.mark.benchmark
MODEL = Path(__file__).parents[2] / "models" / "oskervane.yaml"
CLAYWIT = Path(sys.executable).parent / "claywit"
PARTS, PIECES = 8, 10_000
LONG = int(os.environ.get("CLAYWIT_TEN_MILLION", "0"))


def drawn(path, count, seed):
    asked = ["simulate", MODEL, "-n", count, "--seed", seed, "--missing", "0.3", "-o", path]
    subprocess.run([CLAYWIT, *map(str, asked)], check=True, stderr=subprocess.DEVNULL)


@pytest.fixture(scope="module")
def partitions(tmp_path_factory):
    folder = tmp_path_factory.mktemp("scale") / "in"
    folder.mkdir()
    for k in range(PARTS):
        drawn(folder / f"part-{k}.parquet", PIECES, k + 1)
    return folder


def taken(*arguments):
    """Return the wall clock and the processor time of a command and all that it started."""
    start = time.perf_counter()
    process = subprocess.Popen([CLAYWIT, *map(str, arguments)], stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0
    return time.perf_counter() - start, usage.ru_utime + usage.ru_stime


@contextmanager
def cluster(workers):
    """Yield the address of a scheduler on loopback, and what tells its workers' processor time."""
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=workers, threads_per_worker=1, processes=True, host="127.0.0.1",
            dashboard_address=None,
        ) as running,
        distributed.Client(running, set_as_default=False) as client,
    ):  # fmt: skip
        yield running.scheduler_address, lambda: sum(client.run(time.process_time).values())


def test_one_worker_and_two(partitions, tmp_path, figures):
    answers = {}
    for where in ("local processes", "a Dask cluster on loopback"):
        found = {}
        for workers in (1, 2):
            out = tmp_path / f"{where}-{workers}"
            asked = ("batch", MODEL, partitions, "-o", out, "--quick", "--quiet")
            if where == "local processes":
                found[workers] = taken(*asked, "--workers", workers)
            else:
                with cluster(workers) as (address, used):
                    before = used()
                    wall, own = taken(*asked, "--scheduler", address)
                    found[workers] = wall, own + used() - before
            answers[where, workers] = [path.read_bytes() for path in sorted(out.glob("*.parquet"))]
        (one, one_cpu), (two, two_cpu) = found[1], found[2]
        figure(figures, f"`batch --quick` on {PARTS * PIECES:,} pieces in {PARTS} partitions of Parquet, {where}",
               f"1 worker {one:.1f} s, 2 workers {two:.1f} s, so {one / two:.2f} times as fast; processor time "
               f"{one_cpu:.1f} s and {two_cpu:.1f} s; {os.getloadavg()[0]:.1f} tasks at work on "
               f"{os.cpu_count()} cores", "")  # fmt: skip
        assert two_cpu < 1.6 * one_cpu + 3.0  # a process more to start, and nothing done twice
    first, *others = answers.values()
    assert len(first) == PARTS
    assert all(other == first for other in others)


def highest(process):
    """Return the most memory that a process and all that it started held together so far, in MB."""
    total = 0.0
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            lines = dict(line.split(":", 1) for line in status.read_text().splitlines())
        except OSError:
            continue
        if str(process.pid) in (status.parent.name, lines["PPid"].strip()) and "VmHWM" in lines:
            total += int(lines["VmHWM"].split()[0]) / 1024
    return total


@pytest.mark.skipif(not LONG, reason="takes half an hour; CLAYWIT_TEN_MILLION=1 runs it")
def test_ten_million_pieces_within_600_mb(tmp_path, figures):
    """Half a million drawn, and said twenty times under other ids: no block holds two alike."""
    count = 10_000_000 if LONG == 1 else LONG
    once = min(count, 500_000)
    drawn(tmp_path / "once.csv", once, 3)
    cases, out = tmp_path / "cases.csv", tmp_path / "out.csv"
    with (tmp_path / "once.csv").open() as source, cases.open("w") as file:
        file.write(next(source))
        rows = source.readlines()
        for k in range(count // once):
            file.writelines(f"{k}-{row}" for row in rows)
    del rows
    start, peak = time.perf_counter(), 0.0
    process = subprocess.Popen(
        [CLAYWIT, "batch", MODEL, cases, "-o", out, "--quick", "--quiet", "--workers", "1"]
    )
    ended = threading.Event()

    def watch():
        nonlocal peak
        while not ended.wait(0.2):
            peak = max(peak, highest(process))

    watching = threading.Thread(target=watch)
    watching.start()
    _, status, usage = os.wait4(process.pid, 0)
    ended.set()
    watching.join()
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0
    account = BatchAccount.model_validate_json((tmp_path / "out.csv.account.json").read_bytes())
    assert (account.read, account.used) == (count, count)
    with out.open("rb") as file:
        assert sum(1 for _ in file) == count + 1
    used = usage.ru_utime + usage.ru_stime
    figure(figures, f"`batch --quick` on {count:,} pieces of CSV, all processes",
           f"{peak:.0f} MB, {time.perf_counter() - start:,.0f} s, {used / count * 1e6:.0f} µs of processor time a piece",
           "600 MB")  # fmt: skip
    assert peak < 600
