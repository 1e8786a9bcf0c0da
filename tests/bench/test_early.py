"""A form that is sent before the page can send it: on a slow machine, or with a script that never came."""

import re

from bench.browser import ROOT, hold_back, needs_browser, until
from bench.keyboard import SECRET, make_key, practise, ready, saved

TEMPLATES = sorted((ROOT / "src" / "claywit" / "bench" / "templates").glob("*.j2"))


def test_no_form_leaves_the_page_by_itself_with_a_secret_or_a_change():
    forms = [tag for path in TEMPLATES for tag in re.findall(r"<form\b[^>]*>", path.read_text())]
    assert len(forms) > 40
    for tag in forms:
        method = re.search(r' method="(get|dialog)"', tag)
        assert method, tag
        if re.search(r"data-(post|send|upload)=", tag):
            assert method[1] == "dialog", tag


def type_a_key(tab, bench):
    tab.goto(f"{bench.root}/keys", wait_until="commit")
    tab.locator("details", has_text="new key").evaluate("at => at.open = true")
    make_key(tab, "early")


@needs_browser
def test_what_is_sent_before_the_script_is_there_waits_for_it_and_stays_out_of_the_address(
    tab, bench
):
    let_go = hold_back(tab, "**/static/certificate.js")
    type_a_key(tab, bench)
    tab.wait_for_timeout(300)
    assert tab.url == f"{bench.root}/keys"
    assert tab.get_by_label("The same again").input_value() == SECRET
    let_go()
    tab.locator("#said", has_text="The key is made.").wait_for()
    assert tab.url.startswith(f"{bench.root}/keys")
    assert SECRET not in tab.content()


@needs_browser
def test_without_its_script_a_page_sends_no_form_at_all(tab, bench):
    asked = []
    tab.route(
        "**/static/certificate.js",
        lambda route: route.fulfill(content_type="text/javascript", body=""),
    )
    tab.on("request", lambda request: asked.append(request.url))
    type_a_key(tab, bench)
    tab.wait_for_timeout(300)
    assert tab.url == f"{bench.root}/keys"
    assert all("?" not in address for address in asked)


@needs_browser
def test_no_answer_is_taken_before_it_can_be_saved(tab, bench):
    tab.goto(bench.root)
    practise(tab)
    let_go = hold_back(tab, "**/static/examine.js")
    tab.reload(wait_until="commit")
    first = tab.locator(".trait:not([hidden]) .states input").first
    first.wait_for(state="attached")
    tab.wait_for_timeout(300)
    box = first.bounding_box()
    tab.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    first.focus()
    tab.keyboard.press("Space")
    early = first.is_checked()
    let_go()
    ready(tab)
    assert first.is_checked() == early
    assert not early
    tab.keyboard.press("1")
    saved(tab)
    assert first.is_checked()


@needs_browser
def test_what_is_typed_before_the_script_is_there_is_kept_and_can_be_taken_back(tab, bench):
    let_go = hold_back(tab, "**/static/kept.js")
    tab.goto(f"{bench.root}/intake", wait_until="commit")
    story = tab.get_by_label("Story")
    tab.locator("details").evaluate_all("all => all.forEach(one => (one.open = true))")
    story.fill("found in a boat locker")
    until(tab, "document.readyState !== 'loading'")
    tab.wait_for_timeout(200)
    let_go()
    back = tab.get_by_role("button", name="Take back what I typed")
    back.wait_for(timeout=5000)
    tab.goto(f"{bench.root}/keys")
    tab.goto(f"{bench.root}/intake")
    until(tab, "document.querySelector('[name=story]').value === 'found in a boat locker'")
    back.press("Enter")
    assert not story.input_value()


@needs_browser
def test_no_scale_and_no_mirroring_is_shown_that_the_fit_does_not_know_of(tab, bench):
    tab.goto(bench.root)
    practise(tab, "tern")
    let_go = hold_back(tab, "**/static/overlay.js")
    tab.goto(f"{tab.url.partition('#')[0]}/moulds", wait_until="commit")
    mirrored = tab.locator("#mirrored")
    mirrored.wait_for(state="attached")
    tab.wait_for_timeout(300)
    mirrored.focus()
    tab.keyboard.press("Space")
    assert not mirrored.is_checked()
    let_go()
    until(tab, "!document.getElementById('overlay').inert")
    mirrored.press("Space")
    assert mirrored.is_checked()
