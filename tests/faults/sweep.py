"""Disturb every script at many points, and say what was lost; run by a test, as its own process.

    python -m faults.sweep FOLDER KILLS CUTS FAILURES STOPS SEED

A failing case prints what repeats it: script, step, number of the change, and what was done.
"""

import errno
import json
import os
import posixpath
import resource
import signal
import sys
from collections import Counter, defaultdict
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from pathlib import Path
from random import Random

from faults.disturbing import KILL, Ended, Send, disturbed, undisturbed
from faults.powercut import NAMES, NOTHING, Disk
from faults.scripts import SCRIPTS, content, copied, fits, is_draft, same

NEEDS_ROOM = {"open", "write", "sync", "resize", "folder", "rename", "link"}
BY_NAME = {"open", "folder", "rename", "link", "remove", "chmod"}
EVERY = NEEDS_ROOM | BY_NAME
FAILURES = {
    "ENOSPC": NEEDS_ROOM,
    "EIO": EVERY,
    "EROFS": BY_NAME,
    "EACCES": BY_NAME - {"chmod"},
}


@dataclass(frozen=True)
class Known:
    """A step of a script that nothing disturbed: what was there before and after, what it did."""

    script: object
    step: int
    before: Path
    states: tuple
    said: tuple
    calls: tuple

    def run(self):
        return self.script.run(self.step)

    def __str__(self):
        line = self.script.steps[self.step]
        return line if isinstance(line, str) else line.__name__


def known(scratch):
    """Return each step of each script as it goes undisturbed."""
    found, modules = [], scratch / "modules"
    for number, script in enumerate(SCRIPTS):
        here = scratch / f"{number}-0"
        here.mkdir()
        script.prepare(here)
        for step in range(len(script.steps)):
            work = copied(here, scratch / f"{number}-{step + 1}")
            one = Known(script, step, here, (), (), ())
            ended = disturbed(partial(_and_modules, one.run, modules), work)
            assert ended.status == 0, f"{one}: {ended.err}"
            for name in modules.read_text(encoding="utf-8").split():
                import_module(name)  # so that the next process has it already
            states = (
                content(copied(here, scratch / "look")),
                content(copied(work, scratch / "look")),
            )
            found.append(
                Known(script, step, here, states, (ended.out, ended.err), tuple(ended.calls))
            )
            here = work
    return found


def _and_modules(run, modules):
    status = run()
    names = [n for n, m in sys.modules.items() if n.startswith("claywit.") and m is not None]
    modules.write_text("\n".join(names), encoding="utf-8")
    return status


def after(one, work, scratch, ended, *, tidy=False):
    """Return what is wrong after a step was disturbed, and again after it was repeated.

    tidy: no draft may be left, since the process was not killed.
    """
    _, whole = one.states
    found = content(copied(work, scratch / "look"))
    left = [f"left: {name}" for name in found if tidy and is_draft(name)]
    wrong = left + fits(found, one.states, one.script.between)
    told = ended.status == 0 or (any(one.said) and (ended.out, ended.err) == one.said)
    if told and not whole.items() <= found.items():
        wrong.append("lost what was said to be done")
    wrong += one.script.look(copied(work, scratch / "look"), ended.out)
    if one.script.again:
        again = undisturbed(one.script.again, work)
        odd = [name for name in content(work) if is_draft(name)]
        return wrong + [f"again: {again.err[-800:]}"] * bool(again.status) + odd
    again = undisturbed(one.run, work)
    while again.status == 2 and ": is there without " in again.err:  # names what to remove
        (work / again.err.split(":")[1].strip()).unlink()
        again = undisturbed(one.run, work)
    if "Traceback" in again.err or again.status not in {0, 2}:
        wrong.append(f"again: {again.err[-400:]}")
    if again.status and not whole.items() <= found.items():
        wrong.append(f"again: refused: {again.err}")
    last = content(copied(work, scratch / "look"))
    odd = sorted(name for name in {*last, *whole} if not same(last.get(name), whole.get(name)))
    return wrong + ([f"again: other bytes: {odd}"] if odd else [])


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

    return _told(one, work, scratch, disturbed(one.run, work, judge))


def limited(one, most, scratch):
    """Let no file grow beyond *most* bytes: the last write before that is cut short."""
    work = copied(one.before, scratch / "work")

    def run():
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
        return one.run()

    return _told(one, work, scratch, undisturbed(run, work))


def _told(one, work, scratch, ended):
    """Return whether one error was told, and what is wrong with what is there."""
    wrong = after(one, work, scratch, ended)
    lines = [line for line in ended.err.splitlines() if line.startswith("error: ")]
    if ended.status == 2 and len(lines) == 1 and len(lines[0]) > 25:
        return "told", wrong
    if ended.status == 0:
        return "done", wrong
    return "odd", [*wrong, f"status {ended.status}: {ended.err[-1500:]}"]


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
    return points if count >= len(points) else rng.sample(points, count)


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


def place(one, number):
    where = f"{one.script.name}: {one}, change {number} of {len(one.calls)}"
    if number == len(one.calls):
        return where
    return f"{where} ({one.calls[number].what} {one.calls[number].path})"


def main(folder, counts, seed):
    scratch, rng = Path(folder), Random(seed)  # noqa: S311 - a seed in sight
    steps = known(scratch)
    ends, wrong = defaultdict(Counter), []
    for call in (call for one in steps for call in one.calls if call.what in {"rename", "link"}):
        ends["order"][call.what] += 1
    wrong += [["order", said, ""] for one in steps for said in out_of_order(one)]
    for tries, count in zip((kills, cuts, failures, stops), counts, strict=True):
        for one, number, what, end, odd in tries(steps, count, rng, scratch):
            ends[what][end] += 1
            if odd:
                wrong.append([what, place(one, number), odd])
                print(*wrong[-1], file=sys.stderr, flush=True)  # noqa: T201
    print(json.dumps({"ends": ends, "wrong": wrong}))  # noqa: T201


if __name__ == "__main__":
    folder, *numbers = sys.argv[1:]
    *counted, chance = map(int, numbers)
    main(folder, counted, chance)
