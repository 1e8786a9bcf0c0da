"""Every form in which a finding can be written, and every way in which it can be wrong."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from claywit.errors import ClaywitError, EvidenceError
from claywit.evidence.binding import bind
from claywit.evidence.findings import Measure
from claywit.evidence.written import read_evidence
from small import examined, model

TABLET = """
format: claywit-model/1
name: tablet
version: 1.0.0
targets: [shop]
status: elicited
reading_matrices:
  H: {node: rim, p: {flat: {flat: 0.9, round: 0.1}, round: {round: 1}, hollow: {hollow: 1}}}
order:
  - {before: coat, after: crack, node: meeting, state: cuts}
  - {before: crack, after: coat, node: meeting, state: [bridges, fills]}
  - {before: dirt, after: coat, node: hold, state: over_dirt}
  - {before: dirt, after: crack, node: age, state: late}
nodes:
  shop: {states: [north, south], rows: [{p: {north: 0.5, south: 0.5}}]}
  veil: {states: [clear, thick], rows: [{p: {clear: 0.8, thick: 0.2}}]}
  rim:
    states: [flat, round, hollow]
    parents: [shop]
    visibility: {parent: veil, p: {clear: 0.01, thick: 0.7}}
    rows: [{given: {}, p: {flat: 0.5, round: 0.3, hollow: 0.2}}]
  net: {states: [none, some], rows: [{p: {none: 0.5, some: 0.5}}]}
  meeting:
    states: [cuts, bridges, fills]
    parents: [shop]
    applies_if: {net: some}
    rows: [{given: {}, p: {cuts: 0.5, bridges: 0.3, fills: 0.2}}]
  hold: {states: [tight, over_dirt], rows: [{p: {tight: 0.5, over_dirt: 0.5}}]}
  age: {states: [early, late], rows: [{p: {early: 0.5, late: 0.5}}]}
  thickness: {measured: {thickness: mm}, parents: [shop], rows: [{given: {}, normal: {mean: 6, sd: 1}}]}
  size:
    measured: {height: mm, width: mm}
    parents: [shop, veil]
    dimensions:
      cavity: {north: {height: 42, width: 31}, south: {height: 40, width: 30}}
      shrinkage: {clear: {mean: 0.02, sd: 0.01}, thick: {mean: 0.03, sd: 0.01}}
"""


@pytest.fixture(scope="module")
def tablet():
    return model(TABLET)


def only(tablet, findings, more=""):
    (finding,) = examined(tablet, findings, more).findings
    return finding


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


REFUSED = {
    "an unknown node": ("{rym: flat}", "piece.yaml:3: no node rym in the model; did you mean rim?"),
    "an unknown state": ("{rim: flatt}", "piece.yaml:3: rim: no state flatt; did you mean flat?"),
    "sure no better than a guess": ("{rim: {state: flat, sure: 0.3}}", "below 1/3"),
    "sure above 1": ("{rim: {state: flat, sure: 1.3}}", "less than or equal to 1"),
    "sure without a state": ("{rim: {sure: 0.9}}", "found none; a finding is one of"),
    "an unknown matrix": ("{rim: {state: flat, reading: K}}", "no reading matrix K for this node; "),
    "sure and a matrix": ("{rim: {state: flat, reading: H, sure: 0.9}}", "give one"),
    "two forms": ("{rim: {state: flat, not_visible: coat}}", "found state and not_visible"),
    "a likelihood that leaves out states": ("{rim: {likelihood: {flat: 1}}}", "says nothing of round, hollow"),
    "a likelihood of nothing": ("{rim: {likelihood: {flat: 0, other: 0}}}", "is 0 for every state"),
    "a negative likelihood": ("{rim: {likelihood: {flat: -1, other: 1}}}", "greater than or equal to 0"),
    "a likelihood of an unknown state": ("{rim: {likelihood: {flta: 1, other: 0}}}", "no state flta; did you mean flat?"),
    "not visible without visibility": ("{hold: not_visible}", "put it under not_examined"),
    "a decimal comma": ("{thickness: '6,1 mm'}", "'6,1' has a decimal comma; write 6.1 with a point"),
    "a bare decimal comma": ("{size: {height: 41,5 mm}}", "height: 41,5 mm has a decimal comma"),
    "no unit": ("{thickness: 6.1}", "has no unit; write 6.1 mm if it is in mm"),
    "an unknown unit": ("{thickness: 6.1 mn}", "unit mn is not known"),
    "a unit of another kind": ("{thickness: 6.1 g}", "is a mass; expected a value in mm"),
    "a size below 0": ("{thickness: -6.1 mm}", "must be above 0"),
    "an uncertainty of 0": ("{thickness: {value: 6 mm, u: 0 mm}}", "must be above 0"),
    "limits the wrong way round": ("{thickness: {between: [6 mm, 5 mm]}}", "the first must be the smaller"),
    "limits with an uncertainty": ("{thickness: {below: 5 mm, u: 1 mm}}", "u goes with a value"),
    "limits beside another measure": ("{size: {height: {below: 40 mm}, width: 30 mm}}", "limits cannot stand beside"),
    "an unknown measure": ("{size: {hieght: 40 mm}}", "no measure hieght; did you mean height?"),
    "several measures unnamed": ("{size: 40 mm}", "has several measures; name them: height, width"),
    "a measure on states": ("{rim: {height: 40 mm}}", "is not measured, so it takes a state"),
    "a state on a measure": ("{thickness: thin}", "is not a measure"),
    "a trait that does not apply": ("{net: none, meeting: cuts}", "meeting applies only where net is some"),
    "not applicable where it applies": ("{net: some, meeting: not_applicable}", "so it applies here"),
    "not applicable where nothing is asked": ("{rim: not_applicable}", "write not_visible, or use not_examined"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_understood_is_refused_with_its_place(tablet, case):
    findings, said = REFUSED[case]
    with pytest.raises(EvidenceError) as raised:
        examined(tablet, findings)
    assert said in str(raised.value)
    assert str(raised.value).startswith("piece.yaml:3: ")
    assert "\n" not in str(raised.value)


MORE_REFUSED = {
    "a finding that was not examined": ("{rim: flat}", "not_examined: {rim: no light}", "rim has a finding and stands under not_examined"),
    "an unknown node not examined": ("{}", "not_examined: {rym: x}", "no node rym"),
    "an unknown question": ("{}", "question: shp", "question shp is no node with states"),
    "a measured question": ("{}", "question: size", "question size is no node with states"),
    "a question with a finding": ("{shop: north}", "question: shop", "shop has a finding"),
    "a prior of a node with parents": ("{}", "priors: {rim: {flat: 1}}", "rim depends on shop, veil"),
    "a prior that does not sum to 1": ("{}", "priors: {shop: {north: 0.2}}", "sum to 0.2, must be 1"),
    "a prior of an unknown state": ("{}", "priors: {shop: {nort: 1}}", "no state nort; did you mean north?"),
    "propositions that overlap": ("{}", "propositions: {for: shop=north, against: shop=north|south}", "must exclude each other"),
    "a proposition about a finding": ("{net: none}", "propositions: {for: net=none, against: net=some}", "net has a finding"),
    "a proposition that is none": ("{}", "propositions: {for: north, against: south}", "write node=state"),
    "a circle of events": ("{}", "sequence: [[coat, crack], [crack, coat]]", "the order goes round in a circle"),
    "a lonely event": ("{}", "sequence: [[coat]]", "name two events or more"),
    "an order against a finding": ("{net: some, meeting: fills}", "sequence: [[coat, crack]]", "says meeting is cuts, its finding says fills"),
    "an order of what was not examined": ("{}", "not_examined: {hold: x}\nsequence: [[dirt, coat]]", "says how hold is"),
}  # fmt: skip


@pytest.mark.parametrize("case", MORE_REFUSED)
def test_evidence_that_contradicts_itself_is_refused(tablet, case):
    findings, more, said = MORE_REFUSED[case]
    with pytest.raises(EvidenceError) as raised:
        examined(tablet, findings, more)
    assert said in str(raised.value)


def by_node(found):
    return {finding.node: finding for finding in found.findings}


def test_an_order_of_events_sets_the_node_it_speaks_of(tablet):
    found = by_node(examined(tablet, "{net: some}", "sequence: [[coat, crack]]"))
    assert found["meeting"].state == "cuts"
    assert found["meeting"].implied_by == ("coat", "crack")


def test_an_order_that_allows_two_states_is_a_likelihood(tablet):
    found = by_node(examined(tablet, "{net: some}", "sequence: [[crack, coat]]"))
    assert found["meeting"].likelihood == {"cuts": 0.0, "bridges": 1.0, "fills": 1.0}


def test_an_order_that_a_finding_already_says_is_not_counted_twice(tablet):
    alone = examined(tablet, "{net: some, meeting: cuts}")
    both = examined(tablet, "{net: some, meeting: cuts}", "sequence: [[coat, crack]]")
    assert both.findings == alone.findings


def test_what_two_orders_say_together_is_said(tablet):
    found = by_node(examined(tablet, "{net: some}", "sequence: [[dirt, coat], [coat, crack]]"))
    assert (found["hold"].state, found["age"].state) == ("over_dirt", "late")


def test_a_pair_that_the_model_does_not_know_is_kept_as_not_used(tablet):
    assert examined(tablet, "{}", "sequence: [[wear, repair]]").not_used == (("wear", "repair"),)


def test_priors_are_scaled_to_sum_to_1_exactly(tablet):
    found = examined(tablet, "{}", "priors: {shop: {north: 0.3, south: 0.7000004}}")
    assert sum(found.priors["shop"].values()) == pytest.approx(1, abs=1e-15)


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=120))
def test_no_text_brings_the_reader_down(text):
    known = model(TABLET)
    try:
        evidence, document = read_evidence(text.encode("utf-8", "surrogatepass"), "e.yaml")
        bind(evidence, known, document.place)
    except ClaywitError as error:
        assert "\n" not in str(error)


scraps = st.sampled_from(["flat", "not_visible", "0.9", "6 mm", "{}", "[]", "{state: flat}", "{sure: 0.9}", "''",
                          "{likelihood: {}}", "{likelihood: 3}", "{between: [1 mm]}", "{value: [], u: 1}", "{x: y}",
                          "{measure: {value: 3 mm}}", "{measures: {height: 3 mm}}", "{says: flat}"])  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(["rim", "net", "size", "thickness", "meeting", "shop", "x"]), scraps)
def test_no_scrap_of_a_finding_brings_the_reader_down(node, scrap):
    try:
        examined(model(TABLET), f"{{{node}: {scrap}}}")
    except ClaywitError as error:
        assert "\n" not in str(error)
