"""The commands that learn from people: elicit and examiners."""

import json
import sys
from types import SimpleNamespace

import pytest
from jsonschema import Draft202012Validator
from sheets import blank, count, sheet
from small import SHOPS, model

from claywit import cli
from claywit.records.files import read_model
from claywit.report.schemas import json_schema
from claywit.report.sheet_page import sheet_page

NORTH = ("rim", "{shop: north}", f"{{flat: {count(10, 20, 35)}}}")
COMMENTED = SHOPS.replace("  rim:", "  # How the edge was cut.\n  rim:").replace(
    "p: {bevelled: 0.8, flat: 0.2}", "p: {bevelled: 0.80,  flat: 0.20}"
)


@pytest.fixture
def claywit(tmp_path, monkeypatch, capsys):
    """Run a command in the folder of the test, in this process: it starts in a blink."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["claywit", *arguments])
        with pytest.raises(SystemExit) as left:
            cli.main()
        said = capsys.readouterr()
        return SimpleNamespace(returncode=left.value.code, stdout=said.out, stderr=said.err)

    return run


def put(folder, name, text):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_a_sheet_is_written_and_never_over_another(tmp_path, claywit):
    put(tmp_path, "m.yaml", SHOPS)
    done = claywit("elicit", "sheet", "m.yaml", "--node", "rim", "-o", "s.yaml", "--html", "s.html")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("s.yaml: 2 questions\n")
    assert "Picture 100 pieces" in (tmp_path / "s.yaml").read_text()
    again = claywit("elicit", "sheet", "m.yaml", "-o", "s.yaml")
    assert again.returncode == 2
    assert "is there already" in again.stderr


def test_a_review_says_what_the_numbers_amount_to_and_shows_none_of_the_models(tmp_path, claywit):
    put(tmp_path, "m.yaml", SHOPS)
    counts = f"{{bevelled: {count(60, 77, 90)}, flat: {count(10, 35, 45)}}}"
    put(tmp_path, "s.yaml", sheet([("rim", "{shop: north}", counts)]))
    done = claywit("elicit", "review", "m.yaml", "s.yaml")
    said = " ".join(done.stdout.split())
    assert done.returncode == 0
    assert "your ranges fit a sample of" in said
    assert "Your best guesses add to 112 of 100" in said
    assert "before" not in said


def test_fit_writes_rows_sources_and_version_and_keeps_every_comment(tmp_path, claywit):
    put(tmp_path, "m.yaml", COMMENTED)
    put(tmp_path, "a.yaml", sheet([NORTH], expert="Edda Sarn"))
    put(tmp_path, "b.yaml", sheet([NORTH], expert="Otto Marl"))
    done = claywit(
        "elicit", "fit", "m.yaml", "a.yaml", "b.yaml", "--date", "2026-01-30", "-o", "n.yaml", "--json")  # fmt: skip
    assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout)
    Draft202012Validator(json_schema("elicited")).validate(answer)
    assert answer["weights"]["rule"] == "equal"
    new = read_model(tmp_path / "n.yaml")
    row = new.node("rim").rows[0]
    assert row.p == {s["state"]: s["p"] for s in answer["rows"][0]["states"]}
    assert row.n == answer["rows"][0]["n"]
    assert new.sources[row.source] == (
        "Elicited on 2026-01-30 from Edda Sarn, Otto Marl, weighed equally; no piece was counted"
    )
    assert new.version == "1.1.0"
    assert new.node("rim").rows[1] == model().node("rim").rows[1]
    assert "  # How the edge was cut.\n  rim:" in (tmp_path / "n.yaml").read_text()
    again = claywit("elicit", "fit", "n.yaml", "a.yaml", "--date", "2026-01-30", "-o", "o.yaml")
    assert again.returncode == 0
    assert read_model(tmp_path / "o.yaml").node("rim").rows[0].source == "elicited_2026_01_30_2"


SEEDS = "format: claywit-seeds/1\nseeds:\n" + "".join(
    f"  - {{id: s{i}, ask: 'How many, {i}?', truth: {10 * i + 3}}}\n" for i in range(12)
)


def answered(expert, width, answers):
    lines = [
        f"  - {{id: s{i}, lowest: {10 * i + 4 - width}, best: {10 * i + 4}, highest: {10 * i + 4 + width}}}"
        for i in range(12)
    ]
    return sheet(answers, expert=expert, seeds="seeds:\n" + "\n".join(lines))


def test_seeds_give_weights_and_an_expert_below_the_cutoff_none(tmp_path, claywit):
    """Every truth is 1 below the best guess: inside a range of 4 either way, outside one of .5."""
    put(tmp_path, "m.yaml", SHOPS)
    put(tmp_path, "seeds.yaml", SEEDS)
    put(tmp_path, "a.yaml", answered("Edda", 4, [NORTH]))
    put(
        tmp_path,
        "b.yaml",
        answered("Otto", 0.5, [("mark", "{shop: south}", f"{{stroke: {count(1, 2, 4)}}}")]),
    )
    done = claywit(
        "elicit", "fit", "m.yaml", "a.yaml", "b.yaml", "--seeds", "seeds.yaml", "-o", "n.yaml", "--json")  # fmt: skip
    answer = json.loads(done.stdout)
    assert answer["weights"]["rule"] == "performance"
    assert [(e["name"], e["weight"]) for e in answer["experts"]] == [("Edda", 1.0), ("Otto", 0.0)]
    assert answer["unasked"] == ["mark, given shop=south"]
    assert "1 row elicited" in done.stderr


def test_what_can_be_put_right_is_one_line_and_writes_nothing(tmp_path, claywit):
    put(tmp_path, "m.yaml", SHOPS)
    put(tmp_path, "a.yaml", sheet([NORTH]))
    put(tmp_path, "b.yaml", sheet([NORTH], expert='""'))
    fit = ("elicit", "fit", "m.yaml", "a.yaml")
    for arguments, said in [
        (
            (*fit, "a.yaml", "-o", "n.yaml"),
            "a.yaml:3: Edda filled in a.yaml too; give one sheet an expert",
        ),
        ((*fit, "b.yaml", "-o", "n.yaml"), "b.yaml:3: no name behind `expert`"),
        ((*fit, "--date", "30.1.", "-o", "n.yaml"), "--date 30.1.: no day; write it as 2026-01-30"),
        ((*fit, "-o", "m.yaml"), "m.yaml: is there already; choose another name"),
        ((*fit, "--cutoff", "0.1", "-o", "n.yaml"), "--cutoff goes with --seeds"),
        (("examiners", "r.csv", "-o", "n.yaml"), "-o writes a model; give the MODEL"),
    ]:
        done = claywit(*arguments)
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr.count("\n") == 1
        assert said in done.stderr
    assert not (tmp_path / "n.yaml").exists()


@pytest.mark.parametrize("held", ["a.yaml", "seeds.yaml"])
def test_a_new_model_never_takes_the_place_of_a_sheet(tmp_path, claywit, held):
    put(tmp_path, "m.yaml", SHOPS)
    put(tmp_path, "a.yaml", sheet([NORTH]))
    put(tmp_path, "seeds.yaml", "an answer of somebody")
    before = (tmp_path / held).read_bytes()
    done = claywit("elicit", "fit", "m.yaml", "a.yaml", "-o", held)
    assert (done.returncode, done.stderr) == (2, f"error: {held}: is there already; choose another name\n")  # fmt: skip
    assert (tmp_path / held).read_bytes() == before


READINGS = "piece,examiner,rim,mark\n" + "".join(
    f"p{i},{e},{'flat' if (i + (e == 'C' and i % 9 == 0)) % 2 else 'bevelled'},absent\n"
    for i in range(40)
    for e in "ABC"
)


def test_examiners_writes_matrices_that_an_evidence_file_can_name(tmp_path, claywit):
    put(tmp_path, "m.yaml", SHOPS)
    put(tmp_path, "r.csv", READINGS)
    done = claywit("examiners", "r.csv", "m.yaml", "-o", "n.yaml", "--date", "2026-02-01", "--json")
    assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout)
    Draft202012Validator(json_schema("examiners")).validate(answer)
    new = read_model(tmp_path / "n.yaml")
    assert {name for name in new.reading_matrices if name.endswith("rim")} == {
        "A_rim",
        "B_rim",
        "C_rim",
    }
    assert (
        new.reading_matrices["C_rim"].p["flat"]["bevelled"]
        > new.reading_matrices["A_rim"].p["flat"]["bevelled"]
    )
    put(
        tmp_path,
        "e.yaml",
        "format: claywit-evidence/1\npiece: {id: p}\nfindings: {rim: {state: flat, reading: C_rim}}\n",
    )
    assert claywit("assess", "n.yaml", "e.yaml", "--quick").returncode == 0


def test_lines_that_cannot_be_used_are_kept_and_counted(tmp_path, claywit):
    put(tmp_path, "m.yaml", SHOPS)
    put(tmp_path, "r.csv", READINGS + "p1,D,flatt,absent\n")
    plain = claywit("examiners", "r.csv", "m.yaml")
    assert plain.returncode == 2
    assert "r.csv:122: p1: rim has no state flatt; did you mean flat?" in plain.stderr
    kept = claywit("examiners", "r.csv", "m.yaml", "--rejects", "j.csv")
    assert kept.returncode == 0
    assert "121 lines read: 1 rejected" in kept.stderr
    assert "flatt" in (tmp_path / "j.csv").read_text()


def test_the_printed_sheet_escapes_what_a_model_says():
    from claywit.learning.asking import questions
    from claywit.learning.blank import Blank

    known = model(SHOPS.replace("label: North", "label: '<b>North</b>'"))
    page = sheet_page(Blank(known, "", questions(known, ["rim"])))
    assert "<b>North" not in page
    assert "&lt;b&gt;North" in page
    assert "<script" not in page


def test_a_sheet_validates_against_its_schema():
    from claywit.errors import SheetError
    from claywit.model.source import read_document

    data = read_document(blank("rim").encode(), "s.yaml", SheetError).data
    Draft202012Validator(json_schema("sheet")).validate(data)


def test_two_matrices_of_one_name_are_never_written_one_over_the_other(tmp_path, claywit):
    """Long names are cut, and then two traits read by one examiner have one name."""
    put(tmp_path, "m.yaml", SHOPS)
    lines = [
        line.replace("absent", "stroke" if i % 2 else "absent")
        for i, line in enumerate(READINGS.splitlines())
    ]
    put(tmp_path, "r.csv", "\n".join(lines).replace(",A,", f",{'A' * 100},"))
    done = claywit("examiners", "r.csv", "m.yaml", "-o", "n.yaml")
    assert done.returncode == 2
    assert "two matrices would be called AAA" in done.stderr
    assert not (tmp_path / "n.yaml").exists()


def test_a_file_of_readings_of_which_none_can_be_used_says_so(tmp_path, claywit):
    put(tmp_path, "m.yaml", SHOPS)
    put(tmp_path, "r.csv", "piece,examiner,trait,state\na,A,rim,round\n")
    done = claywit("examiners", "r.csv", "m.yaml", "--rejects", "x.csv")
    assert done.returncode == 2
    assert "r.csv: every line was rejected" in done.stderr


def test_a_trait_of_which_only_the_truth_is_given_was_read_by_nobody(tmp_path, claywit):
    put(tmp_path, "r.csv", "piece,examiner,trait,state\na,truth,rim,flat\n")
    said = claywit("examiners", "r.csv").stdout
    assert "(0 readings of 1 piece)" in said
    assert "nobody read the trait" in said


def test_a_range_that_leaves_everything_open_is_worth_one_piece_and_never_none_or_all(tmp_path, claywit):  # fmt: skip
    put(tmp_path, "m.yaml", SHOPS)
    put(tmp_path, "s.yaml", sheet([("rim", "{shop: north}", f"{{flat: {count(0, 0, 100)}}}")]))
    said = " ".join(claywit("elicit", "review", "m.yaml", "s.yaml").stdout.split())
    assert "your ranges fit a sample of 1 piece)" in said
    assert "are what 1 piece would give" in said
    assert "<0.1" in said
    assert ">99" in said
