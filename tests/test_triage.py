"""Triage on the invented demo pieces: the coated and the photographed piece go under the lens."""

from pathlib import Path

import pytest

from claywit.evidence.binding import bind
from claywit.records import files
from claywit.triage import Candidate, triage

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def found():
    model = files.read_model(ROOT / "models" / "oskervane.yaml")
    candidates = [Candidate("broken", None, "cannot be read")]
    for stem in ("04-marrable", "05-copy", "06-after-cast", "10-overcoated", "11-cord-hole-a"):
        evidence, document = files.read_evidence(ROOT / "evidence_examples" / f"{stem}.yaml")
        candidates.append(Candidate(stem, bind(evidence, model, document.place)))
    return triage(model, candidates, files.read_standards())


def test_each_piece_lies_in_one_heap(found):
    heaps = {piece.name: piece.heap for piece in found.pieces}
    assert heaps["10-overcoated"] == "lens"
    assert heaps["04-marrable"] == "settled"
    assert heaps["broken"] == "unreadable"
    assert len(heaps) == 6


def test_pairs_that_look_like_casts_are_named_with_their_ratio(found):
    pairs = {(p.larger, p.smaller): p for p in found.pairs}
    # The scenario: mould M10 was taken from an M09 tablet, cavities 26.94 to 30.07 wide.
    cast = pairs["06-after-cast", "11-cord-hole-a"]
    assert cast.ratio == pytest.approx(26.94 / 30.07, abs=3 * cast.u)
    assert any({"04-marrable", "05-copy"} == set(pair) for pair in pairs)
