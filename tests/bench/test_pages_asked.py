"""The pages beside the examination, asked without a browser: what they refuse, what they hide."""

import base64
import io
import json
import re

from bench import laid
from bench.payloads import PAYLOADS
from PIL import Image

from claywit.bench import drafts
from claywit.bench.pages.photographs import shown
from claywit.bench.signing import key_of
from claywit.records import casebook, opening
from claywit.records.case import read_case

SECRET = "seven grey herons stood still"  # noqa: S105 - of a key that lives for a test
CASE, PRACTICE, OPEN = (f"/piece/{letter * 16}" for letter in "abc")


def second_reader(asking):
    laid.lay(asking.casebook.parent, "04-marrable-b", "c" * 16)


def test_a_second_examiner_sees_nothing_of_the_first_ones_opinion(asking):
    assert "M04" in asking.get("/casebook").text
    second_reader(asking)
    for address in (
        "/casebook",
        "/casebook/case/weir-004",
        "/casebook/triage",
        "/casebook?q=ferry",
    ):
        answer = asking.get(address)
        assert answer.status_code == 200
        assert "M04" not in answer.text
    assert "No case holds" in asking.get("/casebook?q=ferry+stage").text
    for page in ("contrast", "dispute", "moulds", "certificate"):
        assert asking.get(f"{OPEN}/{page}").status_code == 403
    assert asking.get(f"/model?piece={'c' * 16}").status_code == 403
    assert asking.post(f"{OPEN}/dispute", content=b"x").status_code == 403
    assert asking.post(f"{OPEN}/certificate", {"key": "north"}).status_code == 403


def test_a_practice_piece_is_never_certified(asking):
    assert "never certified" in asking.get(f"{PRACTICE}/certificate").text
    refused = asking.post(f"{PRACTICE}/certificate", {"key": "north", "passphrase": SECRET})
    assert refused.status_code == 422
    assert "never certified" in refused.json()["error"]


def test_a_key_is_named_never_by_its_folder_and_its_passphrase_is_kept_nowhere(asking, caplog):
    folder = str(asking.casebook.parent)
    both = {"passphrase": SECRET, "again": SECRET}
    assert asking.post("/keys", {"name": "north", **both}).status_code == 200
    wrong = [
        asking.post("/keys", {"name": "north", **both}),
        asking.post("/keys", {"name": "../north", **both}),
        asking.post("/keys", {"name": "short", "passphrase": "x", "again": "x"}),
        asking.post("/keys", {"name": "south", "passphrase": SECRET, "again": "another one"}),
        asking.post(f"{CASE}/certificate", {"key": "nobody", "passphrase": SECRET}),
        asking.post(f"{CASE}/certificate", {"key": "north", "passphrase": "wrong"}),
        asking.post(f"{CASE}/certificate", {"key": "/etc/passwd", "passphrase": SECRET}),
    ]
    for answer in wrong:
        assert answer.status_code == 422, answer.text
        assert folder not in answer.text
        assert SECRET not in answer.text
    (asking.casebook.parent / "config" / "claywit" / "keys" / "north.key").chmod(0o644)
    shown = asking.get(f"{CASE}/certificate").text
    assert "open to others" in shown
    assert folder not in shown
    assert SECRET not in caplog.text
    files = [path for path in asking.casebook.parent.rglob("*") if path.is_file()]
    assert not any(SECRET.encode() in path.read_bytes() for path in files)


def test_what_a_certificate_lacks_is_said_in_the_words_of_the_page(asking):
    shown = asking.get(f"/piece/{'d' * 16}/certificate").text
    assert "No certificate is issued while this is missing" in shown
    assert "<strong>Client</strong>: for whom" in shown
    assert "{value:" not in shown
    assert "or “none”" in shown
    assert f"/piece/{'d' * 16}/terms" in shown


def test_whatever_is_brought_to_be_checked_gets_one_answer_and_runs_nothing(asking):
    brought = [b"{}", b"\x00", b"[" * 50_000, *(text.encode() for text in PAYLOADS)]
    for content in brought:
        sent = {"certificate": base64.b64encode(content).decode()}
        go = asking.post("/verify", content=json.dumps(sent).encode()).json()["go"]
        shown = asking.get(go)
        assert shown.status_code == 200, content
        assert "NOT VALID" in shown.text, content
    for sent in (
        {},
        {"certificate": "§"},
        {"certificate": 3},
        {"certificate": "e30=", "signer": "/etc/hostname"},
        {"certificate": "e30=", "signer": "did:key:zebra"},
    ):
        answer = asking.post("/verify", content=json.dumps(sent).encode())
        assert answer.status_code in (400, 422), sent
    assert asking.get("/verify/0000000000000000").status_code == 404


def test_a_file_beside_the_casebook_is_never_run_as_a_library(tmp_path, monkeypatch):
    for name in ("claywit", "PIL", "resource"):
        (tmp_path / f"{name}.py").write_text("open('ran', 'w').close()\n")
    monkeypatch.chdir(tmp_path)
    held = io.BytesIO()
    Image.new("RGB", (40, 30), "gray").save(held, "PNG")
    assert shown(held.getvalue()).startswith(b"\xff\xd8")
    assert not (tmp_path / "ran").exists()


def test_a_certificate_is_fetched_only_by_the_piece_that_has_it(asking):
    asking.post("/keys", {"name": "north", "passphrase": SECRET, "again": SECRET})
    sent = {"key": "north", "passphrase": SECRET, "valid_until": "2036-01-01"}
    go = asking.post(f"{CASE}/certificate", sent).json()["go"]
    digest = go.partition("=")[2]
    got = asking.get(f"{CASE}/certificate/{digest}.json")
    assert got.headers["content-disposition"].startswith("attachment")
    assert json.loads(got.content)["validUntil"] == "2036-01-01T23:59:59Z"
    assert asking.get(f"{PRACTICE}/certificate/{digest}.json").status_code == 404
    assert asking.get(f"{CASE}/certificate/{'0' * 64}.json").status_code == 404
    assert asking.get(f"{CASE}/certificate/{digest}.exe").status_code == 404
    with opening.opened(asking.casebook) as store, store.reading():
        assert read_case(store, "weir-004").certificates[0][1].certificate == digest
    refused = asking.post(f"{CASE}/certificate", {**sent, "supersedes": "0" * 64})
    assert refused.status_code == 422
    again = asking.post(f"{CASE}/certificate", {**sent, "supersedes": digest}).json()["go"]
    text = asking.get(f"{CASE}/certificate/{again.partition('=')[2]}.json").content
    trace = json.loads(text)["credentialSubject"]["trace"]
    assert trace["supersedes"]["digest"] == digest


def test_a_certificate_brought_as_the_other_side_is_weighed_with_the_model_it_carries(asking):
    asking.post("/keys", {"name": "north", "passphrase": SECRET, "again": SECRET})
    go = asking.post(f"{CASE}/certificate", {"key": "north", "passphrase": SECRET}).json()["go"]
    text = asking.get(f"{CASE}/certificate/{go.partition('=')[2]}.json").content
    draft = drafts.read(asking.desk.drafts, "b" * 16)
    assert draft.practice
    assert asking.post(f"{PRACTICE}/dispute", content=text).status_code == 200
    assert "Agreed" in asking.get(f"{PRACTICE}/dispute").text
    beside = drafts.beside(asking.desk.drafts, draft.id)
    assert beside.read_bytes() == text
    changed = text.replace(b"weir-004", b"weir-005")
    refused = asking.post(f"{PRACTICE}/dispute", content=changed)
    assert refused.status_code == 422
    assert "something was changed after signing" in refused.json()["error"]
    assert asking.post(f"{PRACTICE}/dispute/forget").json()["go"] == f"{PRACTICE}/dispute"
    assert not beside.exists()
    assert asking.post(f"{PRACTICE}/dispute", content=b"x" * 6_000_001).status_code == 413


def test_a_case_without_a_name_is_no_case(asking):
    for data in ({"examiner": "A"}, {"examiner": "A", "case": ""}):
        refused = asking.post("/begin", data)
        assert refused.status_code == 422
        assert "no case" in refused.json()["error"]


def test_what_is_signed_is_what_was_looked_over(asking, monkeypatch):
    both = {"passphrase": SECRET, "again": SECRET}
    asking.post("/keys", {"name": "north", **both})
    seen = re.search(
        r'name="looked_over" value="([0-9a-f]{64})"', asking.get(f"{CASE}/certificate").text
    )
    sent = {"key": "north", "passphrase": SECRET, "looked_over": seen[1]}

    def amend(note):
        with opening.opened(asking.casebook, write=True) as store:
            written = laid.example("certified/04-marrable", notes=note)
            casebook.amend(store, "weir-004", written, note, asking.now(), name="e.yaml")

    amend("after the page was loaded")
    assert asking.post(f"{CASE}/certificate", sent).status_code == 409

    def slowly(*args):
        amend("while the passphrase was tried")
        return key_of(*args)

    monkeypatch.setattr("claywit.bench.pages.certificate.key_of", slowly)
    late = asking.post(f"{CASE}/certificate", {**sent, "looked_over": ""})
    assert late.status_code == 409
    assert "amended since" in late.json()["error"]
    with opening.opened(asking.casebook) as store, store.reading():
        assert read_case(store, "weir-004").certificates == []
