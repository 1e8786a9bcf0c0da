"""Files that may not be opened, or cannot be read: injected, since root may open everything."""

import errno

from faults.disturbing import disturbed
from faults.known import after
from faults.scripts import copied

WAYS = {"unreadable": (errno.EACCES, {"read", "open"}), "torn": (errno.EIO, {"take"})}
BESIDE = ("-wal", "-shm", "-journal")


def unreadable(steps, count, rng, scratch):
    """Let each command in turn find each of its files closed to it, or on a disk that fails."""
    lines = [one for one in steps if isinstance(one.script.steps[one.step], str)]
    mine = lines[rng.share :: rng.shares]
    few = mine if count >= len(mine) else rng.sample(mine, count)
    for one in few:
        points = list(opened(one, scratch))
        for name, way in points if few is mine else rng.sample(points, min(2, len(points))):
            wrong = refused(one, name, way, scratch)
            yield one, len(one.calls), way, "told", [f"{name}: {odd}" for odd in wrong]


def opened(one, scratch):
    """Return the files that were there before a step and that it reads, each with how it may fail."""
    ended = disturbed(one.run, copied(one.before, scratch / "work"), reads=True)
    for way, (_, kinds) in WAYS.items():
        names = {call.path for call in ended.calls if call.what in kinds}
        for name in sorted(names & one.states[0].keys()):
            yield name, way


def refused(one, name, way, scratch):
    """Return what is wrong after a step could not read one file."""
    work, (code, kinds) = copied(one.before, scratch / "work"), WAYS[way]

    def judge(_, call):
        return code if call.path == name and call.what in kinds else None

    ended = disturbed(one.run, work, judge, reads=True)
    errors = [line for line in ended.err.splitlines() if line.startswith("error: ")]
    wrong = after(one, work, scratch, ended, tidy=True)
    if ended.status != 2 or len(errors) != 1 or name not in errors[0]:
        wrong.append(f"status {ended.status}: {ended.err[-1500:]}")
    return wrong
