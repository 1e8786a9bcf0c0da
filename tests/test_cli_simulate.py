"""`claywit simulate`: the same seed, the same bytes; what it writes is read back whole."""

import pytest
from cases_files import read_back
from test_cli import MODEL, ROOT, claywit

from claywit.records.files import read_model


@pytest.mark.parametrize("kind", ["csv", "jsonl", "parquet"])
def test_the_same_seed_writes_the_same_bytes_and_every_piece_can_be_read(tmp_path, kind):
    one, two = tmp_path / f"one.{kind}", tmp_path / f"two.{kind}"
    arguments = ("-n", 300, "--seed", 7, "--missing", 0.3, "--without", "bed", "--groups", 3)
    for out in (one, two):
        done = claywit("simulate", MODEL, *arguments, "-o", out)
        assert (done.returncode, done.stdout) == (0, "")
        assert done.stderr == f"300 pieces written to {out}\n"
    assert one.read_bytes() == two.read_bytes()
    known = read_model(ROOT / MODEL)
    (cases,), rejected, account = read_back(known, one)
    assert rejected == []
    assert account.used == 300
    assert "bed" not in cases.codes
    assert set(cases.groups) == {"collection-1", "collection-2", "collection-3"}


def test_more_collections_than_can_be_are_refused(tmp_path):
    done = claywit("simulate", MODEL, "-o", tmp_path / "x.csv", "--groups", 10**30)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "--groups" in done.stderr


def test_a_node_that_is_not_there_is_named_with_the_nearest(tmp_path):
    done = claywit("simulate", MODEL, "-o", tmp_path / "x.csv", "--without", "bde")
    assert done.returncode == 2
    assert done.stderr == "error: --without bde: no such node in the model; did you mean bed?\n"


def test_drawn_pieces_never_take_the_place_of_a_file(tmp_path):
    mine = tmp_path / "pieces.csv"
    mine.write_text("id,class\nmy-1,C1\n", encoding="utf-8")
    done = claywit("simulate", MODEL, "-n", 3, "-o", mine)
    assert done.returncode == 2
    assert done.stderr == f"error: {mine}: is there already; choose another name\n"
    assert mine.read_text(encoding="utf-8") == "id,class\nmy-1,C1\n"
