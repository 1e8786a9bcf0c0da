"""Numbers on their way out keep their digits for files and their sense for people."""

import re
from math import exp, log, log10

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from claywit.model.dates import period
from claywit.report import numbers


def test_a_probability_is_written_at_twelve_significant_digits():
    assert numbers.decimal(log(1 / 3)) == "0.333333333333"
    assert numbers.decimal(log(0.25)) == "0.250000000000"
    assert numbers.decimal(-100.0) == "3.72007597602e-44"


def test_what_is_excluded_is_written_as_a_bare_zero():
    assert numbers.decimal(-np.inf) == "0"


def test_a_weight_is_never_minus_zero():
    assert str(numbers.bans(-1e-15)) == "0.0"
    assert numbers.signed_bans(-0.00001) == "≈ 0"


def test_a_posterior_next_to_one_keeps_its_odds():
    first, second = numbers.log10_odds(np.log([1.0, 1e-14]))
    assert first == pytest.approx(14, abs=1e-9)
    assert second == pytest.approx(-14, abs=1e-9)


def test_the_odds_of_a_state_are_those_against_all_others_together():
    odds = numbers.log10_odds(np.log([0.5, 0.3, 0.2]))
    assert odds == pytest.approx([0.0, log10(0.3 / 0.7), log10(0.2 / 0.8)], abs=1e-9)


def test_an_excluded_state_has_no_odds():
    with np.errstate(divide="ignore"):
        assert numbers.log10_odds(np.log([1.0, 0.0])) == [None, None]


@given(st.floats(0, 1))
def test_no_probability_is_shown_as_nothing_or_as_certain(p):
    shown = numbers.percent(p)
    assert shown.endswith("%")
    assert not re.match(r"(0|100)(\.0)?%", shown)


@given(st.floats(-12, 12))
def test_odds_are_said_with_the_larger_number_first_to_one(bans):
    said = numbers.times(numbers.factor(bans))
    larger = said.endswith(" to 1") if bans >= 0 else said.startswith(("1 to ", "less than 1 to"))
    assert larger or (said == "even" and abs(bans) < 0.022)


@given(st.floats(-700, 0))
def test_a_decimal_reads_back_within_twelve_digits(log_p):
    assert float(numbers.decimal(log_p)) == pytest.approx(exp(log_p), rel=1e-11)


@pytest.mark.parametrize(
    ("edtf", "said"),
    [
        ("1812/1846", "1812–1846"),
        ("1951/..", "from 1951"),
        ("../1811", "until 1811"),
        ("1871", "1871"),
    ],
)
def test_a_date_interval_is_said_as_people_write_it(edtf, said):
    assert period(edtf) == said


@pytest.mark.parametrize(
    ("ratio", "said"),
    [
        (None, "beyond any figure"),
        (1e9, "more than 1,000 to 1"),
        (1000, "1,000 to 1"),
        (999.6, "1,000 to 1"),
        (389, "390 to 1"),
        (67.3, "67 to 1"),
        (1.69, "1.7 to 1"),
        (1, "even"),
        (1 / 1.69, "1 to 1.7"),
        (1 / 5155, "less than 1 to 1,000"),
    ],
)
def test_odds_have_two_digits_and_end_where_percentages_do(ratio, said):
    assert numbers.times(ratio) == said


def test_odds_that_pieces_were_counted_for_may_be_larger():
    assert numbers.times(19_700, 1_000_000) == "20,000 to 1"


def test_odds_that_no_double_holds_still_have_an_end_and_a_side():
    assert numbers.odds_said(None, 4e9) == "more than 1,000 to 1"
    assert numbers.odds_said(None, -4e9) == "less than 1 to 1,000"
    assert numbers.odds_said(None, None) == "beyond any figure"
