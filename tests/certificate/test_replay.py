"""What a dishonest signer wrote, found by its digests or by forming the opinion anew."""

import pytest
from made import (
    ROOT,
    codes,
    in_trace,
    signed_again,
    small_case,
    small_certificate,
    states,
    verify,
)

from claywit import __version__
from claywit.certificate import replay as replay_module
from claywit.certificate.canonical import digest_of
from claywit.certificate.shipped import SHIPPED
from claywit.records import files
from claywit.report.digest import digest


@pytest.fixture(scope="module")
def made():
    return small_certificate()


def change_model(raw):
    model = raw["credentialSubject"]["trace"]["model"]["source"]
    model["title"] = "another"


def change_evidence(raw):
    raw["credentialSubject"]["trace"]["evidence"]["source"]["findings"]["rim"] = {"says": "flat"}


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (change_model, "model_differs"),
        (in_trace("model", "digest", value="0" * 64), "model_differs"),
        (in_trace("report", "model", "digest", value="0" * 64), "model_differs"),
        (change_evidence, "findings_differ"),
        (in_trace("report", "evidence", "digest", value="0" * 64), "findings_differ"),
        (in_trace("scale", "digest", value="0" * 64), "data_differ"),
        (in_trace("policy", "digest", value="0" * 64), "data_differ"),
    ],
)
def test_a_digest_that_does_not_fit_is_found_without_recomputing(made, change, code):
    """A careless or dishonest signer: the signature is good, the content is not."""
    assert code in codes(verify(signed_again(made.text, change), recompute=False))


def redigest(raw):
    """Put the right digests on a changed model and evidence."""
    trace = raw["credentialSubject"]["trace"]
    for part in ("model", "evidence"):
        trace[part]["digest"] = trace["report"][part]["digest"] = digest_of(trace[part]["source"])


def then(*changes):
    def change(raw):
        for one in changes:
            one(raw)

    return change


def change_prior(raw):
    rows = raw["credentialSubject"]["trace"]["model"]["source"]["nodes"][0]["rows"]
    rows[0]["p"] = {"north": 0.4, "south": 0.5, "other": 0.1}


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (in_trace("report", "posterior", "shop", "north", value="0.900000000000"), "numbers_do_not_follow"),
        (in_trace("report", "explanation", "total_bans", value=2.0), "numbers_do_not_follow"),
        (in_trace("report", "log10_evidence", value=-3.0), "numbers_do_not_follow"),
        (in_trace("report", "explanation", "groups", 0, "share_bans", value=1.0), "numbers_do_not_follow"),
        (in_trace("report", "next", value=None), "numbers_do_not_follow"),
        (in_trace("report", "intervals", "leads", value="0.999"), "draws_differ"),
        (in_trace("report", "intervals", "seed", value=7.0), "draws_differ"),
        (then(change_prior, redigest), "numbers_do_not_follow"),
        (then(change_evidence, redigest), "findings_differ"),
        (in_trace("report", "findings", 0, "reading", value="flat"), "findings_differ"),
        (in_trace("reliability", "mark", "sure", value=0.99), "findings_differ"),
        (in_trace("not_recorded", value=[]), "findings_differ"),
        (in_trace("report", "statement", 0, value="Workshop: North, certainly."), "words_differ"),
        (in_trace("limits", value=["None."]), "words_differ"),
        (in_trace("notices", value=["Tested on all pieces."]), "words_differ"),
        (in_trace("report", "question", value="rim"), "question_differs"),
        (in_trace("report", "more", value=1.0), "numbers_do_not_follow"),
    ],
)  # fmt: skip
def test_what_a_dishonest_signer_wrote_is_found_by_forming_the_opinion_anew(made, change, code):
    text = signed_again(made.text, change)
    assert code in codes(verify(text))
    if code == "numbers_do_not_follow":
        assert verify(text, recompute=False).valid


@pytest.mark.parametrize(
    "change",
    [
        in_trace("model", "source", "nodes", 1, "parents", value=["nobody"]),
        in_trace("model", "source", "nodes", value=[]),
        in_trace("evidence", "source", "findings", "rim", value={"says": "round"}),
        in_trace("evidence", "source", "propositions", value=None),
        in_trace("scale", "source", value={}),
    ],
)
def test_content_that_no_opinion_can_come_from_is_refused_not_a_crash(made, change):
    def whole(raw):
        change(raw)
        redigest(raw)
        scale = raw["credentialSubject"]["trace"]["scale"]
        scale["digest"] = digest_of(scale["source"])

    verdict = verify(signed_again(made.text, whole))
    # A scale without a name is found by its name, too.
    assert codes(verdict)[-1] == "numbers_do_not_follow"


def drop_interest(raw):
    del raw["credentialSubject"]["trace"]["evidence"]["source"]["engagement"]["interest"]


def drop_prior_source(raw):
    del raw["credentialSubject"]["trace"]["model"]["source"]["nodes"][0]["rows"][0]["source"]


def call_it_measured(raw):
    trace = raw["credentialSubject"]["trace"]
    for model in (trace["model"]["source"], trace["model"], trace["report"]["model"]):
        model["status"] = "measured"


@pytest.mark.parametrize("change", [drop_interest, drop_prior_source, call_it_measured])
def test_what_would_not_have_been_issued_is_found_incomplete(made, change):
    assert "incomplete" in codes(verify(signed_again(made.text, then(change, redigest))))


def test_the_second_engine_alone_finds_what_claywit_itself_would_repeat(made, monkeypatch):
    """A slip in claywit's own engine would be signed and replayed alike; pgmpy is not fooled."""
    stored = made.certificate.trace.report

    def slip(raw):
        raw["credentialSubject"]["trace"]["report"]["log10_evidence"] += 1e-6

    monkeypatch.setattr(replay_module, "_beside", lambda stored, fresh: iter(()))
    verdict = verify(signed_again(made.text, slip))
    assert codes(verdict) == ["numbers_do_not_follow"]
    assert f"{stored['log10_evidence'] + 1e-6}"[:8] in verdict.failures[0].sentence
    assert verify(made.text).valid


def test_a_model_by_digest_is_checked_against_the_one_given():
    text = small_certificate(embed=False).text
    known, _ = small_case()
    alone = verify(text)
    assert alone.valid
    assert states(alone)["numbers"] == "not checked"
    assert states(verify(text, model=known)) | {"numbers": "passed", "model": "passed"} == states(
        verify(text, model=known)
    )
    for update, code in [
        ({"version": "1.0.1"}, "older_model"),
        ({"version": "0.9.9"}, "model_differs"),
        ({"title": "another"}, "model_differs"),
        ({"name": "other", "version": "2.0.0"}, "model_differs"),
    ]:
        other = known.model_copy(update=update)
        assert codes(verify(text, model=other)) == [code]


def test_the_words_of_another_version_are_not_held_against_it(made):
    def older(raw):
        trace = raw["credentialSubject"]["trace"]
        trace["method"]["version"] = f"{__version__}.older"
        trace["report"]["statement"][0] = "Said otherwise."
        del trace["report"]["explanation"]["groups"][0]["share_bans"]

    verdict = verify(signed_again(made.text, older))
    assert verdict.valid
    assert "share_bans" in "".join(check.sentence for check in verdict.checks)

    def wrong(raw):
        older(raw)
        raw["credentialSubject"]["trace"]["report"]["explanation"]["total_bans"] = 1.0

    assert codes(verify(signed_again(made.text, wrong))) == ["numbers_do_not_follow"]


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (in_trace("model", "version", value="9.9.9"), "model_differs"),
        (in_trace("model", "name", value="other"), "model_differs"),
        # The mark "Demonstration" on every page hangs on it.
        (in_trace("model", "status", value="measured"), "model_differs"),
        (in_trace("report", "model", "version", value="9.9.9"), "model_differs"),
        (in_trace("model", "version", value="9" * 5000 + ".0.0"), "schema"),
    ],
)
@pytest.mark.parametrize("embed", [True, False])
def test_name_version_and_status_of_the_model_are_those_of_the_model(change, code, embed):
    text = signed_again(small_certificate(embed=embed).text, change)
    assert set(codes(verify(text, recompute=False))) == {code}


def test_a_method_that_claywit_does_not_state_is_found(made):
    change = in_trace("method", "inference", value="exact, and approved by all")
    assert codes(verify(signed_again(made.text, change))) == ["words_differ"]


def test_a_scale_under_the_name_of_a_shipped_one_is_the_shipped_one(made):
    def change(raw):
        scale = raw["credentialSubject"]["trace"]["scale"]
        scale["source"]["bands"] = {"certain": None}
        scale["digest"] = digest_of(scale["source"])

    assert codes(verify(signed_again(made.text, change), recompute=False)) == ["not_as_shipped"]

    def rename(raw):
        change(raw)
        scale = raw["credentialSubject"]["trace"]["scale"]
        scale["id"] = scale["source"]["id"] = "my-own"
        scale["digest"] = digest_of(scale["source"])

    assert verify(signed_again(made.text, rename), recompute=False).valid


def test_what_ships_under_a_name_never_changes():
    """A changed scale or policy gets a new name, and a new line in `SHIPPED`."""
    kept = {files.DEFAULT_SCALE: files.read_scale(), files.DEFAULT_POLICY: files.read_policy()}
    for name, value in kept.items():
        assert value.id == name
        assert SHIPPED[name] == digest(value)
    data = {path.stem for path in (ROOT / "src/claywit/data").glob("*.yaml")}
    assert data <= set(SHIPPED)
