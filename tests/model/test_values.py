"""Numbers are plain decimal numbers, and nothing is guessed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from claywit.model.quantities import UNITS, quantity
from claywit.model.schema import State
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
        "1٣",
        "0.٥",
    ],
)
def test_anything_else_is_refused(text):
    with pytest.raises(ValueError, match=r"number|large"):
        number(text)


def test_a_decimal_comma_is_named_with_the_way_out():
    with pytest.raises(ValueError, match=r"'0,25' has a decimal comma; write 0\.25 with a point"):
        number("0,25")


@pytest.mark.parametrize("value", [True, None, [1], {}, float("nan"), float("inf"), 10**400])
def test_values_that_are_no_finite_number_are_refused(value):
    with pytest.raises(ValueError, match="number"):
        number(value)


def test_a_wrong_value_is_named_in_words():
    with pytest.raises(ValueError, match=r"^a list is not a plain decimal number"):
        number([1])
    with pytest.raises(ValueError, match=r"^a mapping is not a plain decimal number"):
        number({"a": 1})
    with pytest.raises(ValueError, match=r"^'x{60}' is not a plain decimal number"):
        number("x" * 5000)


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
        ("6.1e1 mm", "mm", 61),
        ("5 µm", "um", 5),
        ("5 \u03bcm", "um", 5),
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
        ("1e308 in", "'1e308 in' is no size of a piece; check the number"),
        ("5each", "'5each': unit each is not known"),
        ("43.5 MM", "unit MM is not known"),
        ("\u0664\u0663 mm", "is not a plain decimal number"),
        ("", "is not a measure"),
    ],
)
def test_a_measure_that_would_have_to_be_guessed_is_refused(text, said):
    with pytest.raises(ValueError, match=r"measure|unit|comma|mass|large|number") as raised:
        quantity(text, "mm")
    assert said in str(raised.value)


def test_every_unit_is_its_own_measure():
    for unit in UNITS:
        assert quantity(f"3 {unit}", unit) == 3


@pytest.mark.parametrize(
    "date", ["", "1812", "1812/1846", "1951/..", "../1780", "1890~/1912~", "1964?"]
)
def test_a_year_or_an_interval_of_years_is_a_date(date):
    assert State(name="P1", date=date).date == date


@pytest.mark.parametrize(
    "date",
    [
        "c. 1812",
        "1812-1846",
        "19th century",
        "12/04/1985",
        "1812/46",
        "/",
        "..",
        "../..",
        "1846/1812",
        "\u0661\u0668\u0661\u0662",
    ],
)
def test_a_date_that_would_have_to_be_guessed_is_refused(date):
    with pytest.raises(ValidationError, match=r"is no date; write a year|ends before it begins"):
        State(name="P1", date=date)
