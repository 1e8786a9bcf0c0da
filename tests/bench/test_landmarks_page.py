"""Two photographs laid over each other by their landmarks, in a real browser."""

from bench.browser import needs_browser, picture, until
from bench.relief import LANDMARKS, photograph
from bench.test_pages import CASE

pytestmark = needs_browser
PIECES_LIE = True


def test_landmarks_typed_and_nudged_give_residual_and_scale_apart(tab, bench):
    tab.goto(f"{bench.root}{CASE}/moulds")
    assert "M04 Marrable" in tab.inner_text(".scales tbody tr:first-child")
    for side, scale in (("first", 1.0), ("second", 1.9)):
        frame = tab.locator(f"[data-side={side}]")
        frame.locator(".send").set_input_files(photograph(scale))
        until(tab, f"!!document.querySelector('[data-side={side}] image')")
        frame.locator(".mm").fill("20" if side == "first" else "21")
        frame.locator(".mark-scale").press("Enter")
        plate = frame.locator("svg")
        for _ in range(9):
            plate.press("Shift+ArrowDown")
        plate.press("Enter")
        for _ in range(5):
            plate.press("Shift+ArrowLeft")
        plate.press("Enter")
    for i, (x, y) in enumerate(LANDMARKS):
        tab.locator("#add").press("Enter")
        for side, scale in (("first", 1.0), ("second", 1.9)):
            for axis, value in enumerate((x, y)):
                typed = tab.locator(f"[data-at='{i}-{side}-{axis}']")
                typed.fill(str(value * scale))
                typed.press("Tab")
    until(tab, "document.querySelectorAll('#residual li').length > 0")
    until(tab, "document.querySelector('#rows tr:last-child [data-left]').textContent !== ''")
    assert tab.inner_text("#residual").startswith("0.00%")
    # One drawing at 100 px for 20 mm and at 190 px for what is called 21 mm: 20 / 21 the size.
    assert tab.inner_text("#factor").startswith("0.9524 ± 0.0000")
    assert "the first is 4.76% smaller than the second" in tab.inner_text("#factor")
    assert "parallax" in tab.inner_text("#mind")
    picture(tab, "bench-overlay", "#overlay")
    moved = tab.locator("[data-at='0-first-0']")
    moved.focus()
    for _ in range(10):
        moved.press("ArrowUp")
    until(tab, "!document.getElementById('residual').textContent.startsWith('0.00%')")
    assert "landmark 1" in tab.inner_text("#residual")
    tab.reload()
    until(tab, "document.querySelectorAll('#rows tr').length === 6")
