"""The sentences that judge an answer, and the cautions that fit the case."""

import json
import re
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from small import examined, model

from claywit.assessment import assess, what_if
from claywit.evidence.binding import bind
from claywit.records import files
from claywit.report.schemas import json_schema
from claywit.report.trust import (
    agreement_said,
    how_sure,
    next_said,
    rivals_said,
    robust_said,
    row_said,
)

ROOT = Path(__file__).parents[2]
STANDARDS = files.read_standards()
OSKERVANE = files.read_model(ROOT / "models" / "oskervane.yaml")


def of_shops(findings, more=""):
    known = model()
    return assess(known, examined(known, findings, more), STANDARDS)


def demo(name, **how):
    evidence, document = files.read_evidence(ROOT / "evidence_examples" / f"{name}.yaml")
    return assess(OSKERVANE, bind(evidence, OSKERVANE, document.place), STANDARDS, **how)


@pytest.fixture(scope="module")
def reports():
    names = ("01-textbook", "05-copy", "10-overcoated", "12-stranger", "13-photographs")
    return {name: demo(name) for name in names}


def test_a_report_has_every_section_and_fits_its_schema(reports):
    validator = Draft202012Validator(json_schema("report"))
    for report in reports.values():
        data = json.loads(report.model_dump_json(by_alias=True))
        assert list(validator.iter_errors(data)) == []
        sections = ("attribution", "intervals", "outer", "conflict", "typicality", "sensitivity")
        assert all(data[name] for name in (*sections, "next", "rivals"))


def test_without_a_seed_only_what_is_drawn_is_left_out():
    report, whole = demo("13-photographs", seed=None), demo("13-photographs")
    assert report.intervals is None
    assert report.typicality is None
    drawn = {"intervals", "typicality", "cautions"}
    assert report.model_dump(exclude=drawn) == whole.model_dump(exclude=drawn)


def test_another_seed_is_printed_and_changes_only_what_is_drawn():
    one, other = demo("13-photographs", seed=1), demo("13-photographs", seed=2)
    assert "seed 2" in " ".join(how_sure(other))
    assert one.intervals != other.intervals
    assert one.posterior == other.posterior


def test_no_sentence_says_none_or_all_of_a_hundred(reports):
    for report in reports.values():
        said = [*how_sure(report), *rivals_said(report), *next_said(report), *report.cautions,
                *agreement_said(report), *robust_said(report), *report.statement]  # fmt: skip
        for sentence in said:
            assert not re.search(r"(?<![\d.])(0|0\.0|100|100\.0)%", sentence), sentence


def test_every_percentage_in_the_sentences_stands_in_the_report(reports):
    for report in reports.values():
        shown = numbers(json.loads(report.model_dump_json(by_alias=True)))
        said = [*how_sure(report), *rivals_said(report), *robust_said(report)]
        for found in re.findall(r"(\d+\.\d)%", " ".join(said)):
            assert any(abs(100 * n - float(found)) <= 0.0501 for n in shown), found


def numbers(data):
    if isinstance(data, dict):
        return [n for value in data.values() for n in numbers(value)]
    if isinstance(data, list):
        return [n for value in data for n in numbers(value)]
    try:
        return [float(data)]
    except (TypeError, ValueError):
        return []


def test_an_answer_that_the_prior_makes_is_said_to_be_one():
    """Flat rim: against South the findings say 2.2 to 4.5 for South, but .5 to .4 is not enough."""
    report = of_shops("{wear: much}")
    assert "The prior does more for this answer than the findings do." in report.cautions
    assert "The prior does more" not in " ".join(of_shops("{rim: bevelled}").cautions)


def test_an_answer_that_rests_on_one_group_is_said_to_do_so():
    report = of_shops("{rim: bevelled, wear: much}")
    assert "The opinion rests on one group of findings: shape." in report.cautions


def test_a_half_certain_finding_that_matters_most_is_named():
    report = of_shops("{rim: {state: bevelled, sure: 0.8}}")
    assert "The finding that matters most is itself half certain: rim." in report.cautions
    assert "half certain: rim" not in " ".join(of_shops("{rim: bevelled}").cautions)


def test_an_alarm_is_the_first_caution():
    """Two halves of two pieces, as in the tests of typicality."""
    nodes = "\n".join(
        f"  t{i}:\n    states: [x, y]\n    parents: [shop]\n    examine: {{view: front}}\n    rows:\n"
        "      - {given: {shop: n}, p: {x: 0.9, y: 0.1}}\n"
        "      - {given: {shop: s}, p: {x: 0.1, y: 0.9}}"
        for i in range(8)
    )
    text = (
        "format: claywit-model/1\nname: chain\nversion: 1.0.0\ntargets: [shop]\nstatus: elicited\n"
        "groups: {one: [t0, t1, t2, t3], two: [t4, t5, t6, t7]}\nnodes:\n  shop:\n"
        "    states: [n, s]\n    rows: [{p: {n: 0.5, s: 0.5}}]\n" + nodes
    )
    known = model(text)
    seen = ", ".join(f"t{i}: {'x' if i < 4 else 'y'}" for i in range(8))
    report = assess(known, examined(known, f"{{{seen}}}"), STANDARDS)
    assert report.cautions[0].startswith("The model may not cover this piece:")
    assert "contradict each other" in " ".join(agreement_said(report))


def test_what_else_it_could_be_lists_the_next_states_with_what_speaks_for_them():
    first = rivals_said(of_shops("{rim: bevelled, mark: stroke}"))[0]
    # South: .4 x .1 x .4 = .016 of .057; without the stroke it would have .04 of .45.
    assert first.startswith("South: 28.1%")
    assert "most for it: mark: stroke (+0.60 bans)" in first


def test_a_row_is_said_by_its_parents_labels():
    nodes = of_shops("{}").nodes
    assert row_said(nodes, "rim", "shop=south|other") == "rim (where workshop is south or other)"
    assert row_said(nodes, "shop", "prior") == "workshop (its prior)"


def test_the_sensitivity_of_chosen_numbers_fits_its_schema():
    known = model()
    seen = examined(known, "{rim: bevelled}")
    validator = Draft202012Validator(json_schema("sensitivity"))
    for chosen in ([], ["shop=north"], ["shop=north", "rim=bevelled,shop=north"]):
        data = json.loads(what_if(known, seen, chosen).model_dump_json(by_alias=True))
        assert list(validator.iter_errors(data)) == []
    # North at .5: .4 of .45; the row of .5 is marked as it stands.
    one = what_if(known, seen, ["shop=north"])
    as_it_stands = next(at for at in one.at if at.values == (0.5,))
    assert float(as_it_stands.posterior["north"]) == pytest.approx(0.4 / 0.45)


def test_where_nothing_else_is_left_the_numbers_can_still_be_varied():
    """A pressed seal excludes all shops but South."""
    known = model()
    found = what_if(known, examined(known, "{seal: pressed}"), ["shop=south"])
    assert found.leading == "south"
    assert all(at.leader == "south" for at in found.at)


def test_a_copy_of_a_value_has_a_digest_of_its_own():
    from claywit.report.digest import digest

    known = model()
    before = digest(known)
    renamed = known.model_copy(update={"name": "other-shops"})
    assert digest(renamed) != before
    assert digest(known) == before
