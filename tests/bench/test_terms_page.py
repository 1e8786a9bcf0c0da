"""Terms and the rarer ways of answering in a real browser, by keyboard."""

from bench.browser import needs_browser, picture, until
from bench.keyboard import practise, ready, saved

pytestmark = needs_browser
PIECES_LIE = True
KEPT = "document.getElementById('said').textContent"


def reading(tab, node):
    state = tab.evaluate(
        "async () => (await fetch(location.pathname.replace(/[/]terms$/, '') + '/state')).json()"
    )
    assert state["problems"].get(node) is None, state["problems"]
    return state["readings"][node]


def trait(tab, name):
    tab.evaluate(f"location.hash = '{name}'")
    until(tab, f"!document.getElementById('trait-{name}').hidden")


def test_a_state_is_weighed_a_measure_bounded_and_nothing_to_read_said_by_keyboard(tab):
    practise(tab)
    trait(tab, "bubbles")
    tab.keyboard.press("v")
    for number in ("1", "0.25", "0"):
        tab.keyboard.type(number)
        tab.keyboard.press("Enter")
    tab.keyboard.press("Escape")
    saved(tab)
    assert reading(tab, "bubbles")["likelihood"] == {"none": "1", "few": "0.25", "many": "0"}
    trait(tab, "thickness")
    tab.keyboard.press("m")
    tab.keyboard.type("6")
    limit = tab.locator("#trait-thickness [data-part=limit]")
    limit.focus()
    tab.keyboard.type("between")
    tab.locator("#trait-thickness [data-part=value]").focus()
    tab.keyboard.press("Enter")
    tab.keyboard.type("7.5")
    tab.keyboard.press("Escape")
    saved(tab)
    held = reading(tab, "thickness")["measures"]["thickness"]
    assert (held["value"], held["upper"], held["limit"]) == ("6", "7.5", "between")
    assert "between 6 and 7.5 mm" in tab.inner_text("[data-go=thickness]")
    assert not tab.locator("#trait-thickness .u").is_visible()
    trait(tab, "crack_lip")
    tab.keyboard.press("e")
    saved(tab)
    assert reading(tab, "crack_lip")["way"] == "nothing"
    tab.keyboard.press("u")
    until(tab, "!document.querySelector('#trait-crack_lip .ways input:checked')")
    tab.reload()
    ready(tab)
    trait(tab, "bubbles")
    assert tab.locator("#trait-bubbles [data-likelihood=few]").input_value() == "0.25"


def test_what_was_typed_of_the_terms_outlives_a_reload_until_it_is_kept_or_taken_back(tab):
    practise(tab)
    tab.keyboard.press("t")
    tab.wait_for_url("**/terms")
    tab.get_by_label("Client", exact=True).fill("C")
    tab.locator("[name='prior.period.P1']").fill("30")
    until(tab, "document.querySelector('[data-sum]').textContent.includes('Together 30%')")
    tab.reload()
    until(tab, f"{KEPT}.includes('not sent yet')")
    assert tab.get_by_label("Client", exact=True).input_value() == "C"
    tab.get_by_role("button", name="Keep").press("Enter")
    until(tab, f"{KEPT}.includes('sum to 0.3, must be 1')")
    for i, share in enumerate((30, 30, 20, 10, 10), 1):
        tab.locator(f"[name='prior.period.P{i}']").fill(str(share))
    tab.get_by_label("Lies under").first.select_option("coating")
    tab.get_by_label("Lies over").first.select_option("crack")
    tab.get_by_role("button", name="Keep").press("Enter")
    until(tab, f"{KEPT} === 'Kept.'")
    assert not tab.locator("#back").is_visible()
    tab.get_by_label("Client", exact=True).fill("somebody else")
    tab.get_by_role("button", name="Take back what I typed").press("Enter")
    assert tab.get_by_label("Client", exact=True).input_value() == "C"
    tab.reload()
    assert tab.get_by_label("Lies over").first.input_value() == "crack"
    assert tab.locator("[name='prior.period.P3']").input_value() == "20"


def test_terms_after_the_lock_are_amended_with_a_reason_by_keyboard(tab, bench):
    tab.goto(f"{bench.root}/piece/{'a' * 16}/terms")
    tab.get_by_label("For: Mould, or", exact=True).focus()
    tab.keyboard.type("M05")
    tab.get_by_label("Why the terms change").fill("the client names a second mould")
    picture(tab, "bench-terms-locked")
    tab.get_by_role("button", name="Record the amendment").press("Enter")
    until(tab, f"{KEPT}.startsWith('The amendment is recorded')")
    tab.get_by_role("link", name="Certificate").press("Enter")
    tab.wait_for_selector("#preview")
    shown = tab.inner_text(".sheet")
    assert "the client names a second mould" in shown
    assert "M05" in shown
