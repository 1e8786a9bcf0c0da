"""`claywit fit` and `claywit moulds` as a user meets them."""

import csv
import json
import re

import jsonschema
import pytest
from test_cli import ROOT, claywit

from claywit.records.files import read_model

LOAVES = ROOT / "models/tarn-loaves.yaml"
WEIR = ROOT / "models/oskervane.yaml"


@pytest.fixture(scope="module")
def loaves(tmp_path_factory):
    path = tmp_path_factory.mktemp("cases") / "loaves.csv"
    claywit("simulate", LOAVES, "-n", 150, "--seed", 3, "--missing", 0.2, "-o", path)
    # As if somebody had held them: drawn pieces make a demonstration of every model.
    path.write_text(path.read_text(encoding="utf-8").replace("sim-", "loaf-"), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def fitted(loaves, tmp_path_factory):
    new = tmp_path_factory.mktemp("models") / "new.yaml"
    return claywit("fit", LOAVES, loaves, "-o", new), new


def test_a_fit_says_its_account_what_moved_and_what_it_rests_on(fitted):
    done, new = fitted
    assert done.returncode == 0
    assert done.stderr == f"model written to {new}\n"  # no bar where there is no terminal
    said = done.stdout
    assert said.startswith("150 pieces read: 150 used, 0 rejected\n")
    assert "tarn-loaves 1.0.0 -> 1.1.0, status measured" in said
    assert re.search(r"converged after \d+ rounds: the last gained less than 1e-06 nats", said)
    assert re.search(r"elicited n 12, counted n \d", said)
    assert "Not in the file, stamp=S0" in said
    assert "the chooser's share" in " ".join(said.split())
    assert "the counts are worth less than they seem" in " ".join(said.split())


def test_drawn_pieces_make_no_model_a_measured_one(loaves, tmp_path):
    cases, new = tmp_path / "drawn.csv", tmp_path / "new.yaml"
    text = loaves.read_text(encoding="utf-8")
    cases.write_text(text.replace("loaf-0000007", "sim-0000007"), encoding="utf-8")
    done = claywit("fit", LOAVES, cases, "-o", new, "--json")
    assert done.returncode == 0
    answer = json.loads(done.stdout)
    assert (answer["drawn"], answer["status"]) == (1, "demonstration")
    assert "Nobody held them" in answer["cautions"][0]
    assert read_model(new).status == "demonstration"


def test_the_new_file_is_clean_and_says_what_each_row_rests_on(fitted):
    _, new = fitted
    assert claywit("check", new).returncode == 0
    model = read_model(new)
    row = model.node("fair").rows[0]
    assert (row.n, row.counted, row.source) == (162, 150, "elicited")
    assert model.reference.pieces == 150
    assert sum(model.reference.by_state["stamp"].values()) == 150
    assert [file.name for file in model.reference.files] == ["loaves.csv"]


def test_everything_but_the_numbers_is_left_byte_for_byte(fitted):
    _, new = fitted
    old, now = LOAVES.read_text(encoding="utf-8"), new.read_text(encoding="utf-8")
    mark = re.compile(r", counted: [\d.]+|\d[\d.e-]*")
    skip = ("version:", "status:", "reference:")
    pairs = list(zip(old.splitlines(), now.splitlines(), strict=True))
    changed = [(a, b) for a, b in pairs if a != b and not a.startswith(skip)]
    assert len(changed) > 20
    for a, b in changed:
        assert "n: " in a
        assert mark.sub("#", a) == mark.sub("#", b.replace(", counted: ", ", counted: ")).replace("##", "#")  # fmt: skip
    comments = [line for line in old.splitlines() if "#" in line]
    assert [line for line in now.splitlines() if "#" in line] == comments


def test_the_same_file_cannot_be_counted_twice_by_mistake(fitted, loaves, tmp_path):
    _, new = fitted
    done = claywit("fit", new, loaves, "-o", tmp_path / "twice.yaml")
    assert done.returncode == 2
    assert "counted this very file (loaves.csv) already" in done.stderr
    assert not (tmp_path / "twice.yaml").exists()
    again = claywit("fit", new, loaves, "-o", tmp_path / "twice.yaml", "--again")
    assert again.returncode == 0
    row = read_model(tmp_path / "twice.yaml").node("fair").rows[0]
    assert (row.n, row.counted) == (312, 300)


def test_a_file_that_is_there_is_not_written_over(loaves, tmp_path):
    stands = tmp_path / "stands.yaml"
    stands.write_text("mine")
    done = claywit("fit", LOAVES, loaves, "-o", stands)
    assert (done.returncode, done.stderr) == (2, f"error: {stands}: is there already; choose another name\n")  # fmt: skip
    assert stands.read_text() == "mine"


@pytest.fixture(scope="module")
def weighed(tmp_path_factory):
    """A fit to eight loaves of which only the mass is known."""
    folder = tmp_path_factory.mktemp("weighed")
    (folder / "c.csv").write_text("id,mass\n" + "".join(f"m{i},240\n" for i in range(8)))
    done = claywit("fit", LOAVES, folder / "c.csv", "-o", folder / "n.yaml", "--json")
    return json.loads(done.stdout), read_model(folder / "n.yaml")


def test_no_place_is_said_to_have_moved_and_to_keep_its_numbers(weighed):
    answer, new = weighed
    old = read_model(LOAVES)
    assert answer["untouched"]
    kept = [place for place in answer["untouched"] if place.startswith("household")]
    rows = [(a.given, b.p == a.p) for a, b in zip(old.node("household").rows, new.node("household").rows, strict=True)]  # fmt: skip
    assert kept == [f"household, given fair={given['fair'][0]}" for given, same in rows if same]


def test_a_few_pieces_do_not_make_an_elicited_model_a_measured_one(weighed):
    answer, new = weighed
    assert (answer["status"], new.status, new.reference.pieces) == ("elicited", "elicited", 8)


ZERO = "id,period,class,workshop\na,P1,C1,W1\nb,P1,C4,\nc,P2,C1,W2\nd,P9,C1,\n"


def test_a_case_against_a_structural_zero_is_rejected_with_the_zero_named(tmp_path):
    cases, rejects = tmp_path / "cases.csv", tmp_path / "rejects.csv"
    cases.write_text(ZERO)
    done = claywit("fit", WEIR, cases, "-o", tmp_path / "new.yaml", "--rejects", rejects)
    assert done.returncode == 0
    assert done.stdout.startswith("4 pieces read: 2 used, 2 rejected\n")
    with rejects.open(newline="") as stream:
        rows = {row["id"]: row for row in csv.DictReader(stream)}
    assert rows["b"]["line"] == "3"
    assert rows["b"]["reason"].startswith("class=C4, given period=P1, has probability 0")
    assert "P9" in rows["d"]["reason"]
    assert read_model(tmp_path / "new.yaml").reference.pieces == 2
    assert "The model stays a demonstration" in done.stdout


def test_without_a_reject_file_the_first_zero_stops_the_fit(tmp_path):
    cases = tmp_path / "cases.csv"
    cases.write_text(ZERO.rsplit("d,", 1)[0])
    done = claywit("fit", WEIR, cases, "-o", tmp_path / "new.yaml")
    assert done.returncode == 2
    assert f"{cases}:3: b: class=C4, given period=P1, has probability 0" in done.stderr
    assert not (tmp_path / "new.yaml").exists()


def test_a_size_in_the_wrong_unit_is_listed_with_its_line(tmp_path):
    cases = tmp_path / "cases.csv"
    rows = [f"p{i},S1,{250 + i}," for i in range(8)] + ["p8,S1,2500000,", "p9,S1,251,14"]
    cases.write_text("id,stamp,mass,rim\n" + "\n".join(rows) + "\n")
    done = claywit("fit", LOAVES, cases, "-o", tmp_path / "new.yaml")
    assert "Far from all that the model predicted (1)" in done.stdout
    assert re.search(r"  line 10, p8: mass, \S+ times its spread away\n", done.stdout)


def test_the_answer_as_json_fits_its_schema(loaves, tmp_path):
    done = claywit("fit", LOAVES, loaves, "-o", tmp_path / "new.yaml", "--json", "--as-counted")
    answer = json.loads(done.stdout)
    jsonschema.validate(answer, json.loads(claywit("schema", "fit").stdout))
    assert answer["read"] == answer["used"] + answer["rejected"] == 150
    assert answer["converged"]
    assert answer["unfiled"] == []


def test_moulds_takes_cases_or_counts_and_says_a_range(loaves, tmp_path):
    from_cases = claywit("moulds", loaves, "--node", "stamp", "--apart", "S0")
    assert from_cases.returncode == 0
    assert "of 3 moulds" in from_cases.stdout
    counts = tmp_path / "counts.csv"
    table = [1] * 6 + [2] * 4 + [5] * 2 + [6, 7, 8, 9, 10, 11, 12, 20]
    counts.write_text("mould;pieces\n" + "".join(f"X{i};{n}\n" for i, n in enumerate(table)))
    done = claywit("moulds", counts)
    assert "107 pieces of 20 moulds, 6 of them met once" in done.stdout
    assert "coverage 0.944 (95 %: 0.876 to over 0.999)" in done.stdout
    assert "\nBetween 21 and 25 moulds, by what one takes for granted.\n" in done.stdout
    assert "Coverage is then too high" in " ".join(done.stdout.split())
    answer = json.loads(claywit("moulds", counts, "--json").stdout)
    jsonschema.validate(answer, json.loads(claywit("schema", "moulds").stdout))
    assert answer["frequencies"]["1"] == 6


@pytest.mark.parametrize(
    ("text", "arguments", "said"),
    [
        ("mould,pieces\nM1,two\n", (), "x.csv:2: pieces: 'two' is no count"),
        (
            "mould,pieces\nM1," + "0" * 12 + "9" * 5000 + "\n",
            (),
            "is no count; write a whole number",
        ),
        ("mold,pieces\nM1,2\n", (), "x.csv:1: no column mould; did you mean mold?"),
        ("mould\nM1\n", ("--apart", "M2"), "--apart M2: no piece has it; known: M1"),
        ("mould\n\n", (), "no piece whose mould is known"),
        ("mould\nM1,2\n", (), "x.csv:2: more cells than the head names"),
        ('mould\n"M1\n', (), "x.csv:2: not readable as CSV"),
    ],
)
def test_moulds_names_what_it_cannot_count(tmp_path, text, arguments, said):
    path = tmp_path / "x.csv"
    path.write_text(text)
    done = claywit("moulds", path, *arguments)
    assert done.returncode == 2
    assert said in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("kind", ["jsonl", "parquet"])
def test_moulds_reads_the_other_kinds_of_case_file(loaves, tmp_path, kind):
    path = tmp_path / f"loaves.{kind}"
    claywit("simulate", LOAVES, "-n", 150, "--seed", 3, "--missing", 0.2, "-o", path)
    found = [claywit("moulds", p, "--node", "stamp").stdout for p in (path, loaves)]
    assert found[0] == found[1] != ""


@pytest.mark.parametrize(
    "line", ['{"mould": ' + "9" * 5000 + "}", '{"mould": "M1", "mould": "M2"}', "[1]"]
)
def test_a_line_of_json_that_moulds_cannot_count_is_named(tmp_path, line):
    path = tmp_path / "x.jsonl"
    path.write_text(f'{{"mould": "M1"}}\n{line}\n')
    done = claywit("moulds", path)
    assert done.returncode == 2
    assert done.stderr.startswith(f"error: {path}:2: ")


def test_where_every_mould_was_met_once_coverage_is_not_said_to_be_nothing(tmp_path):
    path = tmp_path / "x.csv"
    path.write_text("mould\n" + "".join(f"M{i}\n" for i in range(101)))
    assert "coverage under 0.001 (95 %: under 0.001 to 0.060)" in claywit("moulds", path).stdout
