"""What the command line does for one piece, asked of the bench without a browser."""

from hashlib import sha256
from io import BytesIO
from threading import Thread
from zipfile import ZIP_DEFLATED, ZipFile

from bench import laid
from bench.asking import Asking
from made import SIGNER, signed_again

from claywit.bench import listing
from claywit.bench.pages import revoking
from claywit.bench.pages.certificate import certificates_of
from claywit.bench.signing import made_key
from claywit.bench.standing import open_up
from claywit.certificate.check import Against, verify
from claywit.certificate.standing import Lists
from claywit.records import casebook, opening

SECRET = "seven grey herons stood still"  # noqa: S105 - of a key that lives for a test
CASE, PRACTICE, OPEN = (f"/piece/{letter * 16}" for letter in "abc")
SEALED = "found in a boat locker"


def signed(asking, **said):
    """Sign a certificate of the case; return its digest."""
    sent = {"key": "north", "passphrase": SECRET, **said}
    return asking.post(f"{CASE}/certificate", sent).json()["go"].rpartition("=")[2]


def file_of(asking, digest):
    return asking.get(f"{CASE}/certificate/{digest}.json").content


def test_the_report_says_what_assess_says_on_the_page_and_as_a_file(asking):
    shown = asking.get(f"{CASE}/report?q=period").text
    assert 'style="' not in shown
    assert "What else it could be" in shown
    assert "<caption>Period of pressing</caption>" in shown
    saved = asking.get(f"{CASE}/report.html?q=period")
    assert 'filename="report-weir-004.html"' in saved.headers["content-disposition"]
    body = shown[shown.index('<section aria-labelledby="what">') : shown.index("</main>")].strip()
    assert body in saved.text


def test_report_and_stories_stay_hidden_while_readings_are_open_but_not_ones_own_readings(asking):
    laid.lay(asking.casebook.parent, "07-cleaned", "c" * 16)
    for page in ("report", "report.html", "stories"):
        assert asking.get(f"{OPEN}/{page}").status_code == 403
    own = asking.get(f"{OPEN}/evidence.yaml")
    assert own.status_code == 200
    assert b"weir-007" in own.content


def test_stories_are_told_about_what_is_chosen_and_nothing_else(asking):
    shown = asking.get(f"{PRACTICE}/stories?about=period&about=workshop&best=10").text
    assert "Taken together, the likeliest story is" in shown
    assert shown.count("P2 Rebuilding") >= 2
    told = shown[shown.index("<caption>The likeliest stories") : shown.index("Together these have")]
    assert "M04" not in told
    wrong = asking.get(f"{PRACTICE}/stories?about=grog")
    assert "it can be not visible, and a question is about a state" in wrong.text
    assert asking.get(f"{PRACTICE}/stories?about=../x").status_code == 404


def test_a_number_of_the_model_is_varied_for_a_piece(asking):
    shown = asking.get(f"/model?piece={'a' * 16}&node=shell&number=shell%3Dpresent,paste%3DA").text
    assert "The answer, if another number stood there" in shown
    assert "as it stands" in shown
    assert "<option>shell=present,paste=A</option>" in shown
    wrong = asking.get(f"/model?piece={'a' * 16}&number=shel%3Dpresent").text
    assert "did you mean shell" in wrong


def test_a_certificate_is_taken_back_in_a_list_that_whoever_checks_it_finds(asking):
    public = made_key("north", SECRET)
    first = signed(asking)
    second = signed(asking, supersedes=first)
    address = f"{CASE}/certificate/{first}/revoke"
    assert "This cannot be undone" in asking.get(address).text
    sent = {"key": "north", "passphrase": SECRET, "reason": "a reading was wrong", "by": second}
    assert asking.post(address, {**sent, "passphrase": "wrong one here"}).status_code == 422
    assert asking.get(address.replace("revoke", "status.json")).status_code == 404
    assert asking.post(address, sent).json()["go"] == address
    assert "Superseded" in asking.get(address).text
    for page in (f"{CASE}/certificate", "/casebook/case/weir-004"):
        assert asking.get(page).text.count("superseded</span>") == 1
    again = asking.post(address, sent)
    assert again.status_code == 422
    assert str(asking.casebook.parent) not in again.text
    listed = asking.get(address.replace("revoke", "status.json")).content
    against = Against(signer=public.removeprefix("did:key:"), status=Lists(listed), recompute=False)
    now = asking.now()
    for digest in (first, second):
        verdict = verify(file_of(asking, digest), against, now=now)
        assert ("superseded" in str(verdict.checks)) == (digest == first)
    assert asking.post(address, {**sent, "renew": "yes"}).status_code == 200
    newest = asking.get(address.replace("revoke", "status.json")).content
    brought = asking.post(address.replace("revoke", "status"), content=newest)
    assert brought.status_code == 200
    for wrong in (b"{}", b"", file_of(asking, first)):
        assert asking.post(address.replace("revoke", "status"), content=wrong).status_code == 422


def test_only_the_key_that_signed_takes_back(asking):
    made_key("north", SECRET)
    made_key("south", SECRET)
    address = f"{CASE}/certificate/{signed(asking)}/revoke"
    refused = asking.post(address, {"key": "south", "passphrase": SECRET})
    assert "only that one can take it back" in refused.json()["error"]
    assert asking.get(f"{CASE}/certificate/{'0' * 64}/revoke").status_code == 404
    kept = certificates_of(asking.desk, open_up(asking.desk, "a" * 16))
    assert len(kept) == 1


def test_a_case_is_handed_on_and_taken_in_whole_without_what_is_sealed(asking, tmp_path):
    bundle = asking.get("/casebook/case/weir-004/bundle")
    assert bundle.headers["content-type"] == "application/zip"
    assert SEALED.encode() not in bundle.content
    assert asking.get("/casebook/case/weir-004/bundle?sealed=yes").status_code == 403
    asking.post(f"{CASE}/unmask")
    whole = asking.get("/casebook/case/weir-004/bundle?sealed=yes").content
    assert len(whole) > len(bundle.content)
    (tmp_path / "other").mkdir()
    other = Asking(tmp_path / "other")
    assert (
        other.post("/casebook/import", content=bundle.content).json()["go"]
        == "/casebook/case/weir-004"
    )
    assert "weir-004" in other.get("/casebook").text
    twice = other.post("/casebook/import", content=bundle.content)
    assert "in the field below" in twice.json()["error"]
    for wrong in (b"", b"PK", bundle.content[:-50], b"x" * 24_000_001):
        assert other.post("/casebook/import", content=wrong).status_code in (413, 422)
    assert other.post("/casebook/import?as=../up", content=whole).status_code == 422


def test_a_case_that_somebody_reads_is_neither_handed_on_nor_formed_again(asking):
    laid.lay(asking.casebook.parent, "04-marrable-b", "c" * 16)
    for page in ("bundle", "replay"):
        assert asking.get(f"/casebook/case/weir-004/{page}").status_code == 403
        assert asking.get(f"/casebook/case/nobody/{page}").status_code == 404


def test_kept_opinions_are_formed_again_to_the_same_numbers(asking):
    shown = asking.get("/casebook/case/weir-004/replay").text
    assert "All opinions give the numbers that were kept" in shown


def test_the_opinion_begins_with_what_it_rests_on_and_what_looks_like_a_slip(asking):
    slip = laid.example("04-marrable", findings={"size": {"height": "411 mm", "width": "300 mm"}})
    _, readings = laid.readings_of(slip)
    laid.lay(asking.casebook.parent, "04-marrable", "e" * 16, practice=True, readings=readings)
    shown = asking.get(f"/piece/{'e' * 16}/opinion?q=mould").text
    basis = shown.index("Demonstration model · 0 reference pieces")
    assert basis < shown.index("Look again: height and width: ") < shown.index("<table")
    assert "demonstration model · 0 reference pieces" in asking.get(f"{CASE}/report").text


def test_the_probability_beside_a_size_is_not_said_to_come_from_the_size(asking):
    shown = asking.get(f"{CASE}/moulds").text
    assert "probability, by all findings" in shown
    assert "it is not what the sizes alone say" in shown


def test_what_is_taken_back_while_a_list_is_brought_is_not_lost(asking, monkeypatch):
    """The list that is brought was judged against what lay there a moment before."""
    made_key("north", SECRET)
    first = signed(asking)
    address = f"{CASE}/certificate/{first}/revoke"
    sent = {"key": "north", "passphrase": SECRET, "reason": "wrong"}
    assert asking.post(address, {**sent, "renew": "yes"}).status_code == 200
    empty = asking.get(address.replace("revoke", "status.json")).content
    read = listing.list_of

    def meanwhile(desk, one):
        found = read(desk, one)
        hand = Thread(target=asking.post, args=(address, sent))
        hand.start()
        hand.join(2)  # unless it waits, the other has taken it back by now
        hands.append(hand)
        return found

    hands = []
    monkeypatch.setattr(listing, "list_of", meanwhile)
    revoking._bring(asking.desk, "a" * 16, first, empty)
    monkeypatch.undo()
    hands[0].join()
    assert "wrong" in asking.get(address).text


def test_a_list_that_is_older_or_in_another_order_takes_no_ones_place(asking):
    made_key("north", SECRET)
    digests = [signed(asking), signed(asking, valid_until="2030-01-01")]
    sent = {"key": "north", "passphrase": SECRET}
    lists = []
    for one in digests:
        address = f"{CASE}/certificate/{one}/revoke"
        assert asking.post(address, sent).status_code == 200
        lists.append(asking.get(address.replace("revoke", "status.json")).content)
    (path,) = asking.desk.drafts.glob("*.status")
    bring = address.replace("revoke", "status")
    path.unlink()
    for one in reversed(digests):
        assert asking.post(f"{CASE}/certificate/{one}/revoke", sent).status_code == 200
    held = path.read_bytes()
    assert "another order" in asking.post(bring, content=lists[1]).json()["error"]
    assert asking.post(address, {**sent, "renew": "yes"}).status_code == 200
    assert "the newer one" in asking.post(bring, content=held).json()["error"]


def test_a_certificate_of_anothers_making_is_passed_over_and_no_page_fails(asking):
    odd = b'{"id":"urn:x:1"}'
    with opening.opened(asking.casebook, write=True) as store:
        casebook.keep(store, "weir-004", odd, asking.now(), name="c.json")
    digest = sha256(odd).hexdigest()
    assert asking.get(f"{CASE}/certificate").status_code == 200
    for kind in ("json", "html", "pdf"):
        refused = asking.get(f"{CASE}/certificate/{digest}.{kind}")
        assert refused.status_code == 422
        assert "cannot be read" in refused.text
    assert asking.get(f"{CASE}/certificate/{digest}/check").status_code == 200
    assert asking.get(f"{CASE}/certificate/{digest}/revoke").status_code == 404


def test_a_signed_certificate_with_a_report_that_is_none_gives_one_clear_error(asking):
    made_key("north", SECRET)
    text = file_of(asking, signed(asking))

    def empty(raw):
        raw["issuer"] = SIGNER.did
        raw["credentialSubject"]["trace"]["report"]["findings"] = 1.0

    odd = signed_again(text, empty)
    with opening.opened(asking.casebook, write=True) as store:
        casebook.keep(store, "weir-004", odd, asking.now(), name="c.json")
    digest = sha256(odd).hexdigest()
    assert asking.get(f"{CASE}/certificate/{digest}.json").content == odd
    refused = asking.get(f"{CASE}/certificate/{digest}.html")
    assert refused.status_code == 422
    assert "none that a page can show" in refused.text


def test_a_small_bundle_that_unpacks_to_much_is_refused_by_its_list_of_files(asking):
    stream = BytesIO()
    with ZipFile(stream, "w", ZIP_DEFLATED) as archive:
        archive.writestr("manifest.json", b"{}")
        archive.writestr(f"objects/{'0' * 64}", b"\0" * 24_000_001)
    refused = asking.post("/casebook/import", content=stream.getvalue())
    assert refused.status_code == 422
    assert "would unpack to 24,000,001 bytes" in refused.json()["error"]
