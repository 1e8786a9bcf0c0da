"""Hostile words and points in everything that a page shows or is sent, asked without a browser."""

from html.parser import HTMLParser
from urllib.parse import quote

import pytest
from bench import laid
from bench.payloads import PAYLOADS
from markupsafe import escape

from claywit.records.intake import OBJECT_FIELDS

CASE = f"/piece/{'a' * 16}"


def skeleton(text):
    """Return the elements of a page with the names of their attributes, and nothing of its words."""
    found = []
    reader = HTMLParser()
    reader.handle_starttag = lambda tag, named: found.append((tag, *(name for name, _ in named)))
    reader.feed(text)
    reader.close()
    return found


SOME = 67  # payloads that one piece holds


@pytest.mark.parametrize("first", range(0, len(PAYLOADS), SOME))
def test_hostile_texts_are_shown_letter_for_letter_on_every_page(asking, first):
    """Put them into everything that a person types, and look for one that came out as it is."""
    used = []

    def text():
        used.append(PAYLOADS[(first + len(used)) % len(PAYLOADS)])
        return used[-1]

    about = {name: text() for name in OBJECT_FIELDS}
    hides = [n.name for n in asking.desk.model.nodes if n.visibility and n.name != "grog"]
    written = laid.example(
        "certified/04-marrable",
        piece={"id": "weir-099", **about},
        examiner=text(),
        notes=text(),
        engagement={name: text() for name in ("client", "intended_use", "interest")},
        findings={
            name: {"not_visible": text(), **{part: text() for part in ("note", "where", "method")}}
            for name in hides
        },
        not_examined={"grog": text()},
        sequence=[],
    )
    laid.take_in(asking.casebook, written, story=text(), opinion=False)
    evidence, readings = laid.readings_of(written)
    laid.lay(asking.casebook.parent, "04-marrable", "e" * 16, piece=evidence.piece,
             examiner=evidence.examiner, readings=readings)  # fmt: skip
    piece = f"/piece/{'e' * 16}"
    theirs = laid.example("04-marrable-b", piece={"id": "weir-099"}, examiner=text())
    loaded = asking.post(f"{piece}/dispute", content=theirs)
    assert loaded.status_code == 200, loaded.text
    pages = ["/", "/casebook", "/casebook/case/weir-099", "/casebook/triage"]
    pages += [f"{piece}{name}" for name in ("", "/opinion", "/state", "/contrast", "/dispute")]
    pages += [f"{piece}/{name}" for name in ("moulds", "certificate", f"why/{hides[0]}")]
    pages += [f"/model?node=bloom&piece={'e' * 16}", f"{piece}/report", f"{piece}/looks", "/keys"]
    pages += [f"/casebook/{name}" for name in ("log", "reopen", "case/weir-099/intake")]
    alive = {text for text in PAYLOADS if "<" in text}
    assert len(set(used)) >= SOME
    for address in pages:
        shown = asking.get(address)
        assert shown.status_code == 200, (address, shown.text)
        is_page = shown.headers["content-type"].startswith("text/html")
        assert not [one for one in alive if is_page and one in shown.text], address
    for page, one in (("/casebook", about["type"]), (f"{piece}/dispute", evidence.examiner),
                      (f"/model?node=bloom&piece={'e' * 16}",
                       evidence.findings["bloom"].not_visible)):  # fmt: skip
        assert str(escape(one)) in asking.get(page).text


@pytest.mark.parametrize(
    "address",
    [
        "/casebook?q={}",
        "/casebook?state={}",
        "/model?node={}",
        "/piece/bbbbbbbbbbbbbbbb/opinion?q={}",
        "/piece/bbbbbbbbbbbbbbbb/contrast?a.mould={}",
        "/piece/bbbbbbbbbbbbbbbb/why/{}",
        "/piece/{}",
        "/piece/bbbbbbbbbbbbbbbb/looks?q={}",
        "/casebook/log?case={}",
        "/casebook/check?head={}",
        "/keys/{}/public.pem",
        "/photograph/{}",
        "/start?key={}",
    ],
)
def test_each_of_the_two_hundred_in_an_address_leaves_the_page_as_it_is(asking, address):
    plain = asking.get(address.format("zebra"))
    for text in PAYLOADS:
        shown = asking.get(address.format(quote(text, safe="")))
        assert shown.status_code in (200, 403, 404, 422), text
        is_asked = "?" in address or "/" not in text  # else it is another address
        if is_asked and shown.headers["content-type"].startswith("text/html"):
            assert skeleton(shown.text) == skeleton(plain.text), text
        assert text not in shown.text or "<" not in text


def test_hostile_landmarks_are_refused_in_one_sentence(asking):
    good = [[0, 0], [100, 0], [0, 100]]
    wrong = [
        {},
        {"names": [], "first": good, "second": good[:2]},
        {"names": [], "first": [[0, 0]] * 3, "second": good},
        {"names": [], "first": [["x", 0]] * 3, "second": good},
        {"names": [], "first": [[1e300, 0], *good[1:]], "second": good},
        {"names": [], "first": good * 100, "second": good * 100},
        {"names": [], "first": good, "second": good, "scales": [None]},
    ]
    for data in wrong:
        answer = asking.post(f"{CASE}/overlay/fit", data)
        assert answer.status_code == 422, data
        assert len(answer.json()["error"]) < 300
    assert asking.post(f"{CASE}/overlay/picture", content=b"no picture").status_code == 422
    assert asking.get("/overlay/0000").status_code == 404
    assert asking.get("/overlay/..%2F..%2Fetc%2Fpasswd").status_code == 404
