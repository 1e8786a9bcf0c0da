"""Every form in which a finding can be written, and what it means on a model."""

import pytest
from small import examined, model
from tablet import TABLET, only

from claywit.evidence.findings import Measure


@pytest.fixture(scope="module")
def tablet():
    return model(TABLET)


def test_a_bare_state_is_a_certain_reading(tablet):
    finding = only(tablet, "{rim: flat}")
    assert (finding.state, finding.sure) == ("flat", None)


def test_the_long_form_keeps_its_remarks(tablet):
    finding = only(
        tablet, "{rim: {state: flat, sure: 0.9, method: lens 10x, where: left, note: worn}}"
    )
    assert (finding.sure, finding.method, finding.where, finding.note) == (
        0.9,
        "lens 10x",
        "left",
        "worn",
    )


def test_sure_of_1_is_a_certain_reading(tablet):
    assert only(tablet, "{rim: {state: flat, sure: 1}}").sure is None


def test_sure_of_1_is_kept_where_it_replaces_the_error_in_the_rows(tablet):
    assert only(tablet, "{back: {state: twill, sure: 1}}").sure == 1


def test_sure_just_at_a_guess_is_taken(tablet):
    assert only(tablet, "{net: {state: none, sure: 0.5}}").sure == 0.5


def test_a_reading_matrix_is_named(tablet):
    assert only(tablet, "{rim: {state: flat, reading: H}}").matrix == "H"


def test_a_likelihood_is_scaled_to_its_largest(tablet):
    finding = only(tablet, "{rim: {likelihood: {flat: 4, round: 1, hollow: 0}}}")
    assert finding.likelihood == {"flat": 1.0, "round": 0.25, "hollow": 0.0}


def test_other_stands_for_the_states_not_named(tablet):
    finding = only(tablet, "{rim: {likelihood: {flat: 1, other: 0.2}}}")
    assert finding.likelihood == {"flat": 1.0, "round": 0.2, "hollow": 0.2}


@pytest.mark.parametrize("form", ["not_visible", "{not_visible: thick coat}"])
def test_not_visible_is_a_finding(tablet, form):
    assert only(tablet, f"{{rim: {form}}}").not_visible


@pytest.mark.parametrize(
    ("form", "measure"),
    [
        ("6.1 mm", Measure(value=6.1)),
        ("0.61 cm", Measure(value=6.1)),
        ("{value: 6.1 mm, u: 0.1 mm}", Measure(value=6.1, u=0.1)),
        ("{thickness: 6.1 mm}", Measure(value=6.1)),
        ("{below: 5 mm}", Measure(high=5)),
        ("{above: 5 mm}", Measure(low=5)),
        ("{between: [5 mm, 6 mm]}", Measure(low=5, high=6)),
    ],
)
def test_a_measure_is_written_as_a_value_or_as_limits(tablet, form, measure):
    found = only(tablet, f"{{thickness: {form}}}").measures["thickness"]
    assert found.value == pytest.approx(measure.value)
    assert (found.u, found.low, found.high) == (measure.u, measure.low, measure.high)


def test_one_of_two_measures_may_be_missing(tablet):
    assert only(tablet, "{size: {height: 41 mm}}").measures == {"height": Measure(value=41)}


def test_what_was_not_examined_is_no_finding(tablet):
    found = examined(tablet, "{}", "not_examined: {rim: no light}")
    assert found.findings == ()
    assert found.not_examined == {"rim": "no light"}


def test_a_trait_that_does_not_apply_is_recorded_and_not_weighed(tablet):
    found = examined(tablet, "{net: none, meeting: not_applicable}")
    assert [f.node for f in found.findings] == ["net"]
    assert found.not_applicable == {"meeting": "net is none"}
    assert examined(tablet, "{net: none}").not_applicable == {"meeting": "net is none"}


def test_findings_come_in_the_order_of_the_model(tablet):
    found = examined(tablet, "{thickness: 6 mm, rim: flat}")
    assert [f.node for f in found.findings] == ["rim", "thickness"]
