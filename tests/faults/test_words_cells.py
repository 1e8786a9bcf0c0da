"""What a spreadsheet would run is inert in every table that is written; numbers stay numbers."""

import csv
import io
from collections import Counter

import here
import numpy as np
from small import HIDDEN, SHOPS
from trials import times

from claywit.model.values import is_number

RUN = ("=1+1", "+1+1", "-1+1", "@SUM(A1)", "＝1+1", "=HYPERLINK(0)", "\t=1", "a;=1+1", "b,=2", 'c"=1', "-x", "d;-1+2", "=cmd|' /C x'!A0")  # fmt: skip
HEAD = "id,group,shop,rim,mark,seal,wear"
SIZED = (
    HIDDEN.replace("h: mm", "h: permille").replace("u: {h: 0.1}", "u: {h: 1}")
    .replace("mean: 5", "mean: -50").replace("mean: 6", "mean: -60")
)  # fmt: skip


def table(rows, delimiter=","):
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator="\n").writerows(rows)
    return text.getvalue()


def running(path, delimiters=",;\t"):
    """Return the cells of a file that a spreadsheet would run, whatever it takes for their ends."""
    text = path.read_text(encoding="utf-8-sig")
    for delimiter in delimiters:
        for row in csv.reader(io.StringIO(text), delimiter=delimiter):
            yield from (c for c in row if c[:1] in {*"=+-@＝＋－＠"} and c and not is_number(c))


COMMANDS = (
    "batch m.yaml c.csv -o out.csv --workers 1 --quick", "batch m.yaml c.csv -o out.tsv --workers 1",
    "fit m.yaml c.csv -o new{}.yaml --rejects r1.csv",
    "evaluate m.yaml c.csv --rejects r2.csv", "examiners read.csv m.yaml --rejects r3.csv",
    "elicit sheet m.yaml -o sheet{}.csv --expert {expert} --seeds seeds.yaml",
    "simulate sized.yaml -o drawn.csv -n 40", "simulate sized.yaml -o drawn.tsv -n 40",
)  # fmt: skip


def prepared(folder, rng):
    """Write files whose every free text is something that a spreadsheet might run."""

    def any_of():
        return str(rng.choice(RUN))

    said = [f"{any_of()}{k}" for k in range(40)]
    rows = [
        [
            name,
            any_of(),
            rng.choice(["north", "south"]),
            rng.choice(["flat", "bevelled", "", any_of()]),
            "",
            "",
            "",
        ]
        for name in said
    ]
    (folder / "c.csv").write_text(table([HEAD.split(","), *rows]), encoding="utf-8")
    read = [
        [
            f"{any_of()}{k % 6}",
            any_of(),
            rng.choice(["rim", any_of()]),
            rng.choice(["flat", any_of()]),
        ]
        for k in range(40)
    ]
    read += [[f"p{k}", who, "rim", "flat"] for k in range(4) for who in "AB"]
    (folder / "read.csv").write_text(
        table([["piece", "examiner", "trait", "state"], *read]), encoding="utf-8"
    )
    labelled = SHOPS.replace("label: Rim", "label: '=Rim'")
    (folder / "m.yaml").write_text(
        labelled.replace("label: Workshop", "label: '+Shop'"), encoding="utf-8"
    )
    (folder / "sized.yaml").write_text(SIZED, encoding="utf-8")
    (folder / "seeds.yaml").write_text(
        "format: claywit-seeds/1\nseeds:\n  - {id: one, ask: '=How many?', truth: 12}\n",
        encoding="utf-8",
    )


def test_no_table_holds_what_a_spreadsheet_would_run(tried, tmp_path, monkeypatch, capsys):
    run, seen = here.runner(tmp_path, monkeypatch, capsys), Counter()
    for seed in range(times(1, 20)):
        prepared(tmp_path, np.random.default_rng([22, seed]))
        before = {path: path.read_bytes() for path in tmp_path.iterdir()}
        for line in COMMANDS:
            said = line.format(seed, expert="=Edda").split()
            done = run(*said)
            assert done.returncode == 0, (seed, said, done.stderr)
        made = [p for p in tmp_path.iterdir() if p.suffix in {".csv", ".tsv"} and p not in before]
        for path in made:
            assert list(running(path)) == [], (seed, path.name)
            seen["files"] += 1
            seen["cells"] += sum(len(row) for row in csv.reader(path.open(encoding="utf-8-sig")))
            path.unlink()
        seen["tables"] = len(made)
    tried("tables of every command whose texts are formulas", seen["files"],
          f"{seen['cells']:,} cells, none that a spreadsheet runs, whether its cells end at a comma,"
          " a semicolon or a tab; negative numbers are numbers")  # fmt: skip


def test_negative_numbers_are_written_as_numbers(tmp_path, monkeypatch, capsys):
    run = here.runner(tmp_path, monkeypatch, capsys)
    (tmp_path / "sized.yaml").write_text(SIZED, encoding="utf-8")
    assert run("simulate", "sized.yaml", "-o", "drawn.csv", "-n", 40).returncode == 0
    rows = list(csv.DictReader((tmp_path / "drawn.csv").open(encoding="utf-8")))
    assert sum(is_number(row["size.h"]) and float(row["size.h"]) < 0 for row in rows) > 15
