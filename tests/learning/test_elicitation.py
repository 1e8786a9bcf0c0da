"""From lowest, best and highest of a hundred to shares and an n."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from small import SHOPS, model

from claywit.errors import ModelError
from claywit.learning.asking import questions
from claywit.learning.elicitation import (
    Counts,
    IncoherentError,
    answer_of,
    fit_dirichlet,
    levels_of,
    rounded,
)


def fitted(counts, states="", confidence=90, rest=""):
    said = {state: Counts(*numbers) for state, numbers in counts.items()}
    answer = answer_of(tuple(states or counts), said, confidence, rest)
    return answer, fit_dirichlet(answer.quantiles, answer.levels)


def exact(shares, n, confidence=90):
    """The quantiles of the Beta margins of a Dirichlet, by scipy."""
    own = np.array(shares)[:, np.newaxis]
    return stats.beta.ppf(levels_of(confidence), n * own, n * (1 - own))


@settings(max_examples=25, deadline=None)
@given(
    raw=st.lists(st.floats(0.5, 10), min_size=2, max_size=6),
    n=st.floats(4, 200),
    confidence=st.sampled_from([50, 80, 90, 95]),
)
def test_the_quantiles_of_a_dirichlet_give_it_back(raw, n, confidence):
    shares = np.array(raw) / sum(raw)
    found = fit_dirichlet(exact(shares, n, confidence), levels_of(confidence))
    assert found.shares == pytest.approx(shares, rel=1e-3)
    assert found.n == pytest.approx(n, rel=5e-3)


def test_a_range_from_a_sample_of_14_is_said_to_fit_14_pieces():
    """Beta(7, 7) has 5 % below 28.7 and above 71.3 of 100 (scipy)."""
    low, best, high = 100 * exact([0.5, 0.5], 14)[0]
    _, found = fitted({"a": (low, best, high)}, states="ab")
    assert found.n == pytest.approx(14, rel=1e-3)
    assert found.shares == pytest.approx([0.5, 0.5], abs=1e-6)


def test_surer_of_the_same_range_means_more_pieces():
    ns = [fitted({"a": (10, 20, 35)}, "ab", confidence)[1].n for confidence in (50, 80, 95)]
    assert ns == sorted(ns)
    assert ns[2] > 3 * ns[0]


def test_the_state_left_open_takes_the_rest():
    """Of 100 less the best guesses, 50; a little less, as the mean of a skewed range lies above."""
    answer, found = fitted({"a": (10, 20, 35), "b": (20, 30, 45)}, states="abc")
    assert answer.rest == "c"
    assert found.shares[2] == pytest.approx(0.5, abs=0.03)


def test_best_guesses_that_add_to_112_are_brought_to_100_within_the_ranges():
    answer, found = fitted({"a": (10, 20, 35), "b": (30, 50, 70), "c": (20, 42, 60)})
    assert answer.best_sum == 112
    assert found.shares.sum() == pytest.approx(1)
    for (low, _, high), share in zip(100 * answer.quantiles, 100 * found.shares, strict=True):
        assert low < share < high


def test_one_narrow_range_does_not_make_a_row_of_wide_ones_sure():
    """Alone 1 to 4 would fit some 260 pieces, 20 to 40 some 55; the row stays below their mean."""
    _, found = fitted({"a": (1, 2, 4), "b": (20, 30, 40)}, states="abc")
    margins = found.margins[:2]
    assert margins.max() > 4 * margins.min()
    assert margins.min() < found.n < margins.mean() / 1.5


def test_zero_zero_zero_rules_a_state_out():
    answer, found = fitted({"a": (0, 0, 0), "b": (20, 30, 45), "c": (50, 70, 85)})
    assert answer.states == ("b", "c")
    assert found.shares.sum() == pytest.approx(1)


def test_a_best_guess_of_none_is_not_an_exclusion():
    _, found = fitted({"a": (0, 0, 3)}, states="ab")
    assert 0.001 < found.shares[0] < 0.02
    assert found.fitted[0][2] == pytest.approx(0.03, rel=0.02)


def test_anything_is_possible_means_one_piece():
    _, found = fitted({"a": (0, 50, 100)}, states="ab")
    assert found.n == pytest.approx(1, abs=0.01)


def test_turning_a_question_round_gives_the_same_row():
    _, one = fitted({"a": (5, 20, 35)}, states="ab")
    _, other = fitted({"b": (65, 80, 95)}, states="ab")
    assert one.shares == pytest.approx(other.shares, abs=1e-6)
    assert one.n == pytest.approx(other.n, rel=1e-5)


@pytest.mark.parametrize(
    ("counts", "message"),
    [
        ({"a": (60, 70, 80), "b": (50, 60, 70)}, "lowest numbers alone add to 110 of 100"),
        ({"a": (5, 10, 20), "b": (5, 10, 20)}, "highest numbers add to only 40 of 100"),
        ({"a": (20, 20, 30), "b": (60, 80, 90)}, "a: lowest and best are both 20"),
        ({"a": (20, 30, 30), "b": (60, 80, 90)}, "a: highest and best are both 30"),
        ({"a": (30, 30, 30), "b": (60, 70, 80)}, "which leaves no doubt; widen the range"),
        ({"a": (-1, 30, 40), "b": (60, 70, 80)}, "a: -1 of 100; write a number from 0 to 100"),
        ({"a": (10, 30, 140), "b": (60, 70, 80)}, "a: 140 of 100"),
        ({"a": (0, 0, 0), "b": (50, 90, 100)}, "only b is left possible"),
    ],
)
def test_numbers_that_cannot_all_hold_are_refused_by_name(counts, message):
    with pytest.raises(IncoherentError, match=message):
        fitted(counts)


def test_best_guesses_that_leave_nothing_for_the_open_state_are_refused():
    with pytest.raises(IncoherentError, match="best guesses add to 100 of 100"):
        fitted({"a": (20, 40, 60), "b": (40, 60, 80)}, states="abc")


def test_two_states_left_open_are_refused():
    with pytest.raises(IncoherentError, match="no numbers for b and c"):
        fitted({"a": (20, 40, 60)}, states="abc")


@given(st.lists(st.floats(1e-9, 1), min_size=2, max_size=9))
def test_rounded_shares_add_to_one_and_none_is_zero(raw):
    shares = np.array(raw) / sum(raw)
    found = rounded("abcdefghi"[: len(raw)], shares)
    assert round(sum(found.values()), 9) == 1
    assert min(found.values()) >= 0.0001


def test_more_states_than_can_be_fitted_at_once_are_refused():
    """120 took four seconds, and ten times as many take a thousand times as long."""
    counts = {f"s{i}": Counts(0, 1, 9) for i in range(101)}
    with pytest.raises(IncoherentError, match="101 states; at most 100 are fitted at once"):
        answer_of(list(counts), counts, 90)
    states = [f"s{i}" for i in range(101)]
    text = SHOPS.replace("[bevelled, flat]", f"[{', '.join(states)}]")
    for row in ("{bevelled: 0.8, flat: 0.2}", "{bevelled: 0.1, flat: 0.9}"):
        text = text.replace(row, f"{{{', '.join(f'{s}: {1 / 101}' for s in states)}}}")
    with pytest.raises(
        ModelError, match="rim, given shop=north: 101 states; a question is about 100"
    ):
        questions(model(text))
    assert questions(model(text), ["mark"])


@pytest.mark.parametrize("hair", [1e-300, 1e-160, 1e-30, 1e-9])
def test_a_range_of_a_hair_gives_numbers_and_as_many_pieces_as_any_range_may(hair):
    _, found = fitted({"a": (0, hair, 10 * hair)}, "ab")
    assert found.n == pytest.approx(1000)
    assert np.isfinite(found.fitted).all()
    assert found.shares[0] < 1e-4
