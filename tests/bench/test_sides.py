"""A dispute, a look, a report and a check with all that the command line can be given for them."""

import base64
import json

from bench import laid
from bench.asking import Asking
from bench.browser import ROOT

from claywit.bench.signing import made_key
from claywit.model.soundness import read_with_lines
from claywit.records import opening
from claywit.records.case import read_case

SECRET = "seven grey herons stood still"  # noqa: S105 - of a key that lives for a test
CASE, PRACTICE, OPEN = (f"/piece/{letter * 16}" for letter in "abc")
MODEL = (ROOT / "models" / "oskervane.yaml").read_bytes()
PRIORS = b"""format: claywit-priors/1
by: the owner's adviser
priors: {period: {P1: 0.02, P2: 0.02, P3: 0.02, P4: 0.04, P5: 0.9}}
"""


def bring(asking, part, content):
    return asking.post(f"{CASE}/dispute?part={part}", content=content)


def test_other_priors_alone_are_held_against_ones_own_readings(asking):
    assert bring(asking, "priors", PRIORS).status_code == 200
    shown = asking.get(f"{CASE}/dispute").text
    assert "adviser" in shown
    assert "Prior" in shown
    assert asking.post(f"{CASE}/dispute/forget", {"part": "priors"}).status_code == 200
    assert "Load the other side" in asking.get(f"{CASE}/dispute").text


def test_another_model_is_weighed_and_what_is_none_is_refused(asking):
    changed = MODEL.replace(b"version: 1.0.0", b"version: 1.0.1", 1)
    assert changed != MODEL
    assert bring(asking, "model", changed).status_code == 200
    assert "1.0.1" in asking.get(f"{CASE}/dispute").text
    for part, wrong in (("model", b"a: 1"), ("priors", b"a: 1"), ("model", b""), ("purse", b"x")):
        answer = bring(asking, part, wrong)
        assert answer.status_code == 422, part
        assert "other_side" not in answer.text
    assert bring(asking, "model", b"x" * 500_001).status_code == 413


def test_the_question_the_propositions_and_the_weight_of_a_dispute_are_chosen(asking):
    assert bring(asking, "theirs", laid.example("04-marrable-b")).status_code == 200
    on_period = asking.get(f"{CASE}/dispute?q=period&weight=0.25").text
    assert "P2 Rebuilding" in on_period
    assert 'value="0.25"' in on_period
    named = asking.get(f"{CASE}/dispute?a.mould=M04&b.mould=M05&weight=0.5").text
    assert "M05 Marrable" in named
    for wrong, said in (
        ("weight=2", "a weight lies between 0 and 1"),
        ("weight=half", "a number between 0 and 1"),
        ("a.mould=M04", "both sides"),
        ("q=grog", "grog"),
    ):
        shown = asking.get(f"{CASE}/dispute?{wrong}").text
        assert 'role="alert"' in shown, wrong
        assert said in shown, wrong
    saved = asking.get(f"{CASE}/dispute.html?q=period")
    assert 'filename="joint-weir-004.html"' in saved.headers["content-disposition"]


def test_what_a_look_is_worth_shows_only_once_the_readings_are_locked(asking):
    laid.lay(asking.casebook.parent, "07-cleaned", "c" * 16)
    blind = asking.get(f"{OPEN}/looks").text
    assert "never in which direction" in blind
    assert "<table" not in blind
    assert asking.get(f"{OPEN}/report").status_code == 403
    told = asking.get(f"{PRACTICE}/looks?q=period").text
    assert "new leader" in told
    assert 'role="alert"' in asking.get(f"{PRACTICE}/looks?q=grog").text


def test_a_risk_that_is_too_high_leaves_a_trait_out(asking):
    before, found, after = MODEL.partition(b"  quartz:\n")
    assert found
    risky = after.replace(b"examine: {", b"examine: {risk: 0.4, ", 1)
    model = read_with_lines(before + found + risky, "risky.yaml")[0]
    other = Asking(asking.casebook.parent, model)
    assert "Left out as too risky" not in other.get(f"{PRACTICE}/looks").text
    shown = other.get(f"{PRACTICE}/looks?risk=0").text
    assert f"Left out as too risky: {model.node('quartz').title}" in shown


def test_a_report_on_other_propositions_is_shown_saved_and_kept(asking):
    query = "a.period=P2&b.period=P5"
    assert "chosen beside this page" in asking.get(f"{CASE}/report?{query}").text
    data = asking.get(f"{CASE}/report.json?{query}").json()
    assert data["explanation"]["for"] == "period=P2"
    assert asking.get(f"{CASE}/report?a.period=P2").status_code == 422
    assert asking.post(f"{CASE}/report?{query}").json()["go"] == "/casebook/case/weir-004"
    with opening.opened(asking.casebook) as store, store.reading():
        _, opinion = read_case(store, "weir-004").opinions[-1]
    assert opinion.named == ("period=P2", "period=P5")
    assert asking.post(f"{PRACTICE}/report").status_code == 422


def test_a_certificate_is_checked_against_page_model_lists_and_the_file_of_a_key(asking):
    made_key("north", SECRET)
    sent = {"key": "north", "passphrase": SECRET, "by_digest": "yes"}
    go = asking.post(f"{CASE}/certificate", sent).json()["go"]
    one = f"{CASE}/certificate/{go.partition('=')[2]}"
    text, page = asking.get(f"{one}.json").content, asking.get(f"{one}.html").content
    assert json.loads(text)["credentialSubject"]["trace"]["model"]["source"] is None
    asking.post("/keys/north/list", {"what": "renew", "passphrase": SECRET})
    listed = asking.get("/keys/north/status.json").content
    pem = asking.get("/keys/north/public.pem").content

    def check(**said):
        files = {name: base64.b64encode(content).decode() for name, content in said.items()
                 if isinstance(content, bytes)}  # fmt: skip
        body = {"certificate": base64.b64encode(text).decode(), **said, **files}
        answer = asking.post("/verify", content=json.dumps(body).encode())
        if answer.status_code != 200:
            return answer.json()["error"]
        return asking.get(f"{answer.json()['go']}.json").json()

    bare = check(recompute=False)
    assert bare["valid"]
    whole = check(page=page, model=MODEL, status=listed, status_kept=listed, since="2026-01-01",
                  signer_file=pem)  # fmt: skip
    assert whole["valid"], whole["failures"]
    assert {c["name"]: c["state"] for c in whole["checks"]}["model"] == "passed"
    assert {c["state"] for c in whole["checks"]} == {"passed"}
    other_model = MODEL.replace(b"version: 1.0.0", b"version: 1.0.1", 1)
    codes = [f["code"] for f in check(model=other_model, recompute=False)["failures"]]
    assert codes == ["older_model"]
    altered = page.replace(b"weir-004", b"weir-005")
    assert [f["code"] for f in check(page=altered, model=MODEL)["failures"]] == ["other_page"]
    assert "held against the list of today" in check(status_kept=listed)
    assert "no day" in check(status=listed, since="soon")
    assert "the file of the key" in check(signer_file=b"/etc/hostname")
    assert "the model you expect" in check(model=b"a: 1")
