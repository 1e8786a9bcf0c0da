"""What looks like a slip of the bench is said, and an honest piece is left alone."""

from pathlib import Path

import pytest
from small import examined, model

from claywit.evidence.binding import bind
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece
from claywit.reasoning import misfits
from claywit.reasoning.misfits import FAR, far_measures, rare_pairs
from claywit.records import files

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted((ROOT / "evidence_examples").glob("*.yaml"))


@pytest.fixture(scope="module")
def network():
    return compile_network(files.read_model(ROOT / "models" / "oskervane.yaml"))


def far(network, findings):
    found = far_measures(network, examined(network.model, findings).findings)
    return {measure.node: measure.scales for measure in found}


def rare(network, findings):
    bound = examined(network.model, findings)
    found = rare_pairs(compile_piece(network, bound.findings, []))
    return {frozenset((pair.one, pair.other)): pair.times for pair in found}


@pytest.mark.parametrize(
    "findings",
    [
        "{size: {height: 4.35 mm, width: 3.18 mm}}",
        "{size: {height: 31.8 mm, width: 43.5 mm}}",
        "{size: {height: 435 mm}}",
        "{thickness: 61 mm}",
    ],
    ids=["a decimal point", "height and width swapped", "a decimal point the other way", "a unit"],
)
def test_a_slip_in_a_measure_is_far_from_everything_in_the_file(network, findings):
    (scales,) = far(network, findings).values()
    assert scales > FAR


def test_the_distance_of_a_measure_is_in_scale_units_of_the_nearest_row(network):
    assert far(network, "{thickness: 16 mm}") == {"thickness": pytest.approx((16 - 8) / 0.8)}


def test_what_is_not_in_the_file_does_not_make_a_measure_ordinary(network):
    assert "crown_gap" in far(network, "{crown_gap: 90 permille}")


def test_limits_are_never_far(network):
    assert far(network, "{thickness: {above: 60 mm}}") == {}


def test_a_coat_held_on_a_piece_without_one_is_a_rare_pair(network):
    found = rare(network, "{coating_cover: '0', coating_place: front}")
    assert found[frozenset(("coating_cover", "coating_place"))] == pytest.approx(8.1, abs=0.1)


def test_a_pair_is_rare_by_how_much_seldomer_it_is_than_its_parts(monkeypatch):
    """By hand: bevelled .45, stroke .22, together .5 .8 .1 + .4 .1 .4 + .1 .1 .1 = .057."""
    monkeypatch.setattr(misfits, "RARE", 0.0)
    known = compile_network(model())
    findings = examined(known.model, "{rim: bevelled, mark: stroke}").findings
    (pair,) = rare_pairs(compile_piece(known, findings, []))
    assert pair.times == pytest.approx(0.45 * 0.22 / 0.057)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_no_example_piece_raises_a_false_alarm(network, path):
    evidence, _ = files.read_evidence(path)
    findings = bind(evidence, network.model).findings
    assert far_measures(network, findings) == ()
    assert rare_pairs(compile_piece(network, findings, [])) == ()
