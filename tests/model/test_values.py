"""Numbers are plain decimal numbers, and nothing is guessed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from claywit.model.quantities import UNITS, quantity
from claywit.model.values import number


@pytest.mark.parametrize(
    ("text", "value"),
    [("0", 0), ("-0.5", -0.5), ("1.", 1), (".5", 0.5), ("1e-3", 0.001), ("+2", 2)],
)
def test_plain_numbers_are_read(text, value):
    assert number(text) == value


@pytest.mark.parametrize(
    "text",
    [
        "nan",
        ".nan",
        "inf",
        "1e999",
        "1_000",
        "0x10",
        "017",
        "1,000.5",
        "",
        " 1",
        "1 ",
        "e5",
        ".",
        "-",
        "½",
        "١",
    ],
)
def test_anything_else_is_refused(text):
    with pytest.raises(ValueError, match=r"number|large"):
        number(text)


def test_a_decimal_comma_is_named_with_the_way_out():
    with pytest.raises(ValueError, match="'0,25' has a decimal comma; write 0.25 with a point"):
        number("0,25")


@pytest.mark.parametrize("value", [True, None, [1], {}, float("nan"), float("inf"), 10**400])
def test_values_that_are_no_finite_number_are_refused(value):
    with pytest.raises((ValueError, OverflowError)):
        number(value)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_written_out_is_read_back(value):
    assert number(repr(value)) == value


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("43.5 mm", "mm", 43.5),
        ("4.35 cm", "mm", 43.5),
        ("1 in", "mm", 25.4),
        ("250um", "mm", 0.25),
        ("0.25 kg", "g", 250),
        ("21 permille", "permille", 21),
        ("2.1 percent", "permille", 21),
    ],
)
def test_a_measure_is_converted_to_the_nodes_unit(text, unit, value):
    assert quantity(text, unit) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("43,5 mm", "decimal comma; write 43.5 with a point"),
        ("43.5", "has no unit; write 43.5 mm if it is in mm"),
        ("43.5 mn", "unit mn is not known; one of mm, cm, m, um, µm, in is expected"),
        ("43.5 furlong", "unit furlong is not known"),
        ("43.5 g", "is a mass; expected a value in mm"),
        ("about 43 mm", "is not a measure"),
        ("1e999 mm", "too large"),
        ("43.5 mm mm", "is not a measure"),
    ],
)
def test_a_measure_that_would_have_to_be_guessed_is_refused(text, said):
    with pytest.raises(ValueError, match="measure|unit|comma|mass|large") as raised:
        quantity(text, "mm")
    assert said in str(raised.value)


def test_every_unit_is_its_own_measure():
    for unit in UNITS:
        assert quantity(f"3 {unit}", unit) == 3
