"""What a script does at the bench, and what must be there afterwards."""

import sys
from pathlib import Path

from bench.asking import Asking
from desk import form, seeded
from faults.held import NOW
from small import model

from claywit.bench import drafts
from claywit.errors import ClaywitError
from claywit.records import casebook as book
from claywit.records import opening
from claywit.records.case import read_case
from claywit.records.drafting import clear_drafts


def bench():
    """Practise, begin a case, answer, lock it, change an answer: as the pages do."""
    try:
        _at_the_bench(Asking(Path(), model()))
    except ClaywitError as wrong:
        print(f"error: {wrong}", file=sys.stderr)  # noqa: T201
        return 2
    return 0


def _at_the_bench(asking):
    begun = asking.post("/practise", {"piece": "heron"})
    _accepted(begun)
    heron = begun.json()["go"]
    _answered(asking, heron, rim="flat", mark="stroke", wear="much")
    with opening.opened(asking.casebook, write=True) as store:
        book.intake(store, form(), NOW, seeded(3))
    begun = asking.post("/begin", {"case": "p-1", "examiner": "A"})
    _accepted(begun)
    piece = begun.json()["go"]
    _answered(asking, piece, rim="bevelled", mark="absent")
    state = asking.get(f"{piece}/state")
    _accepted(state)
    version = {"version": state.json()["version"]}
    _accepted(asking.post(f"{piece}/lock", version))
    print("locked p-1", flush=True)  # noqa: T201
    reading = {"way": "seen", "state": "flat"}
    said = {"node": "rim", "reading": reading, "reason": "looked again", **version}
    _accepted(asking.post(f"{piece}/amend", said))
    print("amended p-1", flush=True)  # noqa: T201


def _answered(asking, piece, **states):
    for node, state in states.items():
        now = asking.get(f"{piece}/state")
        _accepted(now)
        said = {"version": now.json()["version"], "node": node}
        answer = asking.post(
            f"{piece}/answer", {**said, "reading": {"way": "seen", "state": state}}
        )
        _accepted(answer)
        print("saved", piece.rpartition("/")[2], answer.json()["version"], flush=True)  # noqa: T201


def _accepted(answer):
    """End as a command does where the page is told what is wrong."""
    if answer.status_code != 200:
        raise SystemExit(_refused(answer))


def _refused(answer):
    said = answer.text.partition("<h1>")[2] or answer.text
    kind = "error: " if answer.status_code in {422, 507} else f"{answer.status_code}: "
    print(f"{kind}{said[:300]!r}", file=sys.stderr)  # noqa: T201
    return 2


def bench_again():
    """Open the bench anew, and answer one thing more wherever that can be answered."""
    asking = Asking(Path(), model())
    clear_drafts(asking.casebook)  # these two as the command does before it opens
    drafts.own(asking.desk.drafts)
    for draft in drafts.read_all(asking.desk.drafts):
        state = asking.state(f"/piece/{draft.id}")
        if not state["locked"]:
            asking.see(f"/piece/{draft.id}", seal="absent")
    return 0


def looked(folder, out):
    """Return which of the saves, locks and amendments that were acknowledged are not there."""
    wrong = []
    for line in out.splitlines():
        what, name, *more = line.split()
        if what == "saved" and drafts.read(folder / "casebook-bench", name).version < int(more[0]):
            wrong.append(f"lost: {line}")
        if what in {"locked", "amended"}:
            with opening.opened(folder / "casebook.db") as kept:
                if what not in [step.kind for step in read_case(kept, name).steps]:
                    wrong.append(f"lost: {line}")
    return wrong
