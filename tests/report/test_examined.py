"""How readings agree, in words: all and none only where it is so, and no sign on a zero."""

import numpy as np
import pytest
from faults.answering import printed

from claywit.learning.examiners import examine
from claywit.learning.readings import Collected, Reading
from claywit.report.examined import CAUTIONS, Examined, trait_read
from claywit.report.examined_text import show_examined
from claywit.report.numbers import decimals, of_hundred, seen_share


def said(rows):
    collected = Collected(None)
    collected.add_all([Reading(*row) for row in rows])
    traits = tuple(trait_read(examine(one, seed=1, prior=1.0), None) for one in collected.traits())
    answer = Examined(seed=1, prior=1, read=1, used=1, rejected=0, traits=traits, cautions=CAUTIONS)
    return printed(show_examined, answer)


def test_examiners_who_always_agree_are_said_to_agree_on_all_and_not_on_100_percent():
    text = said(
        [(f"p{i}", who, "rim", "flat" if i % 2 else "round") for i in range(40) for who in "AB"]
    )
    assert "100 %" not in text
    assert " all " in text.splitlines()[2]


@pytest.mark.parametrize(
    ("share", "words"),
    [(1, "all"), (0, "none"), (0.9996, "over 99 %"), (0.004, "under 1 %"), (0.5, "50 %")],
)
def test_a_share_that_was_counted_is_all_only_where_it_is(share, words):
    assert seen_share(share) == words


def test_a_share_that_is_nearly_all_is_kept_as_it_is():
    rows = [
        (f"p{i}", who, "rim", "flat" if i or who == "A" else "round")
        for i in range(3000)
        for who in "AB"
    ]
    collected = Collected(None)
    collected.add_all([Reading(*row) for row in rows])
    (one,) = collected.traits()
    assert trait_read(examine(one, seed=1, prior=1.0), None).pairs[0].agreeing.value == 1 - 1 / 3000


def test_no_cell_of_a_matrix_says_never_or_always():
    assert [of_hundred(p) for p in (0.0001, 0.5, 0.9999)] == ["<0.1", "50.0", ">99.9"]


def test_a_coefficient_a_hair_below_zero_has_no_sign():
    assert [decimals(x, 2) for x in (-0.001, -0.006, float(np.float64(0.001)))] == [
        "0.00",
        "−0.01",
        "0.00",
    ]


def test_a_kappa_below_zero_has_the_same_sign_in_the_remark_as_in_the_table():
    pairs = {"A": "xxxxxxxxxxxxxxxxxxxy", "B": "xxxxxxxxxxxxxxxxxxyx"}
    text = said(
        [(f"p{i}", who, "rim", s) for who, all_ in pairs.items() for i, s in enumerate(all_)]
    )
    assert "Kappa (−0.05)" in " ".join(text.split())
    assert "-0" not in text
