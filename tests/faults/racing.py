"""Let two processes write the same thing at once, again and again; run by a test, as its own.

python -m faults.racing FOLDER TIMES
"""

import json
import os
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from bench.asking import Asking
from faults.held import hold_still
from faults.scripts import CERTIFIED, EVIDENCE, FORM, Script, command, copied, pieces
from made import a_signer
from small import SHOPS, model

from claywit.bench import drafts
from claywit.records import issued, keys, opening
from claywit.records.case import case_names
from claywit.records.checking import check


@dataclass(frozen=True)
class Race:
    """What two do at once; how they may end; and what is wrong with what they leave."""

    name: str
    files: dict
    before: tuple
    both: tuple
    ends: set
    look: object


def _pair_of_keys(_):
    keys.signer(Path("k/north.key"), None)
    return []


def _whole_casebook(count):
    def look(_):
        with opening.opened(Path("casebook.db")) as kept:
            return [*check(kept).faults, *([] if len(case_names(kept)) == count else ["cases"])]

    return look


def _both_listed(_):
    signer = keys.signer(Path("k/north.key"), None)
    return [] if len(issued.listed(Path("s.json"), signer)) == 2 else ["a revocation is lost"]


def _same_answer(_):
    odd = [p.name for p in Path().iterdir() if p.name.startswith(".") or p.name.endswith(".parts")]
    return odd if len(Path("out.csv").read_text(encoding="utf-8").splitlines()) == 61 else ["half"]


def _one_of(name):
    def look(_):
        return [] if Path(name).stat().st_size > 100 else ["half"]

    return look


def answering(trait):
    """Answer one trait again and again at a bench, in a draft that another bench changes too."""

    def answer():
        asking, saved = Asking(Path(), model()), 0
        piece = f"/piece/{drafts.read_all(asking.desk.drafts)[0].id}"
        for turn in range(12):
            state = ("little", "much") if trait == "wear" else ("absent", "pressed")
            version = asking.state(piece)["version"]
            said = {
                "version": version,
                "node": trait,
                "reading": {"way": "seen", "state": state[turn % 2]},
            }
            answered = asking.post(f"{piece}/answer", said)
            if answered.status_code == 200:
                saved += answered.json()["version"] > version
            elif answered.status_code != 409:
                return 1
        Path(f"{trait}.said").write_text(str(saved), encoding="utf-8")
        return 0

    return answer


def begin_draft():
    Asking(Path(), model()).practise()
    return 0


def _no_save_lost(_):
    saved = sum(
        int(Path(f"{trait}.said").read_text(encoding="utf-8")) for trait in ("wear", "seal")
    )
    (draft,) = drafts.read_all(Path("casebook-bench"))
    return [] if draft.version == saved + 1 else [f"{saved} saves, version {draft.version}"]


WON = {(0, 2)}
RACES = (
    Race("one key", {}, (), ("keys new k/north.key --no-passphrase",) * 2, WON, _pair_of_keys),
    Race("one case", {"f.yaml": FORM}, ("casebook new",), ("casebook intake f.yaml",) * 2, WON,
         _whole_casebook(1)),
    Race("two cases", {"f.yaml": FORM, "g.yaml": FORM.replace("p-1", "p-2")}, ("casebook new",),
         ("casebook intake f.yaml", "casebook intake g.yaml"), {(0, 0)}, _whole_casebook(2)),
    Race("one new casebook", {}, (), ("casebook new",) * 2, WON, _whole_casebook(0)),
    Race("one certificate", {"m.yaml": SHOPS, "e.yaml": CERTIFIED},
         ("keys new k/north.key --no-passphrase",),
         ("certify m.yaml e.yaml -k k/north.key -o c.json --html c.html",) * 2, WON,
         _one_of("c.json")),
    Race("one status list", {"m.yaml": SHOPS, "e.yaml": CERTIFIED,
                             "g.yaml": CERTIFIED.replace("p-1", "p-2")},
         ("keys new k/north.key --no-passphrase", "certify m.yaml e.yaml -k k/north.key -o c.json",
          "certify m.yaml g.yaml -k k/north.key -o d.json"),
         ("keys revoke k/north.key --status s.json --certificate c.json",
          "keys revoke k/north.key --status s.json --certificate d.json"), {(0, 0)}, _both_listed),
    Race("one new model", {"m.yaml": SHOPS, "c.csv": pieces(60)}, (),
         ("fit m.yaml c.csv -o n.yaml --rejects r.csv",) * 2, WON, _one_of("n.yaml")),
    Race("one page", {"m.yaml": SHOPS, "e.yaml": EVIDENCE}, (),
         ("assess m.yaml e.yaml --quick --html a.html",) * 2, {(0, 0)}, _one_of("a.html")),
    Race("one batch", {"m.yaml": SHOPS, "c.csv": pieces(60).replace("pressed", "")}, (),
         ("batch m.yaml c.csv -o out.csv --workers 1",) * 2, {(0, 0), (0, 2)}, _same_answer),
    Race("one draft at two benches", {}, (begin_draft,), (answering("wear"), answering("seal")),
         {(0, 0)}, _no_save_lost),
)  # fmt: skip


def race(one, before, work):
    """Return how both ended, and what is wrong with what they left."""
    os.chdir(copied(before, work))
    ready, go = os.pipe()
    both = [_begun(step, ready, go, n) for n, step in enumerate(one.both)]
    os.close(ready)
    os.close(go)  # both go now
    ends = tuple(sorted(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in both))
    said = [Path(f"{n}.err").read_text(encoding="utf-8") for n in range(2)]
    wrong = [] if ends in one.ends else [f"ended {ends}"]
    wrong += [s[-600:] for s in said if "Traceback" in s]
    return ends, wrong + one.look(work)


def _begun(step, ready, go, number):
    child = os.fork()
    if child:
        return child
    os.close(go)
    os.dup2(os.open(f"{number}.out", os.O_WRONLY | os.O_CREAT), 1)
    os.dup2(os.open(f"{number}.err", os.O_WRONLY | os.O_CREAT), 2)
    sys.stdout, sys.stderr = (os.fdopen(n, "w", encoding="utf-8", closefd=False) for n in (1, 2))
    os.read(ready, 1)
    try:
        status = step() if callable(step) else command(step)
    except BaseException as wrong:  # noqa: BLE001 - it is what is looked for
        print("Traceback", repr(wrong), file=sys.stderr)  # noqa: T201
        status = 70
    for stream in (sys.stdout, sys.stderr):
        stream.flush()
    os._exit(status)


def main(folder, times):
    a_signer()
    hold_still()
    found, wrong = {}, []
    for number, one in enumerate(RACES):
        before = Path(folder) / f"before-{number}"
        before.mkdir()
        Script(one.name, one.files, one.before).prepare(before)
        os.chdir(before)
        saved = os.dup(1)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        for step in one.before:
            assert (step() if callable(step) else command(step)) == 0, step
        sys.stdout.flush()
        os.dup2(saved, 1)
        ends = Counter()
        for _ in range(times):
            ended, odd = race(one, before, Path(folder) / "race")
            ends[str(ended)] += 1
            wrong += [f"{one.name}: {what}" for what in odd]
        found[one.name] = ends
    print(json.dumps({"ends": found, "wrong": wrong}))  # noqa: T201


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
