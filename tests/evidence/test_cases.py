"""Cells of a file of cases mean what the same words mean in an evidence file."""

from dataclasses import replace

import numpy as np
import pytest
from cases_files import jsonl, read
from small import HIDDEN, SHOPS, examined, model

from claywit.errors import CasesError
from claywit.evidence.cases import Cases, joined
from claywit.evidence.findings import Finding, Measure

MATRIX = """
reading_matrices:
  by_b: {node: rim, p: {bevelled: {bevelled: 0.9, flat: 0.1}, flat: {bevelled: 0.2, flat: 0.8}}}
"""
CRACKS = """
format: claywit-model/1
name: cracks
version: 1.0.0
targets: [shop]
status: elicited
nodes:
  shop: {states: [n, s], rows: [{p: {n: 0.5, s: 0.5}, n: 9}]}
  net: {states: [none, some], parents: [shop], examine: {}, rows: [{p: {none: 0.5, some: 0.5}, n: 9}]}
  fill: {states: [dirt, empty], parents: [shop], examine: {}, applies_if: {net: [some]},
         rows: [{p: {dirt: 0.5, empty: 0.5}, n: 9}]}
  size: {measured: {h: mm, w: mm}, u: {h: 0.1, w: 0.1}, parents: [shop, net], dimensions: {
         cavity: {n: {h: 20, w: 10}, s: {h: 30, w: 10}}, shrinkage: {none: {mean: 0, sd: 0.01}, some: {mean: 0, sd: 0.01}}}}
"""


def one(known, tmp_path, piece):
    """Return what a file of one piece says, once read."""
    (cases,), rejected, _ = read(known, tmp_path / "one.jsonl", jsonl({"id": "p-1", **piece}))
    assert rejected == []
    return cases.findings(0)


@pytest.mark.parametrize(
    ("piece", "written"),
    [
        ({"rim": "flat"}, "{rim: flat}"),
        ({"rim": "flat", "mark": "absent"}, "{mark: absent, rim: flat}"),
        ({"rim": "flat", "rim.sure": 0.9}, "{rim: {state: flat, sure: 0.9}}"),
        ({"rim": {"state": "flat", "sure": "0.9"}}, "{rim: {state: flat, sure: 0.9}}"),
        ({"rim": "flat", "rim.sure": 1}, "{rim: flat}"),
        ({"rim": "flat", "rim.reading": "by_b"}, "{rim: {state: flat, reading: by_b}}"),
        ({"rim": {"likelihood": {"flat": 2, "other": 1}}}, "{rim: {likelihood: {flat: 1, other: 0.5}}}"),
        ({"rim": {"state": "flat", "note": "seen twice"}}, "{rim: flat}"),
        ({"rim": "", "mark": None}, "{}"),
        ({"rim": "not_applicable"}, "{}"),
    ],
)  # fmt: skip
def test_a_piece_of_a_file_is_what_an_evidence_file_would_make_of_it(tmp_path, piece, written):
    known = model(SHOPS + MATRIX)
    if "not_applicable" in piece.values():
        known = model(CRACKS)
        assert one(known, tmp_path, {"net": "none", "fill": "not_applicable"}) == (
            Finding("net", "none"),
        )
        return
    assert one(known, tmp_path, piece) == examined(known, written).findings


@pytest.mark.parametrize(
    ("piece", "written"),
    [
        ({"size": 5.5}, "{size: 5.5 mm}"),
        ({"size": "5.5"}, "{size: 5.5 mm}"),
        ({"size": "0.55 cm"}, "{size: 0.55 cm}"),
        ({"size.h": 5.5, "size.u": 0.2}, "{size: {value: 5.5 mm, u: 0.2 mm}}"),
        ({"size.h": 5.5, "size.h.u": "0.2 mm"}, "{size: {value: 5.5 mm, u: 0.2 mm}}"),
        ({"size.below": 6}, "{size: {below: 6 mm}}"),
        ({"size.above": 5, "size.below": "6 mm"}, "{size: {between: [5 mm, 6 mm]}}"),
        ({"size": {"between": [5, "6 mm"]}}, "{size: {between: [5 mm, 6 mm]}}"),
        ({"size": "not_visible"}, "{size: not_visible}"),
        ({"size": {"not_visible": "a thick coat"}}, "{size: not_visible}"),
    ],
)
def test_a_measure_of_a_file_is_what_an_evidence_file_would_make_of_it(tmp_path, piece, written):
    known = model(HIDDEN)
    expected = examined(known, written).findings
    assert one(known, tmp_path, piece) == tuple(replace(f, why="") for f in expected)


def test_too_many_pieces_are_refused_before_the_rest_is_read():
    known = model()

    def blocks():
        yield from (Cases(known, ("a",), ("",), np.array([1]), {}, {}, {}, {}) for _ in range(3))
        raise AssertionError("read on")

    with pytest.raises(CasesError, match="more than 2 pieces"):
        joined(known, blocks(), most=2)


def test_several_measures_stand_in_columns_of_their_own(tmp_path):
    known = model(CRACKS)
    blocks, rejected, _ = read(
        known, tmp_path / "c.csv", "id,size.h,size.w,size.w.u\na,20,,\nb,20,10 mm,0.05\nc,,,\n"
    )
    assert rejected == []
    assert blocks[0].findings(0) == (Finding("size", measures={"h": Measure(20.0)}),)
    assert blocks[0].findings(1) == (
        Finding("size", measures={"h": Measure(20.0), "w": Measure(10.0, 0.05)}),
    )
    assert blocks[0].findings(2) == ()
    assert np.isnan(blocks[0].values["size"][2]).all()


def test_the_truth_is_a_column_that_can_be_left_out_of_the_findings(tmp_path):
    (cases,), _, _ = read(model(), tmp_path / "c.csv", "id,group,shop,rim\na,g1,south,flat\n")
    assert cases.codes["shop"].tolist() == [1]
    assert cases.codes["shop"].dtype == np.int16
    assert cases.groups == ("g1",)
    assert cases.findings(0) == (Finding("shop", "south"), Finding("rim", "flat"))
    assert cases.findings(0, without={"shop"}) == (Finding("rim", "flat"),)


def test_a_reading_of_what_does_not_apply_is_rejected_as_in_an_evidence_file(tmp_path):
    known = model(CRACKS)
    blocks, rejected, account = read(
        known,
        tmp_path / "c.csv",
        "id,net,fill\na,none,dirt\nb,some,not_applicable\nc,none,\nd,some,dirt\ne,,dirt\nf,none,not_applicable\n",
    )
    assert [line.split(",", 2)[:2] for line in rejected] == [["2", "a"], ["3", "b"]]
    assert "applies only where net is some, and it was read as none" in rejected[0]
    assert "so it applies here" in rejected[1]
    assert blocks[0].names == ("c", "d", "e", "f")
    assert blocks[0].codes["fill"].tolist() == [-1, 0, 0, -1]
    assert (account.read, account.used, account.rejected) == (6, 4, 2)


def test_rows_can_be_taken_and_blocks_joined_again(tmp_path):
    known = model(HIDDEN)
    pieces = [{"id": f"p{i}", "r": "ab"[i % 2], **({"size.below": 6} if i == 3 else {"size": 5 + i})}
              for i in range(5)]  # fmt: skip
    blocks, _, _ = read(known, tmp_path / "c.jsonl", jsonl(*pieces), block=2)
    assert [len(block) for block in blocks] == [2, 2, 1]
    whole = joined(known, blocks)
    assert [whole.findings(i) for i in range(5)] == [
        block.findings(i) for block in blocks for i in range(len(block))
    ]
    some = whole.take([3, 0])
    assert some.names == ("p3", "p0")
    assert [some.findings(i) for i in range(2)] == [whole.findings(3), whole.findings(0)]
    assert some.lines.tolist() == [4, 1]
