"""Advisories that are handed in: what a version is affected by. The package here is made up."""

import json
import zipfile

import pytest
from advisories import main, pinned

PINS = "# pinned\nmoss-lamp==2.5.0 ; python_version > '3'\nother[extra]==1.0\n"


def advisory(*events, versions=(), name="Moss_Lamp", **more):
    ranges = [{"type": "ECOSYSTEM", "events": list(events)}] if events else []
    package = {"ecosystem": "PyPI", "name": name}
    return {"id": "MADE-UP-1", "affected": [{"package": package, "ranges": ranges, "versions": list(versions)}], **more}  # fmt: skip


def audit(tmp_path, held, pins=PINS):
    (tmp_path / "held.json").write_text(json.dumps(held), encoding="utf-8")
    (tmp_path / "pins.txt").write_text(pins, encoding="utf-8")
    return main(tmp_path / "held.json", tmp_path / "pins.txt")


def test_pinned_versions_are_read_by_their_plain_names():
    assert {name: str(v) for name, v in pinned(PINS).items()} == {
        "moss-lamp": "2.5.0",
        "other": "1.0",
    }


@pytest.mark.parametrize(
    ("events", "status"),
    [
        ([{"introduced": "0"}], 1),
        ([{"introduced": "0"}, {"fixed": "2.5.0"}], 0),
        ([{"introduced": "0"}, {"fixed": "2.5.1"}], 1),
        ([{"introduced": "0"}, {"last_affected": "2.5.0"}], 1),
        ([{"introduced": "0"}, {"last_affected": "2.4"}], 0),
        ([{"introduced": "2.6"}], 0),
        ([{"introduced": "0"}, {"fixed": "1.0"}, {"introduced": "2.0"}, {"fixed": "3.0"}], 1),
        ([{"introduced": "0"}, {"fixed": "2.10"}], 1),
    ],
)
def test_a_version_is_affected_from_the_one_that_brought_it_in_to_the_one_that_mended_it(
    events, status, tmp_path
):
    assert audit(tmp_path, [advisory(*events)]) == status


def test_a_version_that_is_named_is_affected_and_one_that_was_withdrawn_is_not(tmp_path):
    assert audit(tmp_path, advisory(versions=["2.5"])) == 1
    assert audit(tmp_path, advisory(versions=["2.5"], withdrawn="2026-01-01T00:00:00Z")) == 0
    assert audit(tmp_path, advisory(versions=["2.5"], name="somebody-else")) == 0


def test_a_file_that_says_nothing_never_passes_for_a_clean_bill(tmp_path):
    assert audit(tmp_path, []) == 2
    assert audit(tmp_path, [advisory({"introduced": "0"})], pins="") == 2


def test_a_packed_file_of_many_is_read(tmp_path, capsys):
    (tmp_path / "pins.txt").write_text(PINS, encoding="utf-8")
    with zipfile.ZipFile(tmp_path / "all.zip", "w") as packed:
        packed.writestr("a.json", json.dumps(advisory({"introduced": "0"})))
        packed.writestr("b.json", json.dumps(advisory({"introduced": "3"})))
    assert main(tmp_path / "all.zip", tmp_path / "pins.txt") == 1
    assert "2 pinned versions, 2 advisories on PyPI, 1 affected" in capsys.readouterr().out
