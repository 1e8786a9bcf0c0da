import networks
import numpy as np
import pytest
from learnt import cases

from claywit.learning.fit import fit
from claywit.learning.unseen import by_state, opened

BODY = {
    "shop": {"states": ["W", "V"], "rows": [{"p": {"W": 0.5, "V": 0.5}, "n": 10}]},
    "mould": {
        "states": {"M1": None, "M2": None, "M3": None, "M4": None, "M0": {"open": "true"}},
        "parents": ["shop"],
        "rows": [
            {"given": {"shop": "W"}, "p": {"M1": 0.5, "M2": 0.45, "M0": 0.05}, "n": 10},
            {"given": {"shop": "V"}, "p": {"M3": 0.5, "M4": 0.4, "M0": 0.1}, "n": 10},
        ],
    },
}
MODEL = networks.build("unseen", BODY, targets=["mould", "shop"])


def with_row(second):
    """The model with another second row of moulds."""
    mould = {**BODY["mould"], "rows": [BODY["mould"]["rows"][0], second]}
    return networks.build("unseen", {**BODY, "mould": mould}, targets=["mould", "shop"])


def file(**counts):
    shop = {"M1": "W", "M2": "W", "M3": "V", "M4": "V", "M0": "V"}
    return cases(
        MODEL, [{"mould": m, "shop": shop[m]} for m, k in counts.items() for _ in range(k)]
    )


def test_an_open_state_gets_the_share_that_the_file_leaves_uncovered():
    read = file(M1=20, M2=1, M3=18, M4=1)
    found = fit(MODEL, read)
    new, (one,) = opened(found.start.numbers, found.numbers, read)
    assert (one.named.pieces, one.named.left(1), one.recorded) == (40, 2, 0)
    assert one.covered.unseen.share == pytest.approx(2 / 40)
    assert one.elicited == pytest.approx(0.075)
    target = (10 * 0.075 + 2) / (10 + 40)
    assert one.counted < target
    assert one.share == pytest.approx(target, abs=1e-9)
    rows = new.shares["mould"]
    assert rows.sum(axis=1) == pytest.approx([1, 1])
    odds = [r[:, 4] / (1 - r[:, 4]) for r in (found.numbers.shares["mould"], rows)]
    assert odds[1] / odds[0] == pytest.approx(np.full(2, odds[1][0] / odds[0][0]))


def test_named_states_keep_their_shares_among_themselves():
    read = file(M1=20, M2=1, M3=18, M4=1)
    found = fit(MODEL, read)
    new, _ = opened(found.start.numbers, found.numbers, read)
    before, after = found.numbers.shares["mould"], new.shares["mould"]
    assert after[0, 0] / after[0, 1] == pytest.approx(before[0, 0] / before[0, 1])


def test_counting_that_holds_an_open_state_higher_is_left_alone():
    """The row that is at work was elicited at 10 % from a thousand pieces."""
    read = file(M1=1, M3=30)
    sure = with_row({**BODY["mould"]["rows"][1], "n": 1000})
    found = fit(sure, read)
    new, (one,) = opened(found.start.numbers, found.numbers, read)
    assert one.named.left(1) == 1
    assert one.counted > one.target
    assert new is found.numbers
    assert one.share == one.counted


def test_a_file_in_which_no_state_was_seen_once_raises_nothing():
    read = file(M1=15, M2=5, M3=15, M4=5)
    found = fit(MODEL, read)
    new, (one,) = opened(found.start.numbers, found.numbers, read)
    assert one.share == one.counted
    assert new is found.numbers


def test_few_pieces_say_nothing_of_coverage():
    read = file(M1=10, M2=1)
    found = fit(MODEL, read)
    assert opened(found.start.numbers, found.numbers, read) == (found.numbers, ())


def test_pieces_are_counted_by_the_states_of_the_targets():
    assert by_state(MODEL, file(M1=2, M0=1)) == {
        "mould": {"M1": 2, "M0": 1},
        "shop": {"W": 2, "V": 1},
    }


def test_an_exact_row_stays_and_the_share_that_is_told_is_that_of_the_model():
    known = with_row({"given": {"shop": "V"}, "p": {"M3": 0.5, "M4": 0.48, "M0": 0.02}})
    read = file(M1=20, M2=1, M3=18, M4=1)
    found = fit(known, read)
    new, (one,) = opened(found.start.numbers, found.numbers, read)
    rows, shops = new.shares["mould"], new.shares["shop"][0]
    assert rows[1] == pytest.approx([0, 0, 0.5, 0.48, 0.02], abs=1e-15)
    assert one.share == pytest.approx(one.target, abs=1e-9)
    assert one.share == pytest.approx(float(shops @ rows[:, 4]), abs=1e-12)
    assert one.share > one.counted
