import numpy as np
import pytest

from claywit.learning.moulds import bounds, coverage, estimates, sightings

# 107 pieces of 20 moulds, six of them met once and four twice.
WORKED = sightings([1] * 6 + [2] * 4 + [5] * 2 + [6, 7, 8, 9, 10, 11, 12, 20])


def test_the_worked_example_comes_out_as_by_hand():
    assert (WORKED.pieces, WORKED.moulds, WORKED.left(1), WORKED.left(2)) == (107, 20, 6, 4)
    good, carter, geometric, chao = estimates(WORKED)
    assert good.moulds == pytest.approx(107 * 20 / 101)
    assert carter.moulds == pytest.approx(2140 / (1.069 * 107 - 0.843 * 20))
    assert geometric.moulds == pytest.approx(2140 / 87)
    assert chao.moulds == pytest.approx(20 + 6 * 5 / (2 * 5))
    assert bounds(estimates(WORKED)) == (good.moulds, geometric.moulds)


def test_coverage_and_its_interval_are_those_of_good_and_esty():
    found = coverage(WORKED)
    reach = 1.959964 * np.sqrt((6 * 101 + 2 * 107 * 4) / 107**3)
    assert found.share == pytest.approx(101 / 107)
    assert found.low == pytest.approx(101 / 107 - reach)
    assert found.high == 1
    assert found.unseen.share == pytest.approx(6 / 107)
    assert found.unseen.low == 0


def test_good_s_interval_is_that_of_coverage_and_never_below_what_was_seen():
    good = estimates(WORKED)[0]
    assert good.low == 20
    assert good.high == pytest.approx(20 / coverage(WORKED).low)


@pytest.mark.parametrize(
    ("pieces", "a", "b"), [(30, 1.124, 1.016), (50, 1.214, 1.197), (70, 1.069, 0.843)]
)
def test_carter_changes_its_figures_with_the_pieces_a_mould(pieces, a, b):
    counts = [pieces // 20 + (1 if i < pieces % 20 else 0) for i in range(20)]
    assert estimates(sightings(counts))[1].moulds == pytest.approx(
        20 * pieces / (a * pieces - b * 20)
    )


def test_where_every_piece_is_of_another_mould_there_is_no_estimate():
    seen = sightings([1] * 9)
    assert [one.moulds for one in estimates(seen)] == [None] * 4
    assert bounds(estimates(seen)) is None
    assert coverage(seen).share == 0


def test_where_no_mould_was_met_once_coverage_still_has_a_lower_end_below_one():
    found = coverage(sightings([3] * 10))
    assert found.share == 1
    assert found.low == pytest.approx(0.05 ** (1 / 30))


def test_where_every_piece_is_of_another_mould_coverage_still_has_an_upper_end():
    """Of K moulds alike, n pieces are all of different ones with a chance near exp(-n (n - 1) / 2 K)."""
    assert coverage(sightings([1])).high == coverage(sightings([1] * 3)).high == 1
    found = coverage(sightings([1] * 101))
    moulds = round(101 / found.high)
    chance = np.prod(1 - np.arange(101) / moulds)
    assert chance == pytest.approx(0.05, abs=0.005)


def test_nothing_counted_has_no_coverage():
    with pytest.raises(ValueError, match="no piece"):
        coverage(sightings([]))


@pytest.mark.parametrize(("shape", "best"), [(None, 0), (2.0, 1), (1.0, 2)])
def test_each_estimate_is_right_for_its_own_assumption(shape, best):
    """30 moulds, 60 pieces: of equal lives, of gamma lives of shape 2, of exponential lives."""
    rng = np.random.default_rng(5)
    found = []
    for _ in range(600):
        lives = np.ones(30) if shape is None else rng.gamma(shape, size=30)
        counts = np.bincount(rng.choice(30, 60, p=lives / lives.sum()), minlength=30)
        found.append(estimates(sightings(counts.tolist()))[best].moulds)
    assert np.mean(found) == pytest.approx(30, abs=1.2)


def test_esty_s_interval_holds_the_true_coverage_about_nineteen_times_in_twenty():
    rng = np.random.default_rng(9)
    held = 0
    for _ in range(600):
        lives = rng.gamma(1.0, size=60)
        p = lives / lives.sum()
        counts = np.bincount(rng.choice(60, 120, p=p), minlength=60)
        found = coverage(sightings(counts.tolist()))
        held += found.low <= p[counts > 0].sum() <= found.high
    assert 0.91 <= held / 600 <= 0.99
