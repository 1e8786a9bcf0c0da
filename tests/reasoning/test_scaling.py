import pytest

from claywit.evidence.findings import Finding, Measure
from claywit.inference.network import compile_network
from claywit.reasoning.checklist import checklist, mould_node
from claywit.reasoning.scaling import one_ratio, scales
from claywit.records.files import read_demonstration

MODEL = read_demonstration()
SIZE = MODEL.node("size")


def sized(height, width):
    return Finding("size", measures={"height": Measure(height), "width": Measure(width)})


def test_one_ratio_is_the_mean_weighted_by_certainty():
    # Weights 1 / 0.01 and 1 / 0.04: (0.1 x 100 + 0.2 x 25) / 125 = 0.12.
    mean, u, apart = one_ratio([0.1, 0.2], [0.01, 0.04])
    assert mean == pytest.approx(0.12)
    assert u == pytest.approx(125**-0.5)
    assert apart == pytest.approx((100 * 0.02**2 + 25 * 0.08**2) ** 0.5)


def test_a_piece_that_shrank_as_ferry_paste_does_is_on_one_scale_with_its_mould():
    # 3.6 % off the cavity of M04 (45.10 x 33.00 mm), the mean of paste B.
    found = {one.mould: one for one in scales(SIZE, sized(45.10 * 0.964, 33.00 * 0.964))}
    assert found["M04"].ratio == pytest.approx(0.964, abs=1e-12)
    assert found["M04"].apart == pytest.approx(0, abs=1e-9)
    assert found["M04"].pastes["B"] == pytest.approx(0, abs=1e-9)
    assert abs(found["M04"].pastes["D"]) > 5
    assert found["M06"].apart > 5


def test_without_a_size_there_is_no_scale():
    assert scales(SIZE, Finding("size", measures={"height": Measure(low=40.0)})) == ()


def test_the_checklist_is_what_the_model_says_of_any_piece_of_a_mould():
    network = compile_network(MODEL, {})
    found = checklist(network, SIZE, ["M04"])["M04"]
    contact = next(one for one in found if one.trait == "arch_contact")
    assert mould_node(MODEL, SIZE).name == "mould"
    assert contact.likeliest == "right_shoulder"
    assert sum(contact.p.values()) == pytest.approx(1)
