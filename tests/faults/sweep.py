"""Disturb every script at many points, and say what was lost; run by a test, as its own process.

    python -m faults.sweep FOLDER KILLS CUTS FAILURES SHORT STOPS UNREADABLE SHARE SHARES

A failing case prints what repeats it: script, step, number of the change, and what was done.
Points are drawn from every SHARES-th, from SHARE on; the seed is SHARE + 8.
"""

import errno
import json
import os
import posixpath
import resource
import signal
import sys
from collections import Counter, defaultdict
from pathlib import Path
from random import Random

from faults.disturbing import KILL, Ended, Send, disturbed, undisturbed
from faults.known import after, known, told
from faults.powercut import NAMES, NOTHING, Disk
from faults.scripts import copied
from faults.unreadable import unreadable

NEEDS_ROOM = {"open", "write", "sync", "resize", "folder", "rename", "link"}
BY_NAME = {"open", "folder", "rename", "link", "remove", "chmod"}
EVERY = NEEDS_ROOM | BY_NAME
FAILURES = {
    "ENOSPC": NEEDS_ROOM,
    "EIO": EVERY,
    "EROFS": BY_NAME,
    "EACCES": BY_NAME - {"chmod"},
}


def killed(one, number, scratch):
    work = copied(one.before, scratch / "work")
    ended = disturbed(one.run, work, lambda i, call: KILL if i == number else None)
    assert ended.status == -9, (str(one), number, ended)
    return after(one, work, scratch, ended)


def cut(one, number, scratch, kept):
    """Let the power fail before one change, or after the last; what was acknowledged is there."""
    disk = Disk(one.before)
    for call in one.calls[:number]:
        disk.make(call)
    work = disk.write_to(scratch / "work", kept)
    ended = Ended(status=0 if number == len(one.calls) else -9)
    if ended.status == 0:
        ended.out = one.said[0]
    return after(one, work, scratch, ended)


def failing(one, number, scratch, name, *, once=False):
    """Let one change fail, or all from it on, of the kinds that fail so."""
    work, kinds, code = copied(one.before, scratch / "work"), FAILURES[name], getattr(errno, name)

    def judge(i, call):
        fails = i == number or (i > number and not once)
        return code if fails and call.what in kinds else None

    return told(one, work, scratch, disturbed(one.run, work, judge))


def limited(one, most, scratch):
    """Let no file grow beyond *most* bytes: the last write before that is cut short."""
    work = copied(one.before, scratch / "work")

    def run():
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
        return one.run()

    return told(one, work, scratch, undisturbed(run, work))


def stopped(one, number, scratch, sent):
    """Interrupt or terminate a step before one change."""
    work = copied(one.before, scratch / "work")

    def run():
        signal.signal(signal.SIGINT, signal.default_int_handler)
        return one.run()

    ended = disturbed(run, work, lambda i, call: Send(sent) if i == number else None)
    wrong = after(one, work, scratch, ended, tidy=True)
    if ended.status != 128 + sent or "Traceback" in ended.err:
        wrong.append(f"status {ended.status}: {ended.err[-1500:]}")
    return wrong


def unheard(one, scratch, *, full):
    """Let nobody take what a step prints: its reader is gone, or the disk under it is full."""
    work = copied(one.before, scratch / "work")

    def run():
        gone, pipe = os.pipe()
        os.close(gone)
        os.dup2(os.open("/dev/full", os.O_WRONLY) if full else pipe, 1)
        sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
        return one.run()

    ended = undisturbed(run, work)
    wrong = after(one, work, scratch, ended, tidy=True)
    if ended.status != (2 if full and one.said[0] else 0) or "Traceback" in ended.err:
        wrong.append(f"status {ended.status}: {ended.err[-1500:]}")
    return wrong


def out_of_order(one):
    """Return which new names did not wait for their content, or were not synced themselves."""
    wrong = []
    for number, call in enumerate(one.calls):
        if call.what not in {"rename", "link"}:
            continue
        before = [c.what for c in one.calls[:number] if c.path == call.path]
        folder = posixpath.dirname(call.to) or "."
        synced = any(c.what == "sync" and c.path == folder for c in one.calls[number:])
        since = "".join(what[0] for what in before).rpartition("s")
        if not since[1] or "w" in since[2] or not synced:
            wrong.append(f"{one}: {call.what} to {call.to}")
    return wrong


def chosen(steps, count, rng, kinds):
    """Return *count* points (a step, the number of a change), all of them where that is fewer."""
    points = [(s, i) for s in steps for i, call in enumerate(s.calls) if call.what in kinds]
    mine = points[rng.share :: rng.shares]
    return mine if count >= len(mine) else rng.sample(mine, count)


def one_of_each(steps, count, rng):
    """Return a point in each of at most *count* steps."""
    some = rng.sample(steps, min(count, len(steps)))
    return [(one, rng.randrange(len(one.calls))) for one in some]


def kills(steps, count, rng, scratch):
    for one, number in chosen(steps, count, rng, EVERY):
        yield one, number, "killed", "killed", killed(one, number, scratch)


def cuts(steps, count, rng, scratch):
    ends = [(one, len(one.calls)) for one in steps]  # what was acknowledged must be there
    for one, number in ends[:count] + chosen(steps, max(count - len(ends), 0), rng, EVERY):
        kept = rng.choice((NOTHING, NAMES))
        yield one, number, "power cut", kept, cut(one, number, scratch, kept)


def failures(steps, count, rng, scratch):
    for name, kinds in FAILURES.items():
        for one, number in chosen(steps, count, rng, kinds):
            end, wrong = failing(one, number, scratch, name, once=rng.random() < 0.3)
            yield one, number, name, end, wrong


def shorts(steps, count, rng, scratch):
    for _ in range(count):
        one = rng.choice(steps)
        most = rng.randrange(max(len(held) for held in one.states[1].values()) + 1)
        end, wrong = limited(one, most, scratch)
        yield one, len(one.calls), "short", end, [*wrong, f"{most} bytes"] if wrong else []


def stops(steps, count, rng, scratch):
    lines = [one for one in steps if isinstance(one.script.steps[one.step], str)]
    for sent in (signal.SIGINT, signal.SIGTERM):
        for one, number in one_of_each(lines, count, rng):
            yield one, number, sent.name, sent.name, stopped(one, number, scratch, sent)
    for name in ("closed", "full"):
        for one, _ in one_of_each(lines, count, rng):
            yield one, len(one.calls), name, name, unheard(one, scratch, full=name == "full")


TRIES = (kills, cuts, failures, shorts, stops, unreadable)


def place(one, number):
    where = f"{one.script.name}: {one}, change {number} of {len(one.calls)}"
    if number == len(one.calls):
        return where
    return f"{where} ({one.calls[number].what} {one.calls[number].path})"


class Chance(Random):
    """Chance with a seed in sight, and the points that fall to one of several processes."""

    def __init__(self, share, shares):
        super().__init__(share + 8)
        self.share, self.shares = share, shares


def main(folder, counts, share, shares):
    scratch, rng = Path(folder), Chance(share, shares)
    steps = known(scratch)
    ends, wrong = defaultdict(Counter), []
    for call in (call for one in steps for call in one.calls if call.what in {"rename", "link"}):
        ends["order"][call.what] += 1
    wrong += [["order", said, ""] for one in steps for said in out_of_order(one)]
    for tries, count in zip(TRIES, counts, strict=True):
        for one, number, what, end, odd in tries(steps, count, rng, scratch):
            ends[what][end] += 1
            if odd:
                wrong.append([what, place(one, number), odd])
                print(*wrong[-1], file=sys.stderr, flush=True)  # noqa: T201
    print(json.dumps({"ends": ends, "wrong": wrong}))  # noqa: T201


if __name__ == "__main__":
    folder, *numbers = sys.argv[1:]
    *counted, share, shares = map(int, numbers)
    main(folder, counted, share, shares)
