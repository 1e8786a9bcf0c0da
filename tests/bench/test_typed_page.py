"""What is typed and not sent, in a real browser: it outlives a reload, another browser, a crash."""

import json
from contextlib import contextmanager

from bench.browser import hold_back, needs_browser, running, until
from bench.keyboard import ready
from bench.payloads import PAYLOADS
from bench.test_pages import CASE

pytestmark = needs_browser
PIECES_LIE = True
BOOK = "/casebook/case/weir-004"
SAID = "document.getElementById('said').textContent"
AGAIN = f"{SAID}.includes('stands here again')"


def kept_at_the_bench(tab):
    """Wait until the browser has nothing left that the bench has not got."""
    left = "Object.keys(localStorage).filter(key => key.startsWith('claywit-typed')).length"
    until(tab, f"{left} === 0")


@contextmanager
def another_browser(tab, bench, address):
    """Open *address* in a browser that knows nothing of what was typed in *tab*."""
    context = tab.context.browser.new_context()
    context.set_default_timeout(90_000)
    page = context.new_page()
    page.goto(bench.opens)
    page.goto(bench.root + address)
    yield page
    context.close()


def test_an_amendment_that_was_typed_outlives_a_reload_and_the_browser_until_it_is_recorded(
    tab, bench
):
    tab.goto(f"{bench.root}{CASE}#bubbles")
    ready(tab)
    tab.keyboard.press("a")
    tab.keyboard.press("1")
    form = "#trait-bubbles .amending"
    reason = tab.locator(f"{form} [name=reason]")
    reason.focus()
    tab.keyboard.type(PAYLOADS[0])
    tab.reload()  # at once: before the bench was told
    ready(tab)
    until(tab, f"{SAID} === 'Typed before, and not recorded yet: Trapped bubbles.'")
    assert reason.input_value() == PAYLOADS[0]
    kept_at_the_bench(tab)
    with another_browser(tab, bench, f"{CASE}#bubbles") as page:
        page.add_init_script("window.count = 0; window.ran = () => { window.count += 1 }")
        page.reload()
        ready(page)
        page.wait_for_selector(form)
        assert page.locator("#trait-bubbles .states input:checked").input_value() == "none"
        field = page.locator(f"{form} [name=reason]")
        assert field.input_value() == PAYLOADS[0]
        assert page.evaluate("window.count") == 0
        second = page.context.new_page()
        second.goto(page.url)
        ready(second)
        second.locator(f"{form} [name=reason]").fill("seen again in daylight")
        until(page, "document.querySelector('#trait-bubbles [name=reason]').value.includes('day')")
        second.close()
        page.get_by_role("button", name="Record the amendment").press("Enter")
        page.locator("#said", has_text="The amendment is recorded").wait_for()
        ready(page)
        assert not page.locator(form).is_visible()
        kept_at_the_bench(page)
    lying = json.loads((bench.casebook.parent / "casebook-bench" / f"{'a' * 16}.typed").read_text())
    assert lying["forms"] == {}


def test_an_amendment_that_is_left_is_not_brought_back(tab, bench):
    tab.goto(f"{bench.root}{CASE}#wear")
    ready(tab)
    tab.keyboard.press("a")
    tab.keyboard.press("1")
    kept_at_the_bench(tab)
    tab.get_by_role("button", name="Leave it as it was").press("Enter")
    assert tab.locator("#trait-wear .states input:checked").input_value() == "high_and_edges"
    kept_at_the_bench(tab)
    tab.reload()
    ready(tab)
    tab.wait_for_timeout(100)
    assert not tab.locator("#trait-wear .amending").is_visible()


def test_every_form_in_which_more_than_a_word_is_typed_gives_it_back_in_another_browser(tab, bench):
    forms = {
        f"{BOOK}/intake": {"Story": "found in a boat locker", "Why the intake": "told later"},
        "/intake": {"Story": "on a sill\nof a barn", "Id:": "weir-099"},
        BOOK: {"What was told": "more of it", "Why they change": "read by lamplight"},
        f"{CASE}/terms": {"Notes on the whole": "it rings", "Why the terms": "asked anew"},
    }
    for address, fields in forms.items():
        tab.goto(bench.root + address)
        tab.evaluate("document.querySelectorAll('details').forEach(one => (one.open = true))")
        for label, text in fields.items():
            tab.get_by_label(label).fill(text)
        kept_at_the_bench(tab)
    tab.goto(f"{bench.root}{CASE}/contrast")
    tab.locator("summary").press("Enter")
    tab.locator("[name='b.period'][value=P5]").press("Space")
    kept_at_the_bench(tab)
    for address, fields in forms.items():
        with another_browser(tab, bench, address) as page:
            until(page, AGAIN)
            for label, text in fields.items():
                until(page, "([e, t]) => e.value === t", [page.get_by_label(label).element_handle(), text])  # fmt: skip
    with another_browser(tab, bench, f"{CASE}/contrast") as page:
        until(page, AGAIN)
        assert page.locator("[name='b.period'][value=P5]").is_checked()
        page.get_by_role("button", name="Take back what I typed").press("Enter")
        until(page, f"{SAID} === 'What you typed is taken back.'")
        assert not page.locator("[name='b.period'][value=P5]").is_checked()
        kept_at_the_bench(page)
        page.reload()
        page.wait_for_timeout(150)
        assert not page.locator("[name='b.period'][value=P5]").is_checked()


def test_what_is_typed_while_the_bench_is_down_is_kept_by_the_browser(browser, tmp_path):
    with running(tmp_path) as first:
        page = browser.new_context().new_page()
        page.goto(first.opens)
        page.goto(f"{first.root}/intake")
        first.kill()
        page.get_by_label("Story").fill("found in a boat locker")
        page.wait_for_timeout(300)
        with running(tmp_path, port=int(first.root.rpartition(":")[2])) as again:
            page.goto(again.opens)
            page.goto(f"{again.root}/intake")
            until(page, AGAIN)
            assert page.get_by_label("Story").input_value() == "found in a boat locker"
            kept_at_the_bench(page)
        page.context.close()


def test_what_is_sent_before_it_stands_again_waits_and_throws_nothing_away(tab, bench):
    address = f"{bench.root}{CASE}/terms"
    tab.goto(address)
    notes = tab.get_by_label("Notes on the whole")
    notes.fill("it rings when it is struck")
    kept_at_the_bench(tab)
    let_go = hold_back(tab, "**/typed?form=terms")
    tab.goto(address)
    sent = []
    tab.on("request", lambda asked: sent.append(asked.url) if asked.method == "POST" else None)
    tab.get_by_label("Why the terms").fill("asked anew")
    tab.get_by_role("button", name="Record the amendment").press("Enter")
    tab.wait_for_timeout(300)
    assert address not in sent
    let_go()
    until(tab, AGAIN)
    assert notes.input_value() == "it rings when it is struck"
    kept_at_the_bench(tab)
    assert address not in sent  # what came back was not seen when it was sent
    tab.get_by_role("button", name="Record the amendment").press("Enter")
    tab.locator("#said", has_text="recorded").wait_for()
    tab.reload()
    assert notes.input_value() == "it rings when it is struck"


def test_of_a_story_that_the_bench_hides_this_browser_shows_nothing_and_loses_nothing(tab, bench):
    form = "case/weir-007/seal"
    store, story = f"claywit-typed/{form}", '{"story":["found in a boat locker"]}'
    told = "JSON.stringify([...document.querySelectorAll('textarea')].map(one => one.value))"
    tab.goto(f"{bench.root}/casebook/case/weir-007")
    begin = """async () => {
        const { post } = await import("/static/wire.js");
        await post("/begin", { case: "weir-007", examiner: "B" });
    }"""
    tab.evaluate(begin)
    tab.evaluate("([store, story]) => localStorage.setItem(store, story)", [store, story])
    tab.reload()
    until(tab, f"{SAID}.includes('hidden while')")
    assert "locker" not in tab.evaluate(told)
    assert tab.evaluate("store => localStorage.getItem(store)", store) == story
