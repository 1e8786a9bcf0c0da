"""Parts of a set: no source in both, whatever the order of the rows."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from claywit.errors import CasesError
from claywit.learning.folds import by_group, in_parts, one_out
from claywit.learning.resampling import band, units

pieces = st.lists(
    st.tuples(st.sampled_from(["", "", "a", "b", "c", "d"]), st.sampled_from([f"p{i}" for i in range(25)]), st.integers(-1, 3)),
    min_size=4, max_size=40,
)  # fmt: skip


def split(rows):
    groups, names, truth = zip(*rows, strict=True)
    return groups, names, np.array(truth)


@given(pieces, st.integers(2, 4), st.integers(0, 5))
@settings(max_examples=80, deadline=None)
def test_no_group_and_no_name_is_in_both_parts_and_every_piece_is_judged_once(rows, count, seed):
    groups, names, truth = split(rows)
    if units(groups, names).max() + 1 < count:
        return
    for folds in (in_parts(groups, names, truth, count=count, seed=seed), one_out(groups, names)):
        judged = np.concatenate([fold.judge for fold in folds])
        assert sorted(judged) == list(range(len(rows)))
        for fold in folds:
            assert sorted([*fold.learn, *fold.judge]) == list(range(len(rows)))
            assert not {groups[i] for i in fold.learn if groups[i]} & {
                groups[i] for i in fold.judge if groups[i]
            }
            assert not {names[i] for i in fold.learn} & {names[i] for i in fold.judge}


def test_the_order_of_the_rows_does_not_set_who_goes_where():
    rng = np.random.default_rng(3)
    groups = [f"g{k}" if k < 6 else "" for k in rng.integers(0, 12, 60)]
    names = [f"p{i}" for i in range(60)]
    truth = rng.integers(0, 3, 60)

    def parts(order):
        folds = in_parts(
            [groups[i] for i in order], [names[i] for i in order], truth[order], count=5, seed=2
        )
        return [{names[order[i]] for i in fold.judge} for fold in folds]

    assert parts(np.arange(60)) == parts(rng.permutation(60))


def test_states_are_spread_over_the_parts():
    truth = np.array([0] * 20 + [1] * 10 + [2] * 5)
    folds = in_parts([""] * 35, [f"p{i}" for i in range(35)], truth, count=5, seed=1)
    for fold in folds:
        assert np.bincount(truth[fold.judge]).tolist() == [4, 2, 1]


def test_another_seed_parts_them_otherwise():
    args = ([""] * 30, [f"p{i}" for i in range(30)], np.zeros(30, dtype=int))
    one, other = (in_parts(*args, count=3, seed=s) for s in (1, 2))
    assert any((a.judge.tolist() != b.judge.tolist()) for a, b in zip(one, other, strict=True))


def test_one_piece_under_two_groups_joins_them():
    assert units(["a", "b", "b", ""], ["p", "p", "q", "r"]).tolist() == [0, 0, 0, 1]


def test_folds_by_group_leave_out_each_group_and_each_piece_of_none():
    folds = by_group(["x", "", "x", "y"], ["p", "q", "r", "s"])
    assert [fold.name for fold in folds] == ["x", "q", "y"]
    assert [fold.judge.tolist() for fold in folds] == [[0, 2], [1], [3]]


def test_what_cannot_be_parted_is_refused_with_the_way_out():
    with pytest.raises(CasesError, match="add a column `group`"):
        by_group(["", ""], ["p", "q"])
    with pytest.raises(CasesError, match="nothing is left to learn from"):
        by_group(["x", "x"], ["p", "q"])
    with pytest.raises(CasesError, match="5 folds of 2 sources; choose between 2 and 2"):
        in_parts(["", ""], ["p", "q"], np.array([0, 1]), count=5, seed=1)


def test_a_band_holds_the_truth_about_as_often_as_it_says():
    """The mean of 40 draws of a uniform variable: 300 sets, of which 95 % should hold 1/2."""
    rng = np.random.default_rng(11)
    held = 0
    for _ in range(300):
        x = rng.random(40)
        low, high = band(lambda w, x=x: w @ x / w.sum(axis=1), np.arange(40), rng, draws=300)
        held += low <= 0.5 <= high
    assert 0.90 <= held / 300 <= 0.98


def test_a_band_over_groups_is_wider_when_groups_are_alike_inside():
    rng = np.random.default_rng(4)
    x = np.repeat(rng.random(10), 8)

    def mean(w):
        return w @ x / w.sum(axis=1)

    def width(unit):
        low, high = band(mean, unit, np.random.default_rng(1))
        return high - low

    assert width(np.repeat(np.arange(10), 8)) > 2 * width(np.arange(80))


def test_one_source_has_no_band():
    assert band(lambda w: w.sum(axis=1), np.zeros(5, dtype=int), np.random.default_rng(1)) is None


def test_one_source_cannot_be_parted_and_is_told_so():
    with pytest.raises(CasesError, match="5 folds of 1 source; two at least are needed"):
        in_parts(("g", "g"), ("a", "b"), np.zeros(2, dtype=np.intp), count=5, seed=1)


def test_leaving_out_each_of_many_pieces_takes_no_room_of_their_square():
    names = [f"p{i}" for i in range(3000)]
    folds = one_out([""] * len(names), names)
    assert len(folds) == len(names)
    assert all(fold.part_of is folds[0].part_of for fold in folds)
    many = in_parts([""] * len(names), names, np.arange(len(names)) % 3, count=1500, seed=1)
    assert {len(fold.judge) for fold in many} == {2}
