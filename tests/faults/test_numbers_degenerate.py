"""Pieces, counts, readings and ranges at the edge of what they can be: one error, or a sane answer."""

import json
from collections import Counter
from random import Random

import here
import pytest
from sheets import count, sheet
from small import HIDDEN, SHOPS
from trials import times

from claywit.records.files import read_model

ID = "id,group,shop,rim,mark,seal,wear\n"
NORTH, SOUTH, NOTHING = "north,flat,stroke,absent,much", "south,flat,,pressed,", ",,,,"
HUGE, TINY = SHOPS.replace("n: 20", "n: 1e15"), SHOPS.replace("n: 20", "n: 1e-300")


def pieces(*rows, again=1, group=""):
    return ID + "".join(
        f"p{k}-{i},{group},{row}\n" for k in range(again) for i, row in enumerate(rows)
    )


def sizes(*values):
    return "id,r,size.h\n" + "".join(f"p{i},a,{v}\n" for i, v in enumerate(values))


PIECES = {
    "one class only": pieces(NORTH, again=50),
    "constant columns": pieces("north,flat,,,", "south,flat,,,", again=20),
    "no piece": ID,
    "no bytes": "",
    "nothing but blank lines": "\n\n\n",
    "all of it missing": pieces(NOTHING, again=9),
    "only the truth": pieces("north,,,,", "south,,,,", again=9),
    "one piece": pieces(NORTH),
    "two of a kind": pieces(NORTH, again=2),
    "the same piece again and again": pieces(NORTH, again=3000),
    "one id for all": ID + f"p,,{NORTH}\n" * 9,
    "only what cannot be": pieces("north,,,pressed,", again=9),
    "what cannot be beside what can": pieces("north,,,pressed,", NORTH, again=9),
    "one group for all": pieces(NORTH, SOUTH, again=20, group="g"),
    "a head and no column that is known": "id\np\n",
    "nothing hidden, nothing seen": pieces("other,,,,", again=40),
}
SIZES = {
    "all of one size": sizes(*[5] * 60),
    "one size": sizes(5),
    "sizes far beyond": sizes(*[1e300] * 5),
    "sizes of nothing": sizes(*[0] * 5),
    "sizes of a hair": sizes(*[5e-324] * 5),
    "sizes at both ends": sizes(-1e12, 1e12, 5),
    "sizes that are none": sizes("nan", "inf", "-inf"),
    "a size in words": sizes("large"),
}
COUNTS = {
    "one mould": "mould,pieces\nM,1\n",
    "moulds met once each": "mould\n" + "".join(f"M{i}\n" for i in range(50)),
    "one mould of very many": f"mould,pieces\nM,{10**15}\n",
    "more than there are numbers": f"mould,pieces\nM,{10**400}\n",
    "a count of 1e308": "mould,pieces\nM,1e308\nN,1e308\n",
    "no pieces": "mould,pieces\nM,0\n",
    "fewer than none": "mould,pieces\nM,-3\n",
    "half a piece": "mould,pieces\nM,1.5\n",
    "no number": "mould,pieces\nM,nan\n",
    "no mould": "mould\n",
    "moulds without names": "mould\n\n\n",
    "all alike": "mould,pieces\n" + "".join(f"M{i},7\n" for i in range(30)),
}


def readings(*rows):
    return "piece,examiner,trait,state\n" + "".join(f"{','.join(row)}\n" for row in rows)


READINGS = {
    "one state": readings(*[(f"p{i}", who, "rim", "flat") for i in range(40) for who in "ABC"]),
    "one reading": readings(("p", "A", "rim", "flat")),
    "one examiner": readings(*[(f"p{i}", "A", "rim", "flat") for i in range(9)]),
    "no reading": readings(),
    "nothing visible": readings(*[(f"p{i}", who, "rim", "not_visible") for i in range(9) for who in "AB"]),
    "each piece read once": readings(*[(f"p{i}", "AB"[i % 2], "rim", "flat") for i in range(9)]),
    "always the other": readings(*[(f"p{i}", who, "rim", ("flat", "bevelled")[(i + (who == "B")) % 2]) for i in range(40) for who in "AB"]),
    "only truths": readings(*[(f"p{i}", "truth", "rim", "flat") for i in range(40)]),
    "two truths of one piece": readings(("p", "truth", "rim", "flat"), ("p", "truth", "rim", "bevelled"), ("p", "A", "rim", "flat")),
    "one piece read a thousand times": readings(*[("p", "A", "rim", "flat")] * 1000),
}  # fmt: skip


def answers(*ranges, confidence=90):
    (asked,) = ranges
    return sheet([("rim", "{shop: north}", f"{{flat: {asked}}}")], confidence=confidence)


def shares(*ranges):
    said = ", ".join(f"{s}: {r}" for s, r in zip(("north", "south", "other"), ranges, strict=True))
    return sheet([("shop", "{}", f"{{{said}}}")])


SHEETS = {
    **{f"a range of {low} {best} {high}": answers(count(low, best, high)) for low, best, high in (
        (5, 5, 5), (0, 0, 0), (100, 100, 100), (0, 0, 100), (0, 100, 100), (0, 50, 100), (60, 20, 10),
        ("nan", "nan", "nan"), (0, "inf", 100), (-1, 0, 1), (0, 1e-300, 1e-299), (1, 1.0000001, 1.0000002),
        (99.9999999, 99.99999995, 100), (0, 5e-324, 100), ("", "", ""), (1, "", 3), (0, 0, 1e-9))},
    **{f"a confidence of {sure}": answers(count(10, 20, 30), confidence=sure) for sure in (0, 1, 50, 99.9999, 100, "nan", -5, 1e300)},
    "no answers": sheet([]),
    "shares all alike": shares(*[count(30, 33, 36)] * 3),
    "shares that cannot add up": shares(*[count(80, 90, 95)] * 3),
    "shares too small to add up": shares(*[count(1, 2, 3)] * 3),
    "one share takes all": shares(count(99, 100, 100), count(0, 0, 0), count(0, 0, 0)),
    "shares that only just can be": shares(count(0, 0, 100), count(0, 0, 100), count(0, 0, 100)),
    "the same question twice": sheet([("rim", "{shop: north}", f"{{flat: {count(1, 2, 3)}}}")] * 2),
}  # fmt: skip
AGAINST = sheet([("rim", "{shop: north}", f"{{flat: {count(90, 95, 99)}}}")], expert="Bruno")


def seeds(truth):
    asked = "".join(f"  - {{id: s{k}, ask: a, truth: {truth}}}\n" for k in range(5))
    return f"format: claywit-seeds/1\nseeds:\n{asked}"


def seeded(low, best, high):
    asked = [("rim", "{shop: north}", f"{{flat: {count(10, 20, 30)}}}")]
    held = "".join(
        f"  - {{id: s{k}, lowest: {low}, best: {best}, highest: {high}}}\n" for k in range(5)
    )
    return sheet(asked, seeds=f"seeds:\n{held}")


SEEDED = {
    "ranges of no width": (seeded(5, 5, 5), 5), "ranges of a hair": (seeded(5, 5.0000000001, 5.0000000002), 7),
    "truths beyond all": (seeded(1, 2, 3), 1e300), "truths of nothing": (seeded(-1e-300, 0, 1e-300), 0),
    "enormous ranges": (seeded(-1e308, 0, 1e308), 1), "every truth missed": (seeded(1, 2, 3), 99),
    "ranges that run down": (seeded(3, 2, 1), 2),
}  # fmt: skip


def tries():
    """Yield what is at the edge, the files, and the command that meets them."""
    for name, text in PIECES.items():
        for about, known in (("", SHOPS), (", much believed", HUGE), (", hardly believed", TINY)):
            yield (
                f"fit, {name}{about}",
                {"m.yaml": known, "c.csv": text},
                "fit m.yaml c.csv -o new.yaml --rejects r.csv --json",
            )
        for how in ("", " --folds 2", " --by-group", " --one-out", " --folds 500"):
            yield (
                f"evaluate, {name}{how}",
                {"m.yaml": SHOPS, "c.csv": text},
                f"evaluate m.yaml c.csv --rejects r.csv --json{how}",
            )
    for name, text in SIZES.items():
        yield (
            f"fit, {name}",
            {"m.yaml": HIDDEN, "c.csv": text},
            "fit m.yaml c.csv -o new.yaml --rejects r.csv --json",
        )
        yield (
            f"evaluate, {name}",
            {"m.yaml": HIDDEN, "c.csv": text},
            "evaluate m.yaml c.csv --rejects r.csv --json",
        )
    for name, text in COUNTS.items():
        yield f"moulds, {name}", {"c.csv": text}, "moulds c.csv --json"
    for name, text in READINGS.items():
        yield (
            f"examiners, {name}",
            {"m.yaml": SHOPS, "r.csv": text},
            "examiners r.csv m.yaml --rejects x.csv --json",
        )
        yield (
            f"matrices, {name}",
            {"m.yaml": SHOPS, "r.csv": text},
            "examiners r.csv m.yaml -o new.yaml --rejects x.csv --prior 0.01 --json",
        )
    for name, text in SHEETS.items():
        yield (
            f"elicit, {name}",
            {"m.yaml": SHOPS, "s.yaml": text},
            "elicit fit m.yaml s.yaml -o new.yaml --json",
        )
        yield (
            f"review, {name}",
            {"m.yaml": SHOPS, "s.yaml": text},
            "elicit review m.yaml s.yaml --json",
        )
        yield (
            f"pool, {name}",
            {"m.yaml": SHOPS, "s.yaml": text, "t.yaml": AGAINST},
            "elicit fit m.yaml s.yaml t.yaml -o new.yaml --json",
        )
    for name, (text, truth) in SEEDED.items():
        files = {
            "m.yaml": SHOPS,
            "s.yaml": text,
            "t.yaml": AGAINST.rstrip("\n") + text[text.index("\nseeds:") :],
            "q.yaml": seeds(truth),
        }
        yield f"weigh, {name}", files, "elicit fit m.yaml s.yaml -o new.yaml --seeds q.yaml --json"
        yield (
            f"weigh two, {name}",
            files,
            "elicit fit m.yaml s.yaml t.yaml -o new.yaml --seeds q.yaml --json",
        )


def refuse(constant):
    raise AssertionError(f"{constant} in an answer")


def met(run, folder, line):
    """Return the status of a command on what is at the edge, and what is wrong with its answer."""
    done = run(*line.split())
    errors = [one for one in done.stderr.splitlines() if one.startswith("error: ")]
    new, status = folder / "new.yaml", done.returncode
    if (status, len(errors)) not in {(0, 0), (2, 1)}:
        return status, f"status {status}: {done.stderr[-600:]}"
    if status:
        return status, "a model is there" * new.exists() or "no words" * (len(errors[0]) < 25)
    json.loads(done.stdout, parse_constant=refuse)
    if new.exists():
        read_model(new)
    return status, ""


def test_what_is_at_the_edge_gets_one_error_or_finite_numbers(tried, tmp_path, monkeypatch, capsys):
    seen, wrong, every = Counter(), [], list(tries())
    some = Random(24).sample(every, times(16, len(every)))  # noqa: S311 - a seed in sight
    for number, (name, files, line) in enumerate(some):
        folder = tmp_path / str(number)
        folder.mkdir()
        for file, text in files.items():
            (folder / file).write_text(text, encoding="utf-8")
        try:
            status, odd = met(here.runner(folder, monkeypatch, capsys), folder, line)
        except Exception as fault:  # noqa: BLE001 - told with all others
            status, odd = 1, repr(fault)
        wrong += [(name, odd)] if odd else []
        seen[status] += 1
        seen["models"] += (folder / "new.yaml").exists()
    assert not wrong, "\n".join(map(str, wrong))
    assert len({name for name, *_ in every}) == len(every)
    tried(
        "fit, evaluate, moulds, examiners, elicit on what is at the edge", len(some),
        f"{seen[2]} refused with one error and no file, {seen[0]} answered with finite numbers;"
        f" {seen['models']} new models, each sound",
    )  # fmt: skip


@pytest.mark.parametrize("text", ["NaN", "Infinity", "-Infinity"])
def test_an_answer_that_holds_no_number_is_noticed(text):
    with pytest.raises(AssertionError, match="in an answer"):
        json.loads(text, parse_constant=refuse)
