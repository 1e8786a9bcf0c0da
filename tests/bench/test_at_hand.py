"""What the examiner sees and hears at each key: focus, messages, the title in sight."""

import re

import pytest
from bench.browser import needs_browser, until
from bench.keyboard import practise, ready, saved

pytestmark = needs_browser


def test_what_a_key_chooses_has_the_focus_and_an_undo_says_what_stands(tab):
    practise(tab)
    tab.keyboard.press("3")
    # A screen reader says what has the focus.
    assert tab.evaluate("document.activeElement.value") == "right_shoulder"
    tab.keyboard.press("h")
    assert tab.evaluate("document.activeElement.value") == "half"
    tab.keyboard.press("+")
    assert tab.inner_text("#said") == "How sure: 85%"
    saved(tab)
    for left in ("80% sure", "right shoulder", "no answer"):
        tab.keyboard.press("u")
        until(tab, "left => document.getElementById('said').textContent.endsWith(left)", left)


@pytest.mark.parametrize(("width", "height"), [(1440, 900), (1024, 768), (720, 450)])
def test_the_page_opens_at_its_head_and_each_trait_with_its_title_in_sight(tab, width, height):
    tab.set_viewport_size({"width": width, "height": height})
    practise(tab)
    tab.wait_for_timeout(200)
    assert tab.evaluate("scrollY") == 0
    tab.reload()
    ready(tab)
    tab.wait_for_timeout(200)
    assert tab.evaluate("scrollY") == 0
    following = tab.locator(".trait:not([hidden]) [data-do=on]")
    following.scroll_into_view_if_needed()
    following.click()
    top, low, bar = tab.evaluate(
        """() => {
      const box = document.querySelector("#trait-wear h2").getBoundingClientRect();
      return [box.top, box.bottom, document.querySelector(".bar").getBoundingClientRect().bottom];
    }"""
    )
    assert max(bar, 0) <= top < low <= height


def test_a_plain_message_goes_by_itself_and_what_is_wrong_stays(tab):
    tab.clock.install()
    practise(tab)
    tab.keyboard.press("k")
    assert tab.inner_text("#said") == "This is the first trait."
    tab.clock.run_for(13_000)
    assert tab.inner_text("#said") == ""
    tab.keyboard.press("t")
    tab.locator('select[name="for.mould"]').first.select_option(index=1)
    tab.get_by_role("button", name="Keep", exact=True).press("Enter")
    until(tab, "document.getElementById('said').classList.contains('wrong')")
    tab.clock.run_for(13_000)
    assert "both sides" in tab.inner_text("#said")


def test_single_keys_can_be_turned_off(tab):
    practise(tab)
    tab.keyboard.press("?")
    tab.get_by_label(re.compile("Single keys work")).uncheck()
    tab.keyboard.press("Escape")
    tab.keyboard.press("3")
    assert tab.locator("#trait-arch_contact .states input:checked").count() == 0
