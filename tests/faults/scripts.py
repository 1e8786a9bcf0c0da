"""Everything that writes, as scripts of steps on a small model; the same bytes each time.

Clock and chance are held still, so that a run can be compared with another, byte for byte.
"""

import io
import shutil
import sqlite3
import sys
from ast import literal_eval
from dataclasses import dataclass
from hashlib import sha256

from desk import evidence
from faults.held import hold_still
from faults.on_the_bench import bench, bench_again, looked
from kept_before import casebook_of_layout_1
from made import STATED
from PIL import Image
from sheets import sheet
from small import SHOPS

from claywit import cli

FINDINGS = "{rim: bevelled, mark: {state: stroke, sure: 0.9}}"
HEAD = "id,group,shop,rim,mark,seal,wear\n"


@dataclass(frozen=True)
class Script:
    """Steps, each a command line or a function, and the files that they begin with."""

    name: str
    files: dict
    steps: tuple
    between: str = ""  # the beginning of names that come and go within a step
    again: object = None  # what is done after the disturbance, else the same step
    look: object = lambda folder, out: []  # what else is wrong, where this was said before the end

    def prepare(self, folder):
        for name, content in self.files.items():
            path = folder / name
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            if callable(content):
                content(path)
                continue
            path.write_bytes(content if isinstance(content, bytes) else content.encode())
            path.chmod(0o600 if path.suffix == ".key" else 0o644)

    def run(self, number):
        """Take one step in the working folder, and return its exit status."""
        hold_still()
        step = self.steps[number]
        return step() if callable(step) else command(step)


def command(line):
    """Run a command line in this process, and return its exit status."""
    sys.argv = ["claywit", *line.split()]
    try:
        cli.main()
    except SystemExit as end:
        return end.code or 0
    return 0


def content(folder):
    """Return all files of a folder by name; a casebook as its log and its objects."""
    found = {}
    for path in sorted(folder.rglob("*")):
        name = str(path.relative_to(folder))
        if name.endswith(("-wal", "-shm")):
            continue
        if path.is_dir():
            found[f"{name}/"] = b""
        elif path.suffix == ".db" and not is_draft(name):
            try:
                found[name] = rows_of(path)
            except sqlite3.DatabaseError as wrong:
                found[name] = f"no casebook: {wrong}".encode()
        else:
            found[name] = path.read_bytes()
    return found


def is_draft(name):
    return "/." in f"/{name}"


def rows_of(path):
    with sqlite3.connect(path) as connection:
        log = connection.execute('SELECT sequence, "case", entry FROM log ORDER BY 1').fetchall()
        objects = connection.execute("SELECT digest, bytes FROM objects ORDER BY 1").fetchall()
    connection.close()
    assert all(sha256(one).hexdigest() == digest for digest, one in objects)
    return repr((log, [digest for digest, _ in objects])).encode()


def pieces(count, first=0):
    rims, marks = ("flat", "bevelled", ""), ("absent", "stroke", "", "absent")
    rows = (f"p{i},g{i % 3},north,{rims[i % 3]},{marks[i % 4]},{'pressed' if i % 9 == 4 and i % 2 else ''},\n"
            for i in range(first, first + count))  # fmt: skip
    return HEAD + "".join(rows)


def picture():
    stream = io.BytesIO()
    Image.new("RGB", (40, 30), "sienna").save(stream, "JPEG")
    return stream.getvalue()


FORM = (
    "format: claywit-intake/1\npiece: {id: p-1, type: tile}\n"
    "sealed: {story: 'found in a boat locker', price: '40'}\n"
)
EVIDENCE = evidence(findings=FINDINGS).decode()
CERTIFIED = f"format: claywit-evidence/1\npiece: {{id: p-1}}\nfindings: {FINDINGS}\n{STATED}\n"
READINGS = "piece,examiner,rim\n" + "".join(
    f"q{i},{who},{'flat' if (i + (who == 'B' and i % 5 == 0)) % 2 else 'bevelled'}\n"
    for i in range(30)
    for who in ("A", "B", "C")
)
SHEET = sheet(
    [
        (
            "rim",
            "{shop: north}",
            "{bevelled: {lowest: 60, best: 75, highest: 90}, flat: {lowest: 10, best: 25, highest: 40}}",
        )
    ]
)


def same(found, whole):
    """Return whether a file is as it should be; an opinion that is formed again is kept again."""
    if found == whole or not all(one and one.startswith(b"([(1, ") for one in (found, whole)):
        return found == whole
    log, more = literal_eval(whole.decode())[0], literal_eval(found.decode())[0]
    return more[:-1] == log and b'"kind":"opined"' in more[-1][2]


SCRIPTS = (
    Script(
        "casebook", {"f.yaml": FORM, "p.jpg": picture(), "e.yaml": EVIDENCE, "m.yaml": SHOPS,
                     "e2.yaml": EVIDENCE.replace("bevelled", "flat")},
        ("casebook new", "casebook intake f.yaml",
         "casebook photograph p-1 p.jpg --view front --scale none",
         "casebook lock p-1 e.yaml", "casebook assess p-1 m.yaml",
         "casebook amend p-1 e2.yaml --reason again", "casebook unmask p-1",
         "casebook export p-1 -o p.bundle", "casebook new -c other.db",
         "casebook import p.bundle -c other.db", "casebook backup -o copy.db"),
    ),
    Script(
        "certificates", {"m.yaml": SHOPS, "e.yaml": CERTIFIED},
        ("keys new k/north.key --no-passphrase",
         "certify m.yaml e.yaml -k k/north.key -o c.json --html c.html --pdf c.pdf",
         "keys revoke k/north.key --status s.json --certificate c.json",
         "keys revoke k/north.key --status s.json --renew"),
    ),
    Script(
        "models", {"m.yaml": SHOPS, "c.csv": pieces(60), "r.csv": READINGS, "s.yaml": SHEET,
                   "old.yaml": SHOPS},
        ("fit m.yaml c.csv -o new.yaml --rejects r1.csv",
         "examiners r.csv m.yaml -o read.yaml --date 2026-01-02",
         "elicit sheet m.yaml -o sheet.yaml --html sheet.html", "elicit sheet m.yaml -o sheet.csv",
         "elicit fit m.yaml s.yaml -o asked.yaml --date 2026-01-02",
         "convert m.yaml -o m.json", "convert m.json -o old.yaml"),
    ),
    Script(
        "answers", {"m.yaml": SHOPS, "e.yaml": EVIDENCE, "c.csv": pieces(60), "a.html": "before"},
        ("assess m.yaml e.yaml --quick --html a.html",
         "simulate m.yaml -o s.csv -n 50", "simulate m.yaml -o s.jsonl -n 50",
         "simulate m.yaml -o s.parquet -n 50",
         "evaluate m.yaml c.csv --folds 2 --rejects r.csv --figures f.json --html f.html"),
    ),
    Script(
        "batch of a file", {"m.yaml": SHOPS, "c.csv": pieces(45), "out.csv": "before"},
        ("batch m.yaml c.csv -o out.csv --workers 1",
         "batch m.yaml c.csv -o out.parquet --workers 1 --quick"),
        between="out.",
    ),
    Script(
        "batch of a folder",
        {"m.yaml": SHOPS, **{f"in/{k}.csv": pieces(12, 10 * k) for k in range(3)}},
        ("batch m.yaml in -o out --workers 1",),
        between="out/",
    ),
    Script(
        "an older casebook", {"casebook.db": casebook_of_layout_1, "f.yaml": FORM.replace("p-1", "p-9")},
        ("casebook intake f.yaml",),
    ),
    Script("bench", {}, (bench,), between="casebook", again=bench_again, look=looked),
)  # fmt: skip
BY_NAME = {script.name: script for script in SCRIPTS}


def copied(source, folder):
    """Return a fresh copy of a prepared folder."""
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(source, folder, copy_function=shutil.copy2)
    return folder


def fits(found, states, between, least=0):
    """Return what is neither old nor new in *found*: half files, strays, and what was lost."""
    wrong = []
    for name, held in found.items():
        known = [state.get(name) for state in states]
        if held not in known and not is_draft(name) and not (between and name.startswith(between)):
            wrong.append(f"half: {name}")
    if least:
        for name in states[least]:
            later = [state.get(name) for state in states[least:]]
            if found.get(name) not in later and not (between and name.startswith(between)):
                wrong.append(f"lost: {name}")
    return wrong
