"""Repeated readings: agreement, confusion matrices, and what is said of them."""

import warnings

import numpy as np
import pytest
from scipy.optimize import minimize
from sklearn.metrics import cohen_kappa_score

from claywit.errors import CasesError
from claywit.learning import kappa
from claywit.learning.dawid_skene import estimate
from claywit.learning.examiners import examine
from claywit.learning.readings import Collected, Reading
from claywit.records.readings import read_readings
from claywit.records.rejects import Rejects
from claywit.report.examined import trait_read


def drawn(pieces, matrices, shares, seed=1):
    """Truth and one reading of each piece by each examiner, shape (pieces, examiners)."""
    rng = np.random.default_rng(seed)
    truth = rng.choice(len(shares), size=pieces, p=shares)
    read = [[rng.choice(len(shares), p=matrix[t]) for matrix in matrices] for t in truth]
    return truth, np.array(read)


def counted(read, states):
    return (read[:, :, np.newaxis] == np.arange(states)).astype(float)


def gathered(rows, model=None):
    collected = Collected(model)
    assert [collected.add_all([Reading(*row)]) for row in rows] == [""] * len(rows)
    return list(collected.traits())


def told(rows, **more):
    (only,) = gathered(rows)
    return trait_read(examine(only, seed=1, prior=1.0, **more), None)


@pytest.mark.parametrize(("power", "weights"), [(0, None), (1, "linear"), (2, "quadratic")])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_kappa_is_that_of_scikit_learn(power, weights, seed):
    one, other = np.random.default_rng(seed).integers(0, 4, size=(2, 50))
    table = np.zeros((4, 4))
    np.add.at(table, (one, other), 1)
    found = kappa.cohen(table, power)
    expected = cohen_kappa_score(one, other, labels=range(4), weights=weights)
    assert float(found) == pytest.approx(expected, abs=1e-12)


def test_kappa_has_no_value_where_all_readings_are_one_state():
    assert np.isnan(kappa.cohen(np.array([[9.0, 0.0], [0.0, 0.0]])))


def test_two_examiners_of_each_piece_alike_give_alpha_one():
    counts = np.array([[2.0, 0], [0, 2], [2, 0]])
    assert float(kappa.alpha(kappa.coincidences(counts).sum(axis=0))) == 1


def test_the_interval_comes_close_to_the_published_one_of_a_formula():
    """SAS, in statsmodels' test_inter_rater.py: .2137 to .7547, by the asymptotic error, n = 19."""
    table = np.array([[0, 4, 1], [0, 8, 0], [0, 1, 5]])
    pieces = np.repeat(np.eye(9).reshape(9, 3, 3), table.ravel(), axis=0)
    found = kappa.interval(kappa.resampled(pieces, np.random.default_rng(1)), kappa.cohen)
    assert found == pytest.approx((0.2137, 0.7547), abs=0.08)


def test_the_interval_covers_the_kappa_behind_the_readings_nineteen_times_in_twenty():
    """200 sets of 80 pieces; 95 % is 190, and 177 lies three standard errors below it."""
    matrix = np.array([[0.9, 0.1], [0.2, 0.8]])
    shares = np.array([0.6, 0.4])
    true = float(kappa.cohen(np.einsum("t,ti,tj->ij", shares, matrix, matrix)))
    hits = 0
    for seed in range(200):
        _, read = drawn(80, [matrix, matrix], shares, seed)
        pieces = np.einsum("pi,pj->pij", *counted(read, 2).transpose(1, 0, 2))
        draws = kappa.resampled(pieces, np.random.default_rng(seed), 400)
        low, high = kappa.interval(draws, kappa.cohen)
        hits += low <= true <= high
    assert hits >= 177


def test_no_interval_is_given_where_many_draws_leave_kappa_without_a_value():
    pieces = np.repeat(np.eye(4).reshape(4, 2, 2), [20, 1, 0, 0], axis=0)
    assert kappa.interval(kappa.resampled(pieces, np.random.default_rng(1)), kappa.cohen) is None


MATRICES = [
    np.array([[0.9, 0.08, 0.02], [0.1, 0.8, 0.1], [0.05, 0.15, 0.8]]),
    np.array([[0.7, 0.2, 0.1], [0.05, 0.9, 0.05], [0.1, 0.1, 0.8]]),
    np.array([[0.85, 0.1, 0.05], [0.2, 0.7, 0.1], [0.0, 0.1, 0.9]]),
    np.array([[0.8, 0.1, 0.1], [0.1, 0.8, 0.1], [0.1, 0.1, 0.8]]),
]
SHARES = np.array([0.5, 0.3, 0.2])


def test_confusion_matrices_are_found_again_without_any_known_truth():
    """4,000 pieces: the rarest state stands behind some 800 readings of each, error near .02."""
    _, read = drawn(4000, MATRICES, SHARES)
    found = estimate(counted(read, 3))
    assert found.converged
    assert found.shares == pytest.approx(SHARES, abs=0.03)
    assert found.matrices == pytest.approx(np.array(MATRICES), abs=0.06)


def test_known_truths_are_kept_and_give_the_plain_shares():
    truth, read = drawn(200, MATRICES[:1], SHARES)
    found = estimate(counted(read, 3), truth)
    assert found.pieces.argmax(axis=1).tolist() == truth.tolist()
    table = np.zeros((3, 3))
    np.add.at(table, (truth, read[:, 0]), 1)
    assert found.matrices[0] == pytest.approx(table / table.sum(axis=1, keepdims=True))


def test_no_climb_by_scipy_from_the_estimate_finds_a_better_one():
    _, read = drawn(300, MATRICES[:3], SHARES, seed=7)
    counts = counted(read, 3)
    found = estimate(counts)

    def softmax(x):
        e = np.exp(x - x.max(axis=-1, keepdims=True))
        return e / e.sum(axis=-1, keepdims=True)

    def loss(x):
        shares, matrices = softmax(x[:3]), softmax(x[3:].reshape(3, 3, 3))
        joint = shares * np.exp(np.einsum("iel,ejl->ij", counts, np.log(matrices + 1e-300)))
        return -np.log(joint.sum(axis=1)).sum()

    start = np.log(np.concatenate([found.shares, found.matrices.ravel()]) + 1e-6)
    climbed = minimize(loss, start, method="L-BFGS-B", options={"maxfun": 20_000})
    assert -climbed.fun <= found.log_likelihood + 0.01


def test_a_prior_leaves_no_cell_at_zero():
    counts = counted(np.zeros((5, 3), dtype=int), 2)
    assert estimate(counts, prior=1.0).matrices.min() > 0


def test_an_examiner_who_never_met_a_state_is_said_to_read_it_evenly():
    truth = np.zeros(6, dtype=int)
    found = estimate(counted(np.zeros((6, 1), dtype=int), 2), truth)
    assert found.matrices[0, 1].tolist() == [0.5, 0.5]


def agree(pieces=40, examiners="ABC", states=("x", "y")):
    return [(f"p{i}", e, "t", states[i % len(states)]) for i in range(pieces) for e in examiners]


def test_readings_of_one_examiner_in_two_turns_are_a_pair_of_his_own():
    rows = [(f"p{i}", "A", "t", "xy"[i % 2], turn) for i in range(30) for turn in ("1", "2")]
    (pair,) = told(rows).pairs
    assert (pair.one, pair.other, pair.again, pair.pieces) == ("A", "A", True, 30)
    assert pair.kappa.value == 1


def test_not_visible_counts_nowhere_and_is_said():
    rows = [*agree(), ("p0", "D", "t", "not_visible")]
    found = told(rows)
    assert found.hidden == 1
    assert found.states == ("x", "y")
    assert "Once the trait could not be seen" in " ".join(found.remarks)


def test_weighted_kappa_is_given_for_an_ordered_trait_only():
    rows = agree(states=("1", "2", "10"))
    assert told(rows).pairs[0].linear is None
    found = told(rows, ordered=True)
    assert found.pairs[0].linear.value == found.pairs[0].quadratic.value == 1


def test_without_a_model_states_that_are_numbers_stand_in_their_order():
    assert told(agree(states=("10", "2", "1"))).states == ("1", "2", "10")


def test_fleiss_needs_every_piece_read_equally_often():
    assert told(agree()).panel.fleiss.value == 1
    assert told([*agree(), ("p0", "D", "t", "x")]).panel.fleiss is None


def test_one_state_in_most_readings_is_said_to_mislead_kappa():
    rows = agree(pieces=38, states=("x",))
    rows += [
        ("q1", "A", "t", "x"),
        ("q1", "B", "t", "y"),
        ("q2", "A", "t", "y"),
        ("q2", "B", "t", "x"),
    ]
    said = " ".join(told(rows).remarks)
    assert "of the readings are of one state" in said
    assert "though 95 % agree" in said


def test_truth_by_consensus_and_few_pieces_are_said():
    said = " ".join(told(agree(pieces=8)).remarks)
    assert "Only 8 pieces were read twice or more" in said
    assert "only what the examiners agree on" in said
    assert "x: about 4.0 pieces were truly so" in said


def test_two_examiners_without_truth_give_no_matrix():
    found = told(agree(examiners="AB"))
    assert found.matrices == ()
    assert "whose slip a difference is cannot be told" in " ".join(found.remarks)


def test_two_examiners_with_the_truth_of_thirty_pieces_give_matrices():
    rows = [*agree(examiners="AB"), *[(f"p{i}", "truth", "t", "xy"[i % 2]) for i in range(30)]]
    found = told(rows)
    assert [matrix.name for matrix in found.matrices] == ["A_t", "B_t"]
    assert "of 10 of 40 pieces" in " ".join(found.remarks)


def test_matrices_have_rows_that_add_to_one_and_no_zero():
    for matrix in told(agree()).matrices:
        for row in matrix.p.values():
            assert round(sum(row.values()), 9) == 1
            assert min(row.values()) > 0


def test_examiners_whose_names_are_alike_in_plain_letters_get_names_of_their_own():
    names = [matrix.name for matrix in told(agree(examiners=["Å", "Ä", "7"])).matrices]
    assert len(set(names)) == 3
    assert all(name[0].isalpha() for name in names)


def test_the_same_seed_gives_the_same_intervals():
    assert told(agree(12)) == told(agree(12))


def file_of(folder, text):
    path = folder / "readings.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_a_column_for_each_trait_says_the_same_as_a_line_for_each_reading(tmp_path):
    long = file_of(tmp_path, "piece,examiner,trait,state\np,A,rim,flat\np,A,mark,absent\n")
    one = list(read_readings(long, None, Rejects(None)).traits())
    wide = file_of(tmp_path, "piece;examiner;rim;mark\np;A;flat;absent\nq;A;;\n")
    other = list(read_readings(wide, None, Rejects(None)).traits())
    assert [(r.trait, r.pieces, r.states) for r in one] == [
        (r.trait, r.pieces, r.states) for r in other
    ]


def test_a_line_is_used_whole_or_not_at_all_and_the_account_balances(tmp_path):
    text = "piece,examiner,turn,rim,mark\np,A,1,flat,absent\np,A,1,flat,absent\nq,A,1,flat\n,A,1,flat,\n"
    path, rejected = file_of(tmp_path, text), tmp_path / "rejects.csv"
    with Rejects(rejected) as rejects:
        found = list(read_readings(path, None, rejects).traits())
    assert (rejects.account.read, rejects.account.used, rejects.account.rejected) == (4, 1, 3)
    assert [len(r.state) for r in found] == [1, 1]
    reasons = rejected.read_text().splitlines()
    assert "before in the file; tell readings apart in a column `turn`" in reasons[1]
    assert "4 cells, and the first line names 5 columns" in reasons[2]
    assert "no piece; name it" in reasons[3]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "1: no column piece"),
        ("piece,rim\np,flat\n", "1: no column examiner"),
        ("piece,examiner,state\n", "1: no column trait"),
        ("piece,examiner,rim,rim\n", "1: column rim stands twice"),
        ("piece,examiner,,rim\n", "1: a column has no name"),
        (b"piece,examiner,rim\np,A,\xff\n", "2: not UTF-8"),
        (b"piece,examiner,rim\np,A,\0\n", "2: holds a NUL"),
        ('piece,examiner,rim\np,A,"flat\n', "not readable as CSV"),
        ("piece,examiner,rim\np,A," + "x" * 200_000, "2: a line of more than 100,000 bytes"),
        ("piece,examiner,trait,state\np,A,t,x\np,A,t,y\n", "3: p: A read t of p before"),
        ("piece,examiner,trait,state\np,truth,t,x\np,truth,t,y\n", "3: p: the truth of t of p was given otherwise"),
        ("piece,examiner,trait,state\np,truth,t,not_visible\n", "2: p: the truth of t cannot be not_visible"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_refused_with_its_line(tmp_path, text, message):
    with pytest.raises(CasesError, match=rf"readings\.csv:.*{message}"):
        read_readings(file_of(tmp_path, text), None, Rejects(None))


def test_what_fills_memory_is_refused_before_it_does():
    (only,) = gathered([(f"p{i}", "A", "t", f"s{i % 30}") for i in range(30)])
    crowd = type(only)(**{**vars(only), "pieces": tuple(map(str, range(100_000)))})
    with pytest.raises(CasesError, match="too many at once; take a sample"):
        crowd.counts()


def test_no_warning_is_raised_by_a_trait_that_nobody_saw():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = told([(f"p{i}", e, "t", "not_visible") for i in range(4) for e in "ABC"])
    assert found.matrices == ()
    assert "nobody could see the trait" in " ".join(found.remarks)
