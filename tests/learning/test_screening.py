"""Values that sit oddly among their own kind."""

import numpy as np
import pytest
from networks import build

from claywit.evidence.cases import Cases
from claywit.learning.screening import screen

NODES = {
    "kiln": {"states": ["a", "b"], "rows": [{"p": {"a": 0.5, "b": 0.5}}]},
    "size": {
        "measured": {"h": "mm"}, "parents": ["kiln"], "examine": {},
        "rows": [{"given": {"kiln": k}, "normal": {"mean": 5, "sd": 2}} for k in "ab"],
    },
}  # fmt: skip
MODEL = build("kilns", NODES)


def cases(values, kilns, model=MODEL):
    n = len(values)
    return Cases(
        model, tuple(f"p{i}" for i in range(n)), ("",) * n, np.arange(2, n + 2),
        {"kiln": np.array(kilns, dtype=np.int16)}, {"size": np.array(values, dtype=float)[:, None]},
        {"size": np.full((n, 1), np.nan)}, {},
    )  # fmt: skip


def drawn(seed, n=20):
    return np.round(np.random.default_rng(seed).normal(10, 1, n), 2)


def test_a_slip_is_flagged_with_what_the_others_have():
    values = drawn(1)
    values[7] = 1.02  # 10.2 with the point a place too far to the left
    (odd,) = screen(cases(values, [0] * 20), MODEL)
    assert (odd.name, odd.node, odd.measure, odd.value, odd.kind) == (
        "p7",
        "size",
        "h",
        1.02,
        (("kiln", "a"),),
    )
    others = np.delete(values, 7)
    assert odd.middle == pytest.approx(others.mean())
    assert odd.spread == pytest.approx(others.std(ddof=1))
    assert odd.sd_away == pytest.approx((others.mean() - 1.02) / others.std(ddof=1))
    assert odd.others == 19


def test_the_chance_is_that_of_a_t_test_of_one_against_the_rest():
    from scipy.stats import ttest_ind

    values = drawn(2)
    values[0] = 15.5
    odd = screen(cases(values, [0] * 20), MODEL)[0]
    against = ttest_ind(values[:1], values[1:], equal_var=True)
    assert odd.chance == pytest.approx(min(1.0, 20 * against.pvalue), rel=1e-9)


def test_one_slip_does_not_hide_another():
    values = drawn(3)
    values[[4, 5]] = 40.0, 2000.0
    assert {odd.name for odd in screen(cases(values, [0] * 20), MODEL)} == {"p4", "p5"}


def test_files_without_slips_are_seldom_flagged():
    flagged = sum(bool(screen(cases(drawn(seed), [0] * 20), MODEL)) for seed in range(400))
    assert flagged <= 400 * 0.05 + 3 * np.sqrt(400 * 0.05 * 0.95)


def test_a_value_is_held_against_its_own_kind_only():
    values = np.concatenate([drawn(4), drawn(5) + 50])
    assert screen(cases(values, [0] * 20 + [1] * 20), MODEL) == ()
    values[3] = 60.0
    assert [odd.name for odd in screen(cases(values, [0] * 20 + [1] * 20), MODEL)] == ["p3"]


def test_pieces_of_unknown_kind_and_small_kinds_are_left_alone():
    values = np.array([10.0, 10.1, 9.9, 99.0, 10.0, 10.2, 9.8, 10.1])
    assert screen(cases(values, [0, 0, 0, 0, -1, -1, -1, -1]), MODEL) == ()


def test_equal_values_leave_room_for_how_finely_they_were_written():
    values = np.array([10.0] * 9 + [10.1])
    assert screen(cases(values, [0] * 10), MODEL) == ()
    assert [
        odd.name for odd in screen(cases(np.array([10.0] * 8 + [10.1, 14.0]), [0] * 10), MODEL)
    ] == ["p9"]


def test_the_order_of_the_rows_changes_nothing():
    values = drawn(6)
    values[2] = 99
    block = cases(values, [0] * 20)
    order = np.random.default_rng(1).permutation(20)
    (one,), (other,) = screen(block, MODEL), screen(block.take(order), MODEL)
    assert (one.name, one.chance) == (other.name, pytest.approx(other.chance))
