"""A reload, a second tab and a crash lose nothing of an examination."""

from bench.browser import needs_browser, running, until
from bench.keyboard import practise, ready, saved

pytestmark = needs_browser


def test_a_reload_loses_nothing(tab):
    practise(tab)
    tab.keyboard.press("3")
    tab.keyboard.press("o")
    tab.keyboard.type("a chip beside it")
    tab.reload()
    ready(tab)
    saved(tab)
    assert tab.locator("#trait-arch_contact textarea").input_value() == "a chip beside it"
    assert (
        tab.locator("#trait-arch_contact .states input:checked").input_value() == "right_shoulder"
    )


def test_a_second_tab_loses_nothing_and_is_asked_where_both_answered_one_trait(tab):
    practise(tab)
    other = tab.context.new_page()
    other.goto(tab.url)
    ready(other)
    tab.bring_to_front()
    tab.keyboard.press("3")
    saved(tab)
    until(
        other,
        "document.querySelector('#trait-arch_contact .states input:checked')?.value === 'right_shoulder'",
    )
    other.evaluate("() => { window.BroadcastChannel = null }")
    # What one tab saves is held back until the other has saved, so both answer one trait unseen.
    held = []
    tab.route("**/answer", lambda route: held.append(route))  # noqa: PLW0108 - it marks the handler
    tab.keyboard.press("j")
    tab.keyboard.press("1")
    other.bring_to_front()
    other.keyboard.press("j")
    other.keyboard.press("2")
    saved(other)
    for route in held:
        route.continue_()
    tab.wait_for_selector("#clash:not([hidden])")
    assert "Here: none. There: high points only." in tab.inner_text("#clash-text")
    tab.unroute("**/answer")
    tab.locator("#clash-theirs").press("Enter")
    until(
        tab, "document.querySelector('#trait-wear .states input:checked').value === 'high_points'"
    )
    other.close()


def test_what_another_browser_saved_shows_before_one_can_answer_over_it(tab, bench):
    practise(tab)
    context = tab.context.browser.new_context()
    other = context.new_page()
    other.goto(bench.opens)
    other.goto(tab.url)
    ready(other)
    tab.keyboard.press("3")
    saved(tab)
    other.keyboard.press("j")
    other.keyboard.press("2")
    saved(other)
    shown = "document.querySelector('#trait-arch_contact .states input:checked')?.value"
    assert other.evaluate(shown) == "right_shoulder"
    context.close()


def test_an_older_state_that_arrives_late_takes_no_newer_ones_place(tab):
    practise(tab)
    late = []
    tab.route("**/state", lambda route: late.append((route, route.fetch())), times=1)
    tab.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    while not late:
        tab.wait_for_timeout(25)
    tab.keyboard.press("3")
    saved(tab)
    (route, response), *_ = late
    with tab.expect_response("**/state"):
        route.fulfill(response=response)
    tab.wait_for_timeout(100)
    tab.keyboard.press("1")
    saved(tab)
    assert not tab.locator("#clash").is_visible()
    assert tab.locator("#trait-arch_contact .states input:checked").input_value() == "none"


def test_a_crash_of_the_bench_and_of_the_browser_loses_nothing(browser, tmp_path):
    with running(tmp_path) as first:
        context = browser.new_context()
        page = context.new_page()
        page.goto(first.opens)
        practise(page)
        page.keyboard.press("3")
        saved(page)
        port = int(first.root.rpartition(":")[2])
        first.kill()
        page.keyboard.press("j")
        page.keyboard.press("2")
        until(page, "document.getElementById('said').textContent.includes('kept here')")
        address = page.url.partition("#")[0]
        with running(tmp_path, port=port) as again:
            page.goto(again.opens)
            page.goto(address)
            ready(page)
            saved(page)
            assert (
                page.locator("#trait-arch_contact .states input:checked").input_value()
                == "right_shoulder"
            )
            assert page.locator("#trait-wear .states input:checked").input_value() == "high_points"
            state = page.evaluate("async () => (await fetch(location.pathname + '/state')).json()")
            assert set(state["readings"]) == {"arch_contact", "wear"}
        context.close()
