"""What rounding could break: equal-looking answers, and a number that would read as certainty."""

import numpy as np
import pytest
from networks import build
from small import examined, model

from claywit.assessment import assess
from claywit.evidence.findings import Finding, Measure
from claywit.inference.network import compile_network
from claywit.inference.piece import compile_piece, likeliest, log_shares, ranked
from claywit.records import files
from claywit.report.fitted import Fitted, MovedNumbers
from claywit.report.numbers import ranked as ranked_in_text
from claywit.report.numbers import row_part

STANDARDS = files.read_standards()
EMPTY = "{}"


def a_tie(seed):
    """Return a model and findings after which all states are alike, but for the last digits."""
    rng = np.random.default_rng(seed)
    states = [f"s{i}" for i in range(int(rng.integers(2, 5)))]
    read = rng.uniform(0.05, 0.95, (6, len(states)))
    prior = 1 / read.prod(axis=0)
    prior /= prior.sum()
    nodes = {
        "q": {"states": states, "rows": [{"p": dict(zip(states, prior.tolist(), strict=True))}]}
    }
    for i, row in enumerate(read.tolist()):
        nodes[f"t{i}"] = {"states": ["y", "n"], "parents": ["q"], "examine": {}, "rows": [
            {"given": {"q": s}, "p": {"y": p, "n": 1 - p}} for s, p in zip(states, row, strict=True)
        ]}  # fmt: skip
    return build("tie", nodes), tuple(Finding(f"t{i}", state="y") for i in range(6))


@pytest.mark.parametrize("seed", range(8))
def test_of_answers_that_look_equal_one_and_the_same_is_called_the_leader(seed):
    known, findings = a_tie(seed)
    piece = examined(known, EMPTY)
    report = assess(known, piece.__class__(**{**vars(piece), "findings": findings}), STANDARDS)
    assert report.leading == "s0"
    assert "s0" in report.statement[0].partition(";")[0]
    assert report.explanation.for_ == "q=s0"
    assert "s0" not in {rival.state for rival in report.rivals}
    assert report.sensitivity.prior.state == "s0"


def test_states_are_ranked_alike_in_numbers_and_in_text():
    logs = np.log([0.2, 0.3, 0.3 * (1 - 1e-14), 0.2 * (1 + 1e-9)])
    assert ranked(logs, logs).tolist() == [1, 2, 3, 0]
    shares = np.exp(log_shares(logs))
    told = {str(i): f"{p:#.12g}" for i, p in enumerate(shares.tolist())}
    assert ranked_in_text(told) == ["1", "2", "3", "0"]
    assert likeliest(shares[::-1]) == 1


def test_of_excluded_states_the_one_with_the_larger_prior_comes_first():
    with np.errstate(divide="ignore"):
        assert ranked(np.log([0, 1, 0.0]), np.log([0.1, 0.2, 0.7])).tolist() == [1, 2, 0]


def test_shares_add_up_to_1_where_logs_have_no_digits_left():
    assert np.exp(log_shares(np.full(4, -1e18))) == pytest.approx([0.25] * 4, abs=1e-15)


@pytest.mark.parametrize(("p", "said"), [(0.99999, "above 0.999"), (1.0, "1"), (0.9, "0.9"), (1e-7, "1e-07")])  # fmt: skip
def test_a_share_of_a_row_reads_as_certain_only_where_it_is(p, said):
    assert row_part(p) == said


def test_a_reading_nearly_sure_is_not_told_as_sure():
    known = model()
    report = assess(known, examined(known, "{mark: {state: stroke, sure: 0.99999}}"), STANDARDS)
    assert report.findings[0].reading.endswith("(sure above 0.999)")


def test_a_measure_of_absurd_spread_gives_numbers_all_the_same():
    """A log-normal of a huge spread and an n of almost nothing: no overflow, no NaN."""
    known = build("absurd", {
        "q": {"states": ["a", "b"], "rows": [{"p": {"a": 0.5, "b": 0.5}, "n": 1e-9}]},
        "size": {"measured": {"h": "mm"}, "u": {"h": 0.1}, "parents": ["q"], "examine": {}, "rows": [
            {"given": {"q": "a"}, "log_normal": {"median": 5, "log_sd": 1e9}, "n": 1e-9},
            {"given": {"q": "b"}, "normal": {"mean": 5, "sd": 1e-9}, "n": 1e-9}]},
        "mark": {"states": ["y", "n"], "parents": ["q"], "examine": {}, "rows": [
            {"given": {"q": "a"}, "p": {"y": 1e-30, "n": 1}}, {"given": {"q": "b"}, "p": {"y": 1}}]},
    })  # fmt: skip
    findings = (Finding("size", measures={"h": Measure(value=1e9)}), Finding("mark", state="y"))
    piece = examined(known, EMPTY)
    for chosen in (findings, findings[:1], findings[1:]):
        report = assess(known, piece.__class__(**{**vars(piece), "findings": chosen}), STANDARDS)
        assert sum(float(p) for p in report.posterior["q"].values()) == pytest.approx(1, abs=2e-12)
    assert compile_piece(compile_network(known), findings, ["q"]).findings == findings


def test_a_fitted_share_of_nearly_one_is_not_said_to_be_one():
    moved = MovedNumbers(
        place="rim", before={"flat": 1.0, "bevelled": 0.0},
        after={"flat": 0.99997, "bevelled": 0.00003}, elicited_n=20.0, counted_n=5.0, moved=1.0,
    )  # fmt: skip
    said = "\n".join(Fitted.model_construct(moved=(moved,))._most())
    assert "flat 1 -> above 0.9999, bevelled 0 -> 3e-05" in said
