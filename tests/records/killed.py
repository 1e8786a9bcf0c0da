"""Save until killed, 200 times over; print what was lost. Run by a test, as its own process."""

import os
import signal
import sys
import time
from pathlib import Path

from desk import at, form, new, seeded

from claywit.records import casebook, opening
from claywit.records.case import case_names
from claywit.records.checking import check


def save(path, kill, out):
    with opening.opened(path, write=True) as kept:
        for n in range(10_000):
            name = f"k{kill}-{n}"
            casebook.intake(kept, form(name), at(n), seeded(n))
            os.write(out, f"{name}\n".encode())


def one(path, kill, wait):
    back, out = os.pipe()
    child = os.fork()
    if child == 0:
        save(path, kill, out)
        os._exit(0)
    os.close(out)
    time.sleep(wait)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with os.fdopen(back) as stream:
        return stream.read().split("\n")[:-1]


def main(folder, kills):
    path, rng, acknowledged = Path(folder) / "c.db", seeded(7), []
    new(path).__exit__(None, None, None)
    for kill in range(kills):
        acknowledged += one(path, kill, rng.uniform(0.0, 0.1))
    with opening.opened(path) as kept:
        faults, there = check(kept).faults, set(case_names(kept))
    lost = [name for name in acknowledged if name not in there]
    print(len(acknowledged), len(lost), len(faults))  # noqa: T201


main(sys.argv[1], int(sys.argv[2]))
