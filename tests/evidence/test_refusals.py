"""Every way in which evidence can be wrong is refused with its place and a way out."""

import json

import pytest
from damage import places, replaced
from hypothesis import given, settings
from hypothesis import strategies as st
from small import examined, model
from tablet import TABLET

from claywit.errors import ClaywitError, EvidenceError
from claywit.evidence.binding import bind
from claywit.evidence.written import read_evidence
from claywit.model.soundness import read_model
from claywit.model.source import read_document


@pytest.fixture(scope="module")
def tablet():
    return model(TABLET)


REFUSED = {
    "an unknown node": ("{rym: flat}", "piece.yaml:3: no node rym in the model; did you mean rim?"),
    "an unknown state": ("{rim: flatt}", "piece.yaml:3: rim: no state flatt; did you mean flat?"),
    "sure no better than a guess": ("{rim: {state: flat, sure: 0.3}}", "below 1/3"),
    "sure in percent": ("{rim: {state: flat, sure: 90%}}", "'90%' is a percentage; write it as a share, 0.9"),
    "sure above 1": ("{rim: {state: flat, sure: 1.3}}", "found 1.3, must be at most 1"),
    "sure without a state": ("{rim: {sure: 0.9}}", "found none; a finding is one of"),
    "an unknown matrix": ("{rim: {state: flat, reading: K}}", "no reading matrix K for this node; "),
    "sure and a matrix": ("{rim: {state: flat, reading: H, sure: 0.9}}", "give one"),
    "two forms": ("{rim: {state: flat, not_visible: coat}}", "found state and not_visible"),
    "a likelihood that leaves out states": ("{rim: {likelihood: {flat: 1}}}", "says nothing of round, hollow"),
    "a likelihood of nothing": ("{rim: {likelihood: {flat: 0, other: 0}}}", "is 0 for every state"),
    "a negative likelihood": ("{rim: {likelihood: {flat: -1, other: 1}}}", "found -1, must be at least 0"),
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
    "a finding without words": ("{rim: }", "rim: nothing is written; write what was seen"),
    "a list in place of a finding": ("{rim: [flat]}", "rim: a state, a measure, or a mapping such as {state: flat, sure: 0.9}, is expected"),
    "a list in place of a state": ("{rim: {state: [flat]}}", "rim: state: text is expected"),
    "an unknown key": ("{rim: {state: flat, suer: 0.9}}", "rim: suer is no key of a finding; did you mean sure?"),
    "sure of what is hidden": ("{rim: {state: not_visible, sure: 0.9}}", "are about a state that was seen, not not_visible"),
    "sure of what does not apply": ("{meeting: {state: not_applicable, sure: 0.9}}", "about a state that was seen"),
    "a likelihood of a measure": ("{thickness: {likelihood: {thin: 1}}}", "is measured; a likelihood names states"),
    "a measure that is not visible": ("{thickness: not_visible}", "has no visibility in this model"),
    "a measure without a value": ("{thickness: {state: thin}}", "is measured; write a value, as 43.5 mm"),
    "an uncertainty without a unit": ("{thickness: {value: 6 mm, u: 0.1}}", "'0.1' has no unit; write 0.1 mm"),
    "an uncertainty in another kind of unit": ("{thickness: {value: 6 mm, u: 1 g}}", "'1 g' is a mass"),
    "one limit of two": ("{thickness: {between: [5 mm]}}", "thickness: between: value 2 is missing"),
    "three limits": ("{thickness: {between: [5 mm, 6 mm, 7 mm]}}", "thickness: between: 2 values are expected, no more"),
    "a limit of 0": ("{thickness: {below: 0 mm}}", "0 mm: a limit must be above 0"),
    "a limit below 0": ("{thickness: {above: -5 mm}}", "-5 mm: a limit must be above 0"),
    "two kinds of limit": ("{thickness: {below: 5 mm, above: 4 mm}}", "thickness: a measure is one of value, below"),
    "a size too large for a number": ("{thickness: 1e308 in}", "'1e308 in' is no size of a piece; check the number"),
    "a bare decimal comma among findings": ("{thickness: 6,1 mm}", "thickness: 6,1 mm has a decimal comma; write 6.1 mm"),
    "findings in a list": ("[rim]", "findings: a mapping is expected, as key: value, with a space after the colon"),
    "a colon without a space": ("rim:flat", "findings: a mapping is expected, as key: value, with a space after the colon"),
    "a measure in place of its node": ("{height: 41 mm}", "no node height in the model; it is a measure of size; write size: {height: …}"),
    "a measure and its uncertainty in one": ("{thickness: 6.1 ± 0.2 mm}", "write the uncertainty apart: {value: 6.1 mm, u: 0.2 mm}"),
    "uncertainties in units of their own": ("{thickness: 6.1mm +/- 0.02 cm}", "apart: {value: 6.1 mm, u: 0.02 cm}"),
    "an uncertainty that is no number": ("{thickness: about 6 ± some mm}", "apart: {value: 43.5 mm, u: 0.1 mm}"),
    "a name that is no name": ("{rim edge: flat}", "found 'rim edge'; a name is made of letters, digits and _"),
    "an unknown measure": ("{size: {hieght: 40 mm}}", "no measure hieght; did you mean height?"),
    "several measures unnamed": ("{size: 40 mm}", "has several measures; name them: height, width"),
    "a measure on states": ("{rim: {height: 40 mm}}", "is not measured, so it takes a state"),
    "a state on a measure": ("{thickness: thin}", "is not a measure"),
    "a trait that does not apply": ("{net: none, meeting: cuts}", "meeting applies only where net is some"),
    "not applicable where it applies": ("{net: some, meeting: not_applicable}", "meeting: net was read as some, so it applies here"),
    "not applicable to a trait of every piece": ("{rim: not_applicable}", "rim: applies to every piece; write not_visible, or use not_examined"),
    "a trait that does not apply by a reading of sure 1": ("{net: {state: none, sure: 1}, meeting: cuts}", "meeting applies only where net is some"),
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
    "an unknown question": ("{}", "question: shp", "question shp: no node that is asked about has this name; did you mean shop?"),
    "a measured question": ("{}", "question: size", "question size: it is measured, and a question is about a state; ask about shop"),
    "a question about how a trait is seen": ("{}", "question: rim", "question rim: it can be not visible, and a question"),
    "a question with a finding": ("{shop: north}", "question: shop", "the question is shop, so it cannot have a finding"),
    "a prior of a node with parents": ("{}", "priors: {rim: {flat: 1}}", "rim depends on shop, veil"),
    "a prior that does not sum to 1": ("{}", "priors: {shop: {north: 0.2}}", "sum to 0.2, must be 1"),
    "a prior of an unknown state": ("{}", "priors: {shop: {nort: 1}}", "no state nort; did you mean north?"),
    "a prior of a measure": ("{}", "priors: {thickness: {thin: 1}}", "thickness depends on shop"),
    "a prior of an unknown node": ("{}", "priors: {shp: {north: 1}}", "no node shp in the model; did you mean shop?"),
    "a prior in percent": ("{}", "priors: {shop: {north: 12.5 %}}", "priors shop north: '12.5 %' is a percentage; write it as a share, 0.125"),
    "a prior above 1": ("{}", "priors: {shop: {north: 1.2}}", "priors shop north: found 1.2, must be at most 1"),
    "a prior of nothing": ("{}", "priors: {shop: {}}", "priors of shop sum to 0, must be 1"),
    "a proposition without its rival": ("{}", "propositions: {for: shop=north}", "propositions: the key against is missing"),
    "a proposition about a measure": ("{}", "propositions: {for: size=40, against: shop=south}", "size is measured; a proposition is about states"),
    "a proposition about an unknown state": ("{}", "propositions: {for: shop=nrth, against: shop=south}", "shop has no state nrth; did you mean north?"),
    "a proposition about an unknown node": ("{}", "propositions: {for: shp=north, against: shop=south}", "no node shp; did you mean shop?"),
    "a proposition with an empty state": ("{}", "propositions: {for: shop=north|, against: shop=south}", "a state is missing beside |"),
    "a proposition with an empty part": ("{}", "propositions: {for: 'shop=north,', against: shop=south}", "write node=state"),
    "a proposition that names a node twice": ("{}", "propositions: {for: 'shop=north,shop=south', against: net=none}", "names shop twice; join its states with |"),
    "propositions about different nodes": ("{}", "propositions: {for: shop=north, against: net=none}", "must exclude each other"),
    "propositions that overlap": ("{}", "propositions: {for: shop=north, against: shop=north|south}", "must exclude each other"),
    "a proposition about a finding": ("{net: none}", "propositions: {for: net=none, against: net=some}", "net has a finding"),
    "a proposition that is none": ("{}", "propositions: {for: north, against: south}", "write node=state"),
    "a circle of events": ("{}", "sequence: [[coat, crack], [crack, coat]]", "the order goes round in a circle"),
    "an event under itself": ("{}", "sequence: [[coat, coat]]", "the order goes round in a circle: coat under coat"),
    "a circle of three events": ("{}", "sequence: [[coat, crack, dirt], [dirt, coat]]", "the order goes round in a circle"),
    "events that are no pairs": ("{}", "sequence: [coat, crack]", "sequence, item 1: a list is expected"),
    "an event with a space": ("{}", "sequence: [[coat, the crack]]", "found 'the crack'; a name is made of letters"),
    "an order against what is hidden": ("{net: some, veiled: not_visible}", "sequence: [[coat, veil]]", "says veiled is under, its finding says not_visible"),
    "an order of what does not apply": ("{meeting: not_applicable}", "sequence: [[coat, crack]]", "says meeting is cuts, its finding says not_applicable"),
    "an order that a likelihood excludes": ("{net: some, meeting: {likelihood: {cuts: 0, other: 1}}}", "sequence: [[coat, crack]]", "says meeting is cuts, its finding says that it is not"),
    "an order where its trait does not apply": ("{net: none}", "sequence: [[coat, crack]]", "coat under crack says how meeting is, but net was read as none"),
    "neither true nor false": ("{}", "readings: {masked: perhaps}", "readings masked: found 'perhaps', expected true or false"),
    "an unknown key at the top": ("{}", "colour: red", "unknown key colour; known: engagement, examiner, findings"),
    "an unknown key below": ("{}", "engagement: {clint: C}", "engagement: unknown key clint; did you mean client?"),
    "text in place of a list": ("{}", "engagement: {intended_users: C}", "engagement intended_users: a list is expected, as [one, two]"),
    "a note without end": ("{}", f"notes: {'x' * 4001}", "notes: 4,001 characters, at most 4,000 are read"),
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


KNOWN = model(TABLET)


def refusal(data):
    """Return why *data* is refused, or nothing; any other error is a bug and goes through."""
    try:
        evidence, document = read_evidence(data, "e.yaml")
        bind(evidence, KNOWN, document.place)
    except ClaywitError as error:
        return str(error)
    return ""


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=120))
def test_no_text_brings_the_reader_down(text):
    assert "\n" not in refusal(text.encode("utf-8", "surrogatepass"))


scraps = st.sampled_from(["flat", "not_visible", "0.9", "6 mm", "{}", "[]", "{state: flat}", "{sure: 0.9}", "''",
                          "{likelihood: {}}", "{likelihood: 3}", "{between: [1 mm]}", "{value: [], u: 1}", "{x: y}",
                          "{measure: {value: 3 mm}}", "{measures: {height: 3 mm}}", "{says: flat}"])  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(["rim", "net", "size", "thickness", "meeting", "shop", "x"]), scraps)
def test_no_scrap_of_a_finding_brings_the_reader_down(node, scrap):
    head = "format: claywit-evidence/1\npiece: {id: p-1}\n"
    assert "\n" not in refusal(f"{head}findings: {{{node}: {scrap}}}\n".encode())


WHOLE = read_document(
    b"""
format: claywit-evidence/1
piece: {id: p-1, type: tablet, photographs: [front]}
examiner: A
question: shop
findings:
  rim: {state: flat, sure: 0.9, method: lens, where: left, note: worn}
  net: some
  hold: {likelihood: {tight: 1, over_dirt: 0.5}}
  veiled: {not_visible: oil}
  meeting: cuts
  thickness: {value: 6.1 mm, u: 0.1 mm}
  size: {height: 41 mm, width: {value: 30 mm, u: 0.1 mm}}
not_examined: {back: no light}
sequence: [[coat, crack], [dirt, crack]]
priors: {shop: {north: 0.4, south: 0.6}}
propositions: {for: shop=north, against: shop=south, stated_at: 2026-01-10}
engagement: {client: C, intended_users: [C]}
readings: {locked_at: 2026-01-11, masked: true}
""",
    "whole",
    EvidenceError,
).data
values = st.sampled_from(
    ["", "north", "0.5", "6 mm", "-1", "a b", "not_visible", "not_applicable", [], {}, [[]], ["coat"],
     ["1 mm", "2 mm"], {"state": "flat"}, {"likelihood": {"flat": "1", "other": "0"}}, {"between": ["1 mm"]},
     {"north": "1"}, {"height": {"below": "5 mm"}}, {"u": "1 mm"}, "shop=north|south", "\u0000"]
)  # fmt: skip


def test_the_evidence_to_be_damaged_is_whole():
    assert refusal(json.dumps(WHOLE).encode()) == ""


@settings(max_examples=500, deadline=None)
@given(st.data())
def test_no_value_in_the_wrong_place_brings_the_reader_down(data):
    damaged = WHOLE
    for _ in range(data.draw(st.integers(1, 3))):
        damaged = replaced(damaged, data.draw(st.sampled_from(places(damaged))), data.draw(values))
    said = refusal(json.dumps(damaged).encode())
    assert "\n" not in said
    assert "pydantic" not in said.lower()
    assert not said or said.startswith("e.yaml")


def test_more_findings_than_can_be_weighed_each_with_each_are_refused():
    trait = "  t{0}: {{states: [x, y], parents: [shop], rows: [{{p: {{x: 0.5, y: 0.5}}}}]}}\n"
    shop = "  shop: {states: [a, b], rows: [{p: {a: 0.5, b: 0.5}}]}\n"
    head = "format: claywit-model/1\nname: m\nversion: 1.0.0\ntargets: [shop]\nstatus: elicited\nnodes:\n"
    known = read_model((head + shop + "".join(map(trait.format, range(501)))).encode(), "m.yaml")
    with pytest.raises(EvidenceError, match="501 findings; at most 500 are weighed"):
        examined(known, "{" + ", ".join(f"t{i}: x" for i in range(501)) + "}")
    assert (
        len(examined(known, "{" + ", ".join(f"t{i}: x" for i in range(500)) + "}").findings) == 500
    )
