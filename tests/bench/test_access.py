"""Whoever cannot see well, or at all, or has no mouse: axe-core, contrast, zoom, widths."""

from axe_playwright_python.sync_playwright import Axe
from bench.browser import needs_browser, until
from bench.keyboard import practise, press, ready, saved, take_in

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
    until(tab, "!document.getElementById('trait-size').hidden")
    press(tab, "mnot a number")
    saved(tab)
    until(tab, "document.getElementById('computing').hidden")
    look("practice, measured, with a problem", dark=True)
    tab.locator("#trait-size [data-part=limit]").first.select_option("between")
    tab.evaluate("location.hash = 'bubbles'")
    until(tab, "!document.getElementById('trait-bubbles').hidden")
    press(tab, "v")
    saved(tab)
    look("a state weighed")
    tab.keyboard.press("Escape")
    tab.keyboard.press("?")
    look("the keys", within="dialog[open]")
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


def test_what_is_written_from_right_to_left_runs_from_right_to_left(tab):
    heron, crack = "\u05d0\u05e0\u05e4\u05d4", "\u05e1\u05d3\u05e7 \u05d9\u05e9\u05df"
    practise(tab, heron)
    tab.keyboard.press("3")
    tab.keyboard.press("o")
    tab.keyboard.type(crack)
    saved(tab)
    assert runs(tab, "#trait-arch_contact textarea") == "rtl"
    assert runs(tab, ".top .piece bdi") == "rtl"
    assert runs(tab, "#trait-arch_contact h2") == "ltr"
    tab.keyboard.press("Escape")
    tab.keyboard.press("t")
    tab.wait_for_url("**/terms")
    tab.get_by_label("Client", exact=True).fill(heron)
    assert runs(tab, "input[name=client]") == "rtl"
    tab.get_by_role("button", name="Keep").press("Enter")
    until(tab, "document.getElementById('said').textContent === 'Kept.'")
    tab.get_by_role("link", name="Report").press("Enter")
    tab.wait_for_selector(".seen td")
    note = "[...document.querySelectorAll('.seen td')].find(cell => cell.textContent.includes('\u05e1'))"
    assert tab.evaluate(f"getComputedStyle({note}).direction") == "rtl"
    assert runs(tab, ".answer") == "ltr"
    assert wide(tab) <= 0


def runs(page, selector):
    """Return in which direction the text of an element runs."""
    return page.evaluate(
        "selector => getComputedStyle(document.querySelector(selector)).direction", selector
    )


SHOWN = """() => {
  const at = document.activeElement;
  const seen = [at, at.closest("label")].filter(Boolean).some((e) => {
    const { outlineStyle, outlineWidth } = getComputedStyle(e);
    return outlineStyle !== "none" && parseFloat(outlineWidth) >= 2;
  });
  const { top } = at.getBoundingClientRect();
  return [at.tagName + "#" + (at.id || at.name || at.textContent.trim().slice(0, 30)), at.checkVisibility(), seen, top + scrollY];
}"""


def test_the_focus_goes_through_a_page_in_its_order_and_is_seen_at_each_step(tab):
    practise(tab)
    press(tab, "v")
    saved(tab)
    tab.reload()
    ready(tab)
    places = []
    for _ in range(60):
        tab.keyboard.press("Tab")
        name, there, seen, _ = place = tab.evaluate(SHOWN)
        if name.startswith("BODY"):
            break
        assert there, name
        assert seen, name
        places.append(place)
    names = [name for name, *_ in places]
    assert names[0] == "A#To the content"
    inside = tab.evaluate(
        "[...document.querySelectorAll('#trait-arch_contact .answers input, #trait-arch_contact textarea')]"
        ".filter(e => e.checkVisibility() && e.type !== 'radio').map(e => e.id || e.name || '')"
    )
    assert len(inside) >= 5
    tops = [top for name, _, _, top in places if name.startswith(("INPUT", "TEXTAREA"))]
    assert tops == sorted(tops)


def test_a_screen_reader_hears_that_an_opinion_is_worked_out_and_when_it_is_ready(tab):
    practise(tab)
    heard = "document.getElementById('heard').textContent"
    until(tab, f"{heard}.startsWith('Ready. ')")
    tab.evaluate(
        "() => { window.all = []; new MutationObserver(() => window.all.push(document.getElementById"
        "('heard').textContent)).observe(document.getElementById('heard'), { childList: true }) }"
    )
    for key in "123":
        tab.keyboard.press(key)
    saved(tab)
    until(tab, "document.getElementById('computing').hidden")
    until(tab, f"{heard}.startsWith('Ready. ')")
    said = tab.evaluate("window.all")
    assert said[0] == "Computing …"
    assert said[-1] == f"Ready. {tab.inner_text('#opinion .answer')}"
    assert len(said) <= 6  # not one for each of the keys and their parts


def test_whoever_asks_for_less_motion_sees_none(tab):
    practise(tab)
    moving = "[...document.querySelectorAll('*')].filter(e => { const s = getComputedStyle(e); return s.transitionDuration.split(', ').some(t => parseFloat(t) > 0) || s.animationName !== 'none' || s.scrollBehavior === 'smooth' }).length"
    assert tab.evaluate("matchMedia('(prefers-reduced-motion: reduce)').matches")
    assert tab.evaluate(moving) == 0
