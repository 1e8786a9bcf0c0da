"""Whoever cannot see well, or at all, or has no mouse: axe-core, contrast, zoom, widths."""

from axe_playwright_python.sync_playwright import Axe
from bench.browser import needs_browser, until
from bench.test_by_keyboard import practise, press, ready, saved, take_in

pytestmark = needs_browser
ALL = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
COLOURS = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}


def faults(page, rules=ALL, within=None):
    """Return what axe-core finds wrong, each with where."""
    found = Axe().run(page, context=within, options=rules).response["violations"]
    return [
        (one["id"], node["target"], node["failureSummary"][:200])
        for one in found
        for node in one["nodes"]
    ]


def wide(page):
    """Return by how many pixels the page is wider than its window."""
    return page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )


def test_axe_finds_nothing_on_any_page_and_no_width_scrolls_sideways(tab, bench):
    seen = {}

    def look(name, *, dark=False, within=None):
        seen[name] = faults(tab, within=within)
        for width in (1440, 820, 640, 400):  # a desk, a tablet, a desk at 200 %, a telephone
            tab.set_viewport_size({"width": width, "height": 800})
            if wide(tab) > 0:
                seen[f"{name} at {width}"] = wide(tab)
        tab.set_viewport_size({"width": 1280, "height": 900})
        if dark:
            tab.emulate_media(color_scheme="dark")
            seen[f"{name} in the dark"] = faults(tab, COLOURS, within)
            tab.emulate_media(color_scheme="light")

    tab.goto(bench.root)
    look("front", dark=True)
    for address in ("/intake", "/piece/0123456789abcdef"):
        tab.goto(bench.root + address)
        look(address)
    take_in(tab, bench.root, "weir-030")
    until(tab, "document.getElementById('next').children.length > 0")
    look("blind")
    tab.goto(bench.root)
    practise(tab)
    press(tab, "3")
    tab.evaluate("location.hash = 'size'")
    until(tab, "!document.getElementById('size').hidden")
    press(tab, "mnot a number")
    saved(tab)
    until(tab, "document.getElementById('computing').hidden")
    look("practice, measured, with a problem", dark=True)
    for key in "?t":
        tab.keyboard.press(key)
        look(f"dialog {key}", within="dialog[open]")
        tab.keyboard.press("Escape")
    tab.locator("#opinion [data-why]").first.press("Enter")
    tab.wait_for_selector("#why-dialog[open] table")
    look("why", dark=True, within="dialog[open]")
    assert {name: found for name, found in seen.items() if found} == {}


def test_text_at_twice_its_size_still_fits(tab):
    practise(tab)
    ready(tab)
    tab.set_viewport_size({"width": 1280, "height": 900})
    tab.evaluate("document.documentElement.classList.add('twice')")
    tab.evaluate(
        "document.querySelector('link[rel=stylesheet]').sheet.insertRule('html.twice { font-size: 225% }', 0)"
    )
    tab.evaluate("document.documentElement.style.fontSize = ''")
    assert wide(tab) <= 0


def test_notes_written_from_right_to_left_run_from_right_to_left(tab):
    practise(tab, "\u05d0\u05e0\u05e4\u05d4")
    tab.keyboard.press("3")
    tab.keyboard.press("o")
    tab.keyboard.type("\u05e1\u05d3\u05e7 \u05d9\u05e9\u05df")
    assert (
        tab.evaluate("getComputedStyle(document.querySelector('#arch_contact textarea')).direction")
        == "rtl"
    )
    assert tab.evaluate(
        "getComputedStyle(document.querySelector('.top .piece bdi')).direction"
    ) in {"rtl", "ltr"}
