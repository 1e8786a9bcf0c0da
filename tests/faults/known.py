"""Every step of every script as it goes undisturbed, and what must hold once it was disturbed."""

import sys
from dataclasses import dataclass
from functools import partial
from importlib import import_module
from pathlib import Path

from faults.disturbing import disturbed, undisturbed
from faults.scripts import SCRIPTS, content, copied, fits, is_draft, same


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


def told(one, work, scratch, ended):
    """Return whether one error was told, and what is wrong with what is there."""
    wrong = after(one, work, scratch, ended)
    lines = [line for line in ended.err.splitlines() if line.startswith("error: ")]
    if ended.status == 2 and len(lines) == 1 and len(lines[0]) > 25:
        return "told", wrong
    if ended.status == 0:
        return "done", wrong
    return "odd", [*wrong, f"status {ended.status}: {ended.err[-1500:]}"]
