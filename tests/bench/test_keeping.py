"""Keeping a casebook at the bench: what the command line does with one, asked without a browser."""

import io
import json
import re

from bench import laid
from bench.asking import Asking
from PIL import Image

from claywit.bench.pages import keeping
from claywit.bench.signing import made_key
from claywit.bench.web import Refused
from claywit.certificate.status import Entry
from claywit.certificate.verify import read_status
from claywit.records import opening
from claywit.records.case import read_case
from claywit.records.kept import Opinion
from claywit.records.log import read_head

SECRET = "seven grey herons stood still"  # noqa: S105 - of a key that lives for a test
CASE = f"/piece/{'a' * 16}"
BOOK = "/casebook/case/weir-004"
SEEN = re.compile(r'name="seen" value="([0-9a-f]+)"')


def signed(asking, **said):
    """Sign a certificate of the case; return its digest and its file."""
    sent = {"key": "north", "passphrase": SECRET, **said}
    digest = asking.post(f"{CASE}/certificate", sent).json()["go"].rpartition("=")[2]
    return digest, asking.get(f"{CASE}/certificate/{digest}.json").content


def listed(asking):
    text = asking.get("/keys/north/status.json").content
    return read_status(text).credentialSubject.status.entries


def case_of(asking, name="weir-004"):
    with opening.opened(asking.casebook) as store, store.reading():
        return read_case(store, name)


def test_the_log_shows_each_step_and_is_saved_with_its_hashes(asking, monkeypatch):
    shown = asking.get("/casebook/log?case=weir-004").text
    assert "readings locked" in shown
    assert "weir-005" not in shown
    entries = asking.get("/casebook/log.json").json()
    with opening.opened(asking.casebook) as store:
        assert entries[-1]["hash"] == store.head().hash
    monkeypatch.setattr(keeping, "AT_A_TIME", 4)
    pages = [
        asking.get(f"/casebook/log{query}").text for query in ("", f"?before={len(entries) - 4}")
    ]
    assert [page.count('<th scope="row" class="n">') for page in pages] == [4, 4]
    assert asking.get("/casebook/log?case=weir-999").status_code == 404
    assert asking.get("/casebook/log?before=zebra").status_code == 200


def test_a_copy_is_the_whole_casebook_and_nothing_of_it_stays_beside_the_drafts(asking, tmp_path):
    got = asking.get("/casebook/backup")
    assert 'filename="casebook-2026-01-21.db"' in got.headers["content-disposition"]
    copy = tmp_path / "copy.db"
    copy.write_bytes(got.content)
    with opening.opened(copy) as one, opening.opened(asking.casebook) as other:
        assert one.head() == other.head()
    assert list(asking.desk.drafts.glob("copy-*")) == []


def test_a_copy_that_nobody_fetched_is_cleared_away_by_the_next(asking):
    left = asking.desk.drafts / "copy-dead"
    left.mkdir()
    (left / ".copy.db.draft").write_bytes(b"half a copy")
    asking.ticks = 10**7  # some years after
    assert asking.get("/casebook/backup").status_code == 200
    assert not left.exists()


def test_a_copy_whose_page_has_gone_does_not_stay(asking, monkeypatch):
    async def gone(_, copy, *said):
        copy(*said)
        raise Refused(499, "Nobody waits for this any more.")

    monkeypatch.setattr(keeping, "studied", gone)
    assert asking.get("/casebook/backup").status_code == 499
    assert list(asking.desk.drafts.glob("copy-*")) == []


def test_a_casebook_is_held_against_a_head_that_was_kept_outside(asking):
    with opening.opened(asking.casebook) as store:
        head = str(store.head())
    assert "✓ It agrees" in asking.get(f"/casebook/check?head={head}").text
    other = head[:-1] + ("0" if head[-1] != "0" else "1")
    assert "It disagrees" in asking.get(f"/casebook/check?head={other}").text
    assert asking.get("/casebook/check?head=zebra").status_code == 422
    length, _, digest = head.partition(":")
    written = json.dumps({"log": {"length": int(length), "head": digest}})  # as a certificate does
    go = asking.post("/casebook/check", content=written.encode()).json()["go"]
    assert "✓ It agrees" in asking.get(go).text
    assert read_head(go.partition("=")[2]).length == read_head(head).length
    assert asking.post("/casebook/check", content=b"{}").status_code == 422


def test_all_kept_opinions_are_formed_again_but_of_what_is_read_on_the_bench(asking):
    laid.lay(asking.casebook.parent, "04-marrable-b", "c" * 16)
    shown = asking.get("/casebook/replay").text
    assert "Left out" in shown
    assert "M04" not in shown


def test_past_cases_are_weighed_again_and_what_changes_is_kept_beside(asking):
    """A later version of the model that asks another question first, where a file asks nothing."""
    model = asking.desk.model
    asks_nothing = {"question": None, "propositions": None, "piece": {"id": "weir-090"}}
    laid.take_in(asking.casebook, laid.example("04-marrable-b", **asks_nothing))
    later = model.model_copy(update={"version": "1.0.1", "targets": tuple(reversed(model.targets))})
    assert "No opinion was formed" in asking.get("/casebook/reopen").text
    newer = Asking(asking.casebook.parent, later)
    newer.ticks = asking.ticks + 60
    assert "2 opinions weighed again: 1 in other words" in newer.get("/casebook/reopen").text
    assert len(case_of(asking, "weir-090").opinions) == 1
    go = newer.post("/casebook/reopen").json()["go"]
    assert go == "/casebook/reopen?kept=1"
    assert "Kept: 1 new opinion." in newer.get(go).text
    before, after = (o.words.question for _, o in case_of(asking, "weir-090").of(Opinion))
    assert (before, after) == (model.targets[0], model.targets[-1])


def test_a_key_is_listed_with_what_it_took_back_and_all_of_it_only_with_a_tick(asking):
    made_key("north", SECRET)
    shown = asking.get("/keys").text
    assert "did:key:z6Mk" in shown
    pem = asking.get("/keys/north/public.pem")
    assert pem.text.startswith("-----BEGIN PUBLIC KEY-----")
    assert asking.get("/keys/south/public.pem").status_code == 404
    assert asking.get("/keys/north/status.json").status_code == 404
    sent = {"what": "all", "passphrase": SECRET, "reason": "stolen"}
    refused = asking.post("/keys/north/list", sent)
    assert refused.status_code == 422
    assert "tick" in refused.json()["error"]
    assert (
        asking.post("/keys/north/list", {**sent, "passphrase": "x", "sure": "yes"}).status_code
        == 422
    )
    assert (
        asking.post("/keys/north/list", {"what": "renew", "passphrase": SECRET}).status_code == 200
    )
    empty = asking.get("/keys/north/status.json").content
    assert read_status(empty).credentialSubject.status.entries == ()
    assert asking.post("/keys/north/list", {**sent, "sure": "yes"}).status_code == 200
    (entry,) = listed(asking)
    assert (entry.certificate, entry.state, entry.reason) == (None, "revoked", "stolen")
    assert "all that it ever signed" in asking.get("/keys").text
    assert asking.post("/keys/north/status", content=empty).status_code == 422  # it lacks the entry


def test_a_certificate_whose_opinion_was_superseded_is_listed_once_another_stands(asking):
    made_key("north", SECRET)
    signed(asking)
    kept = asking.post(f"{CASE}/report?q=class")
    assert kept.json()["go"] == BOOK
    assert "has no certificate in its place yet" in asking.get("/keys").text
    superseded = {"what": "superseded", "passphrase": SECRET}
    asking.post("/keys/north/list", superseded)
    assert listed(asking) == ()

    _, later = signed(asking, valid_until="2036-01-01")
    assert "is to be listed" in asking.get("/keys").text
    asking.post("/keys/north/list", superseded)
    (entry,) = listed(asking)
    assert isinstance(entry, Entry)
    assert (entry.state, entry.by) == ("superseded", json.loads(later)["id"])


def test_an_intake_is_corrected_with_a_reason_and_what_stood_there_stays(asking):
    form = asking.get(f"{BOOK}/intake").text
    assert 'name="reason"' in form
    piece = case_of(asking).opened.piece
    assert f'value="{piece.type}"' in form
    said = {"type": "pressed plaque", "provenance_contested": "yes", "story": "and a letter"}
    said["seen"] = SEEN.search(form)[1]
    assert asking.post(f"{BOOK}/intake", said).status_code == 422
    done = asking.post(f"{BOOK}/intake", {**said, "reason": "a claim came in"})
    assert done.json()["go"] == BOOK
    case = case_of(asking)
    assert (case.opened.piece.type, case.opened.reason) == ("pressed plaque", "a claim came in")
    assert case.opened.piece.photographs == piece.photographs
    contested = asking.get(f"{CASE}/report")
    assert contested.status_code == 403
    assert "correct its intake" in contested.text
    assert asking.post("/casebook/case/none/intake", {**said, "reason": "x"}).status_code == 404


def test_a_correction_in_a_second_tab_does_not_undo_that_of_the_first(asking):
    seen = SEEN.search(asking.get(f"{BOOK}/intake").text)[1]
    said = {"seen": seen, "reason": "measured anew", "story": "", "measurements": "12 x 9 cm"}
    assert asking.post(f"{BOOK}/intake", said).status_code == 200
    late = asking.post(f"{BOOK}/intake", {**said, "measurements": "", "type": "tile"})
    assert late.status_code == 409
    assert "corrected meanwhile" in late.json()["error"]
    assert case_of(asking).opened.piece.measurements == "12 x 9 cm"


def test_more_is_added_to_a_case_and_fetched_from_it(asking):
    assert asking.post(f"{BOOK}/seal", {"story": "a second letter"}).status_code == 200
    assert asking.post(f"{BOOK}/seal", {"story": ""}).status_code == 422
    assert "a second letter" not in asking.get(BOOK).text
    assert asking.post("/casebook/case/weir-005/certificate", content=b"{}").status_code == 422
    step, held = case_of(asking).examination()
    got = asking.get(f"{BOOK}/fetch/{held.evidence}")
    assert got.content == laid.example("certified/04-marrable")
    assert asking.get(f"{BOOK}/fetch/{step.digest}").status_code == 404
    laid.lay(asking.casebook.parent, "04-marrable-b", "c" * 16)
    assert asking.get(f"{BOOK}/fetch/{held.evidence}").status_code == 403


def test_readings_from_a_file_are_locked_then_amended_with_a_reason_and_judged(asking):
    written = laid.example("04-marrable-b")
    assert asking.post(f"{BOOK}/readings", content=written).status_code == 200
    changed = laid.example("04-marrable-b", notes="looked again")
    refused = asking.post(f"{BOOK}/readings", content=changed)
    assert "why they change" in refused.json()["error"]
    assert asking.post(f"{BOOK}/readings?reason=again", content=changed).status_code == 200
    assert [o.words.leading for _, o in case_of(asking).opinions] == ["M04", "M12"]
    on_the_bench = laid.example("certified/04-marrable", notes="by another way")
    assert asking.post(f"{BOOK}/readings?reason=x", content=on_the_bench).status_code == 409
    of_another_piece = laid.example("05-copy", examiner="C")
    assert asking.post(f"{BOOK}/readings", content=of_another_piece).status_code == 422


def test_triage_shows_nothing_of_a_case_on_which_no_opinion_is_kept_yet(asking):
    shown = asking.get("/casebook/triage").text
    assert "were locked by another program" in shown
    assert '/casebook/case/weir-005"><bdi>weir-005</bdi></a></th>' not in shown
    assert asking.post("/casebook/triage").json()["go"] == "/casebook/triage"
    assert case_of(asking, "weir-005").opinions
    after = asking.get("/casebook/triage").text
    assert "were locked by another program" not in after
    assert "weir-005" in after


def test_a_photograph_of_the_whole_piece_is_kept_with_its_view_and_scale(asking):
    held = io.BytesIO()
    Image.new("RGB", (40, 30), "gray").save(held, "PNG")
    address = f"{BOOK}/photograph?view=front&scale=10+mm+bar"
    assert asking.post(address, content=b"no picture").status_code == 422
    assert asking.post(f"{BOOK}/photograph?scale=none", content=held.getvalue()).status_code == 422
    assert asking.post(address, content=held.getvalue()).status_code == 200
    ((_, kept),) = case_of(asking).photographs
    assert (kept.view, kept.scale, kept.width) == ("front", "10 mm bar", 40)
