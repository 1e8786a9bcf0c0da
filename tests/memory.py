"""What a program and its children hold in memory."""

import re
import threading
from contextlib import contextmanager
from pathlib import Path


def megabytes(pid):
    """Return what a process and its children hold of their own, shared libraries once for each."""
    try:
        # Of every thread: a child belongs to the thread that started it.
        lists = Path(f"/proc/{pid}/task").glob("*/children")
        children = [child for each in lists for child in each.read_text().split()]
        pss = re.search(r"Pss:\s+(\d+)", Path(f"/proc/{pid}/smaps_rollup").read_text())
    except OSError:
        return 0
    return int(pss[1]) / 1024 + sum(megabytes(int(child)) for child in children)


@contextmanager
def watched(pid, every=0.05):
    """Yield a list whose only number is the most that was held until the block ends."""
    peak, done = [0.0], threading.Event()

    def watch():
        while not done.wait(every):
            peak[0] = max(peak[0], megabytes(pid))

    watcher = threading.Thread(target=watch)
    watcher.start()
    try:
        yield peak
    finally:
        done.set()
        watcher.join()
