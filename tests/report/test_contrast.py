"""The contrast of two attributions, in words and numbers."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from small import examined, model

from claywit.assessment import ask, compare
from claywit.records import files
from claywit.report.answers import show_contrast
from claywit.report.contrast import flip_said
from claywit.report.schemas import json_schema
from claywit.report.terminal import plain_console

SCALE = files.read_scale()


def contrasted(findings, for_="shop=north", against="shop=south", more=""):
    known = model()
    asked, pair = ask(known, examined(known, findings, more), None, for_, against)
    return compare(known, asked, SCALE, named=pair)


def test_the_sentence_says_why_this_one_and_what_speaks_for_the_other():
    said = contrasted("{rim: bevelled, mark: stroke}").sentence
    assert said == (
        "North rather than South because rim: bevelled (+0.90 bans),"
        " although mark: stroke (−0.60 bans)."
    )


def test_the_likelier_proposition_comes_first_whichever_was_named_first():
    said = contrasted("{rim: flat, mark: stroke}").sentence
    assert said.startswith("South rather than North because")


def test_where_nothing_speaks_for_the_other_the_sentence_says_so():
    said = contrasted("{rim: bevelled}").sentence
    assert said.endswith("; nothing seen speaks clearly the other way.")


def test_the_least_that_would_turn_the_order_is_said():
    found = contrasted("{rim: bevelled, mark: absent}")
    assert flip_said(found) == "The order would turn round if rim were flat (read as bevelled)."
    assert "up to 3 findings" in flip_said(contrasted("{wear: much}"))


def test_prior_odds_stand_beside_posterior_odds():
    found = contrasted("{rim: bevelled}").explanation
    assert (found.prior_odds, found.total_factor, found.posterior_odds) == (1.25, 8.0, 10.0)


def test_without_propositions_the_leader_and_its_rival_are_compared():
    known = model()
    found = compare(known, examined(known, "{rim: bevelled}"), SCALE)
    assert found.explanation.chosen == "leading"


def test_the_contrast_fits_its_published_schema():
    data = json.loads(contrasted("{rim: bevelled, mark: stroke}").model_dump_json(by_alias=True))
    assert list(Draft202012Validator(json_schema("contrast")).iter_errors(data)) == []


def test_propositions_may_join_nodes_and_be_sets():
    root = Path(__file__).parents[2]
    known = files.read_model(root / "models" / "oskervane.yaml")
    seen = examined(known, "{arch_contact: right_shoulder, grog: present}")
    asked, pair = ask(known, seen, None, "mould=M04,class=C1", "mould=M12|M00,class=C4")
    found = compare(known, asked, SCALE, named=pair)
    assert found.explanation.for_ == "mould=M04,class=C1"
    console = plain_console(width=400, record=True, file=open("/dev/null", "w"))  # noqa: PTH123, SIM115
    show_contrast(found, console)
    assert "M12 silicone, after an M04 tablet or M00 not in the file and C4 later copy" in " ".join(
        console.export_text().split()
    )


@pytest.mark.parametrize(
    "findings", ["{seal: pressed}", "{seal: pressed, rim: flat, mark: stroke}"]
)
def test_an_excluded_side_is_said_and_not_computed_with(findings):
    found = contrasted(findings)
    assert found.explanation.posterior_bans is None
    assert found.sides[-1].p_for in (0.0, 0.1)


def test_the_page_shows_both_sides_and_escapes_what_a_user_wrote():
    from claywit.report.page import contrast_page

    known = model()
    seen = examined(known, "{rim: {state: bevelled, note: n}}", "examiner: '<b>A</b>'")
    page = contrast_page(compare(known, seen, SCALE))
    assert "&lt;b&gt;A&lt;/b&gt;" in page
    assert "<b>A" not in page
    # P(bevelled | north) = .8, | south) = .1
    assert "80.0%" in page
    assert "10.0%" in page
    assert "http" not in page.replace("http-equiv", "")
