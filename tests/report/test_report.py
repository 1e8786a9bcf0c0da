"""The report: what stands in it, in numbers, words and on the page."""

import json
import re

import pytest
from small import SHOPS, examined, model

from claywit.assessment import ask, assess, at_a_key, glance
from claywit.errors import EvidenceError, ImpossibleEvidence
from claywit.model.schema import Model
from claywit.records import files
from claywit.report.digest import digest, plain
from claywit.report.page import page
from claywit.report.report import Report
from claywit.report.schemas import FORMATS, json_schema
from claywit.report.terminal import plain_console, show

STANDARDS = files.read_standards()
FOUND = "{rim: bevelled, mark: {state: stroke, sure: 0.8, note: hurried}}"


def report(findings=FOUND, more="", known=None, named=None):
    known = known or model()
    return assess(known, examined(known, findings, more), STANDARDS, named=named)


def test_the_posterior_is_bayes_by_hand():
    found = report("{rim: bevelled}").posterior["shop"]
    weights = {"north": 0.5 * 0.8, "south": 0.4 * 0.1, "other": 0.1 * 0.1}
    expected = {state: w / sum(weights.values()) for state, w in weights.items()}
    assert {s: float(p) for s, p in found.items()} == pytest.approx(expected, abs=1e-12)


def test_prior_and_total_make_the_posterior_in_the_printed_digits():
    why = report().explanation
    assert why.prior_bans + why.total_bans == pytest.approx(why.posterior_bans, abs=2e-9)
    assert sum(w.bans for w in why.findings) == pytest.approx(why.total_bans, abs=1e-8)


@pytest.mark.parametrize("more", ["", "propositions: {for: shop=south, against: shop=other}"])
def test_what_is_wanted_at_every_key_is_the_whole_opinion_on_the_question_alone(more):
    known = model()
    seen = examined(known, FOUND, more)
    whole, quick = glance(known, seen, STANDARDS.scale), at_a_key(known, seen, STANDARDS.scale)
    assert list(quick.posterior) == ["shop"]
    for shares in ("prior", "posterior"):
        one, other = (getattr(found, shares)["shop"] for found in (quick, whole))
        assert {s: float(p) for s, p in one.items()} == pytest.approx(
            {s: float(p) for s, p in other.items()}, rel=1e-11
        )
    assert quick.statement == whole.statement
    assert quick.explanation.findings == whole.explanation.findings
    assert quick.misfits == whole.misfits
    assert quick.excluded_by_model.get("shop") == whole.excluded_by_model.get("shop")


def test_the_report_reads_back_from_its_json():
    found = report()
    assert Report.model_validate_json(found.model_dump_json(by_alias=True)) == found


def test_no_finding_at_all_gives_the_prior():
    found = report("{}")
    assert found.posterior == found.prior
    assert found.explanation.total_bans == 0.0
    assert found.log10_evidence == 0.0


def test_what_the_model_excludes_is_flagged():
    found = report("{seal: pressed}")
    assert found.excluded_by_model == {"shop": ("north", "other")}
    assert found.posterior["shop"]["north"] == "0"
    assert found.explanation.findings[0].bans is None
    assert found.explanation.findings[0].excludes == "against"
    assert "excludes every other" in found.statement[0]


def test_findings_that_cannot_stand_together_are_named():
    text = SHOPS.replace("{bevelled: 0.8, flat: 0.2}", "{bevelled: 1}").replace(
        "{shop: [south, other]}, p: {bevelled: 0.1, flat: 0.9}",
        "{shop: [south, other]}, p: {flat: 1}",
    )
    with pytest.raises(ImpossibleEvidence, match="rim and seal cannot stand together") as raised:
        report("{rim: bevelled, seal: pressed, wear: much}", known=model(text))
    assert raised.value.findings == ("rim", "seal")


def test_the_clients_prior_is_used_and_said():
    found = report("{rim: bevelled}", "priors: {shop: {north: 0.2, south: 0.8}}")
    assert found.priors_from_client == ("shop",)
    assert found.explanation.rests_on[0].origin == "client"
    assert any("the client's" in caution for caution in found.cautions)
    assert float(found.posterior["shop"]["north"]) == pytest.approx(0.16 / (0.16 + 0.08))


def test_the_two_propositions_may_be_named():
    known = model()
    seen = examined(known, FOUND)
    _, pair = ask(known, seen, None, "shop=south", "shop=north|other")
    found = assess(known, seen, STANDARDS, named=pair).explanation
    assert (found.for_, found.against, found.chosen) == ("shop=south", "shop=north|other", "named")


@pytest.mark.parametrize(
    ("for_", "against", "said"),
    [
        ("shop=north", None, "give both --for and --against"),
        ("shop=nord", "shop=south", "did you mean north"),
        ("shop=north", "shop=north|south", "must exclude each other"),
        ("rim=flat", "rim=bevelled", "rim has a finding"),
        ("north", "south", "write node=state"),
    ],
)
def test_a_pair_that_cannot_be_weighed_is_refused(for_, against, said):
    known = model()
    with pytest.raises(EvidenceError, match=re.escape(said)):
        ask(known, examined(known, FOUND), None, for_, against)


def test_a_proposition_that_the_model_excludes_from_the_start_is_refused():
    known = model()
    seen = examined(known, FOUND, "priors: {shop: {north: 0.2, south: 0.8}}")
    _, pair = ask(known, seen, None, "shop=other", "shop=north")
    with pytest.raises(EvidenceError, match="probability 0 before anything is seen"):
        assess(known, seen, STANDARDS, named=pair)


def numbers_in(text):
    return [
        n.replace(",", "").replace("−", "-") for n in re.findall(r"[−+]?\d[\d,]*(?:\.\d+)?", text)
    ]


def test_every_number_in_the_statement_is_a_number_of_the_report():
    found = report()
    data = json.loads(found.model_dump_json(by_alias=True))
    held = set()

    def gather(value):
        if isinstance(value, dict):
            for part in value.values():
                gather(part)
        elif isinstance(value, list):
            for part in value:
                gather(part)
        elif isinstance(value, float | int):
            held.update({f"{value:+.2f}", f"{value:.2g}", f"{1 / value:.2g}" if value else "0"})
        elif isinstance(value, str):
            held.update(numbers_in(value))
            if re.fullmatch(r"\d\.\d+(e-\d+)?", value):
                held.add(f"{100 * float(value):.1f}")

    gather({key: value for key, value in data.items() if key not in ("statement", "cautions")})
    said = [n for sentence in found.statement for n in numbers_in(sentence)]
    assert said
    assert [n for n in said if n not in held and n not in ("1", "0.1", "99.9")] == []


def test_the_strongest_finding_against_is_always_said():
    assert "What speaks against it most: mark" in report().statement[-1]
    assert (
        report("{rim: bevelled}").statement[-1]
        == "No finding speaks against it, in favour of South."
    )


def test_words_are_withheld_where_no_reference_piece_stands_behind_them():
    verbal = report().explanation.verbal
    assert verbal.term is None
    assert "rests on elicited tables" in verbal.why


def test_what_stands_behind_the_odds_is_said_beside_them():
    """8 to 1 by the rim: elicited, larger than 5 pieces can support, or within 14."""
    counted = "status: measured\nreference: {{pieces: {0}, by_state: {{shop: {{north: {0}, south: {0}}}}}}}"
    elicited, five, fourteen = (
        next(said for said in report("{rim: bevelled}", known=known).statement if "odds" in said)
        for known in (
            model(),
            model(SHOPS.replace("status: elicited", counted.format(5))),
            model(SHOPS.replace("status: elicited", counted.format(14))),
        )
    )
    assert elicited.endswith("10 to 1 after (elicited, no reference pieces).")
    assert five.endswith(
        "10 to 1 after (larger than the 5 reference pieces behind it can support)."
    )
    assert fourteen.endswith("10 to 1 after.")


def test_words_speak_no_louder_than_the_reference_pieces():
    counted = SHOPS.replace(
        "status: elicited",
        "status: measured\nreference: {pieces: 14, by_state: {shop: {north: 9, south: 5}}}",
    )
    found = report("{rim: bevelled, mark: absent}", known=model(counted)).explanation
    assert found.total_factor == pytest.approx(12.0)
    assert found.verbal.term == "weak"
    assert "clipped to the 5 reference pieces" in found.verbal.why


def terminal(found):
    console = plain_console(width=100, no_color=True, record=True, file=open("/dev/null", "w"))  # noqa: PTH123, SIM115
    show(found, console)
    return console.export_text()


HOSTILE = "<script>alert(1)</script> [bold]x[/] :smile: &amp; {{ 7*7 }} \u05e9\u05dc\u05d5\u05dd"


def test_a_hostile_note_is_shown_as_text_on_the_page_and_on_the_terminal():
    found = report(f"{{rim: {{state: flat, note: {json.dumps(HOSTILE)}}}}}")
    assert "<script>alert" not in page(found)
    assert "&lt;script&gt;" in page(found)
    assert "{{ 7*7 }}" in page(found)


def test_a_hostile_reason_is_shown_as_it_stands_on_the_terminal():
    known = model(SHOPS.replace("    label: Rim\n", "    label: 'Rim [mm] :smile: [/b]'\n"))
    assert "Rim [mm] :smile: [/b]" in terminal(report(FOUND, known=known))


@pytest.mark.parametrize("escape", [r"\e[31m", r"\u202e", r"\x07", r"\u2066"])
def test_characters_that_cannot_be_seen_are_refused(escape):
    with pytest.raises(EvidenceError, match=r"cannot be seen \(U\+"):
        report(f'{{rim: {{state: flat, note: "{escape}"}}}}')


def test_the_page_holds_nothing_that_asks_for_more():
    html = page(report())
    assert "default-src 'none'" in html
    assert not re.search(r"<script|<link|<img|src=|url\((?!#)|https?://", html)


def test_page_and_terminal_show_the_same_answer():
    found = report()
    assert found.statement[0] in page(found).replace("&#39;", "'")
    assert found.statement[0][:40] in terminal(found)


def test_no_page_and_no_terminal_says_certain():
    for findings in (FOUND, "{seal: pressed}", "{}"):
        html = re.sub(r"<style>.*?</style>", "", page(report(findings)), flags=re.DOTALL)
        shown = html + terminal(report(findings))
        assert not re.search(r"(?<![\d.])(0|100)(\.0)?\s?%", shown)


@pytest.mark.parametrize("kind", FORMATS)
def test_every_format_has_a_schema(kind):
    assert json_schema(kind)["type"] == "object"


def test_the_digest_covers_the_order_of_states_and_groups():
    known = model()
    turned = known.model_copy(update={"groups": known.groups[::-1]})
    assert digest(known) != digest(turned)


def test_a_model_read_back_from_json_has_the_same_digest():
    known = model()
    assert digest(Model.model_validate(plain(known))) == digest(known)
