"""Texts that would run something are shown as what they are, on every page that shows them."""

import io

import pytest
from bench.asking import Asking
from bench.browser import needs_browser, until
from bench.keyboard import ready, saved
from bench.payloads import PAYLOADS
from PIL import Image

from claywit.records import opening
from claywit.records.case import read_cases

TEXTS = ("note", "where", "method")


@needs_browser
def test_two_hundred_hostile_texts_in_every_field_run_nothing(tab, bench):
    """Fill every field of many traits with them, by the bench's own page, and look at every page."""
    fresh = "() => { window.count = 0; window.ran = () => { window.count += 1 } }"
    tab.context.add_init_script("window.count = 0; window.ran = () => { window.count += 1 }")
    tab.goto(f"{bench.root}/intake")
    fields = tab.locator("form input:not([name=id]), form textarea").all()
    tab.get_by_label("Id:").fill("hostile-1")
    for i, field in enumerate(fields):
        field.fill(PAYLOADS[i])
    tab.get_by_role("button", name="Open the case").press("Enter")
    tab.wait_for_url(f"{bench.root}/#examiner")
    tab.get_by_label("Examiner").fill(PAYLOADS[-1])
    tab.get_by_role("button", name="Begin or go on").press("Enter")
    tab.wait_for_url("**/piece/*")
    ready(tab)
    tab.evaluate(fresh)
    used = tab.evaluate(
        """async ([texts, payloads]) => {
            const key = document.querySelector('meta[name="claywit-page"]').content;
            let state = await (await fetch(location.pathname + '/state')).json(), at = 0;
            for (const section of document.querySelectorAll('.trait')) {
                const node = section.dataset.trait;
                const way = section.querySelector('[value=hidden]') ? 'hidden' : 'unexamined';
                const reading = { way, why: payloads[at++ % payloads.length] };
                for (const text of texts) reading[text] = payloads[at++ % payloads.length];
                const answer = await fetch(location.pathname + '/answer', { method: 'POST', headers: { 'Content-Type': 'application/json', 'X-Claywit-Page': key },
                    body: JSON.stringify({ version: state.version, node, reading }) });
                if (!answer.ok) throw new Error(node + ': ' + await answer.text());
                state = await answer.json();
            }
            return at;
        }""",
        [list(TEXTS), list(PAYLOADS)],
    )
    assert used + len(fields) >= 130
    tab.reload()
    ready(tab)
    tab.locator("#terms").press("Enter")
    tab.wait_for_url("**/terms")
    written = tab.locator("#terms input:not([inputmode]), #terms textarea").all()
    assert len(written) == 7
    for i, field in enumerate(written):
        field.evaluate(
            "one => one.removeAttribute('pattern')"
        )  # whoever is hostile sends it all the same
        field.fill(PAYLOADS[-2 - i])
    tab.get_by_role("button", name="Keep").press("Enter")
    until(tab, "document.getElementById('said').textContent === 'Kept.'")
    tab.reload()
    assert tab.evaluate("window.count") == 0
    tab.get_by_role("link", name="To the examination").press("Enter")
    ready(tab)
    tab.evaluate("location.hash = 'bubbles'")
    saved(tab)
    tab.keyboard.press("l")
    tab.keyboard.press("Enter")
    tab.wait_for_selector("#opinion .answer")
    until(tab, "document.getElementById('computing').hidden")
    assert tab.evaluate("window.count") == 0
    tab.locator("#unmask").press("Enter")
    until(tab, "document.getElementById('stories').children.length > 0")
    assert tab.evaluate("window.count") == 0
    tab.get_by_role("link", name="Report").press("Enter")
    tab.wait_for_selector(".seen td")
    assert tab.evaluate("window.count") == 0
    tab.goto(bench.root)
    assert tab.evaluate("window.count") == 0
    shown = tab.inner_text("main")
    assert PAYLOADS[-1] in shown


@needs_browser
def test_each_of_the_two_hundred_is_shown_letter_for_letter(tab, bench):
    """One page that shows all of them: the list of practice pieces, each named by one."""
    tab.context.add_init_script("window.count = 0; window.ran = () => { window.count += 1 }")
    tab.goto(bench.root)
    tab.evaluate(
        """async (payloads) => {
            const key = document.querySelector('meta[name="claywit-page"]').content;
            for (const piece of payloads) {
                const answer = await fetch('/practise', { method: 'POST', headers: { 'Content-Type': 'application/json', 'X-Claywit-Page': key }, body: JSON.stringify({ piece }) });
                if (!answer.ok) throw new Error(piece + ': ' + await answer.text());
            }
        }""",
        list(PAYLOADS),
    )
    tab.goto(bench.root)
    shown = set(tab.locator(".pieces bdi").all_text_contents())
    assert set(PAYLOADS) <= shown
    assert tab.evaluate("window.count") == 0


@pytest.fixture(scope="module")
def asking(tmp_path_factory):
    return Asking(tmp_path_factory.mktemp("hostile"))


def coded(size, kind, **options):
    written = io.BytesIO()
    Image.new("RGB", size, (170, 110, 80)).save(written, kind, **options)
    return written.getvalue()


def add(asking, piece, content):
    return asking.post(
        f"{piece}/photograph?node=wear",
        content=content,
        **{"content-type": "application/octet-stream"},
    )


def test_a_photograph_comes_back_as_a_new_picture_without_what_came_with_it(asking):
    piece = asking.examine("photo-1")
    exif = Image.Exif()
    exif[0x010E] = "<script>ran()</script>"
    sent = coded((640, 480), "JPEG", exif=exif) + b"<script>ran()</script>"
    kept = add(asking, piece, sent).json()["photograph"]
    shown = asking.get(f"/photograph/{kept}")
    assert shown.headers["content-type"] == "image/jpeg"
    assert b"script" not in shown.content
    assert Image.open(io.BytesIO(shown.content)).size == (640, 480)


def test_a_photograph_that_is_sent_again_is_kept_once_and_named_again(asking):
    piece = asking.examine("photo-3")
    sent = coded((64, 48), "JPEG")
    first, again = add(asking, piece, sent), add(asking, piece, sent)
    assert (first.status_code, again.status_code) == (200, 200)
    assert first.json() == again.json()
    with opening.opened(asking.casebook) as store, store.reading():
        (case,) = (c for c in read_cases(store) if c.id == "photo-3")
    assert len(case.photographs) == 1


def test_only_what_was_added_as_a_photograph_is_shown_as_one(asking):
    piece = asking.examine("photo-2")
    add(asking, piece, coded((64, 48), "PNG"))
    with opening.opened(asking.casebook, write=True) as store, store.writing():
        beside = store.put(coded((32, 32), "PNG"))
    with opening.opened(asking.casebook) as store, store.reading():
        (case,) = (c for c in read_cases(store) if c.id == "photo-2")
        photo = case.photographs[0][1]
    assert asking.get(f"/photograph/{photo.clean}").status_code == 200
    for other in (beside, photo.original, "0" * 64, "x"):
        if other != photo.clean:
            assert asking.get(f"/photograph/{other}").status_code == 404


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (lambda: b"", "no JPEG"),
        (
            lambda: b"<svg xmlns='http://www.w3.org/2000/svg'><script>ran()</script></svg>",
            "no JPEG",
        ),
        (lambda: b"GIF89a" + b"x" * 100, "no JPEG"),
        (lambda: coded((9000, 9000), "PNG"), "pixels"),
        (lambda: coded((20000, 10000), "PNG"), "pixels"),
        (lambda: coded((7000, 6000), "JPEG", progressive=True), "pixels"),
        (lambda: coded((640, 480), "PNG")[:400], "save it"),
    ],
)
def test_what_is_no_picture_or_too_large_a_one_is_refused_and_not_kept(asking, made, said):
    content = made()  # here, not where tests are gathered: these take much memory
    piece = asking.examine(f"bomb-{len(content)}")
    refused = add(asking, piece, content)
    assert refused.status_code == 422
    assert said in refused.json()["error"]


def test_an_upload_over_its_cap_is_refused_before_it_is_read(asking):
    piece = asking.examine("long-1")
    assert add(asking, piece, b"x" * 24_000_001).status_code == 413


def test_a_text_with_characters_that_cannot_be_seen_is_refused(asking):
    piece = asking.practise("unseen")
    refused = asking.answer(piece, "wear", {"way": "hidden", "note": "safe\u202eeliw"})
    assert refused.status_code == 422
    assert "cannot be seen" in refused.json()["error"]
    assert (
        asking.answer(
            piece, "wear", {"way": "hidden", "note": "\u05e9\u05dc\u05d5\u05dd"}
        ).status_code
        == 200
    )
