"""Where the focus goes, by keyboard: to what is wrong, to what may be changed; what paper shows."""

from bench.browser import needs_browser
from bench.keyboard import current, press, ready, saved, take_in
from bench.test_pages import CASE

pytestmark = needs_browser
PIECES_LIE = True
IN_SIGHT = """() => {
    const box = document.activeElement.getBoundingClientRect();
    const bar = document.querySelector('.bar').getBoundingClientRect();
    return box.top >= bar.bottom && box.bottom <= innerHeight;
}"""


def test_what_keeps_the_readings_from_being_locked_is_one_key_away(tab, bench):
    take_in(tab, bench.root, "weir-077")
    tab.keyboard.press("f")
    press(tab, "2v")
    tab.keyboard.type("much")
    tab.keyboard.press("Escape")
    wrong = current(tab)
    saved(tab)
    tab.keyboard.press("j")
    tab.keyboard.press("l")
    tab.locator("#lock-problems a").press("Enter")
    assert current(tab) == wrong
    assert tab.locator("dialog[open]").count() == 0
    assert tab.evaluate("document.activeElement.closest('.trait').dataset.trait") == wrong


def test_a_lock_that_cannot_be_done_does_not_look_as_if_it_could(tab, bench):
    take_in(tab, bench.root, "weir-078")
    colour = "getComputedStyle(document.querySelector('#lock-form button')).backgroundColor"
    can = tab.evaluate(colour)
    press(tab, "v")
    tab.keyboard.type("much")
    tab.keyboard.press("Escape")
    saved(tab)
    tab.keyboard.press("l")
    tab.locator("#lock-problems a").wait_for()
    assert tab.evaluate(colour) != can


def test_a_reading_that_is_changed_stays_in_sight(tab, bench):
    tab.goto(f"{bench.root}{CASE}#bubbles")
    ready(tab)
    tab.keyboard.press("a")
    assert tab.evaluate(IN_SIGHT)


def test_paper_shows_the_bars_that_a_telephone_has_no_room_for(tab, bench):
    tab.set_viewport_size({"width": 700, "height": 900})  # of a sheet of A4 between its margins
    tab.goto(f"{bench.root}{CASE}/report")
    bar = tab.locator(".shares .bar").first
    assert not bar.is_visible()
    tab.emulate_media(media="print")
    assert bar.is_visible()


def test_paper_keeps_what_drives_the_opinion_and_leaves_out_what_is_empty(tab, bench):
    tab.goto(f"{bench.root}{CASE}#crack_fill")
    ready(tab)
    tab.wait_for_selector("#opinion .reasons button")
    tab.emulate_media(media="print")
    assert tab.locator("#opinion .reasons button").first.is_visible()
    typed = tab.locator("#trait-crack_fill .weights label:visible input")
    assert sorted(field.input_value() for field in typed.all()) == ["0.1", "0.25", "1"]
