"""The pages beside the examination, in a real browser: each by keyboard, and each looked at."""

from bench import laid
from bench.browser import needs_browser, picture, until
from bench.keyboard import SECRET, make_key, signed
from bench.test_access import COLOURS, faults, wide

pytestmark = needs_browser
PIECES_LIE = True
CASE = f"/piece/{'a' * 16}"
HEAD = "document.querySelector('.top').getBoundingClientRect().height"
ONE_LINE = 75  # pixels; two lines take 94
PAGES = (
    CASE,
    f"{CASE}/terms",
    f"{CASE}/report",
    f"{CASE}/contrast",
    f"{CASE}/dispute",
    f"{CASE}/moulds",
    f"{CASE}/certificate",
    f"/model?node=size&piece={'a' * 16}",
    f"{CASE}/stories",
    f"/piece/{'b' * 16}/certificate",
    "/casebook",
    "/casebook/case/weir-004",
    "/casebook/case/weir-004/replay",
    "/evaluation",
    "/casebook/triage",
    "/verify",
    f"{CASE}/looks",
    "/keys",
    "/casebook/log",
    "/casebook/check",
    "/casebook/reopen",
    "/casebook/case/weir-004/intake",
)


def test_axe_finds_nothing_on_any_page_and_no_width_scrolls_sideways(tab, bench):
    seen = {}
    tab.emulate_media(reduced_motion="reduce")  # no colour is looked at half way to another
    for address in PAGES:
        assert tab.goto(bench.root + address).status == 200, address
        seen[address] = faults(tab)
        for width in (1440, 820, 640, 400):  # a desk, a tablet, a desk at 200 %, a telephone
            tab.set_viewport_size({"width": width, "height": 800})
            if wide(tab) > 0:
                seen[f"{address} at {width}"] = wide(tab)
        tab.set_viewport_size({"width": 1280, "height": 900})
        if (tall := tab.evaluate(HEAD)) > ONE_LINE:
            seen[f"{address}: its head stands in two lines"] = tall
        larger = "document.styleSheets[0].insertRule('html { font-size: 225% !important }', 0)"
        tab.evaluate(larger)
        if wide(tab) > 0:
            seen[f"{address} at twice the size of text"] = wide(tab)
        tab.evaluate("document.styleSheets[0].deleteRule(0)")
        if address in PAGES[:8]:  # the others use no more colours than these
            tab.emulate_media(color_scheme="dark")
            seen[f"{address} in the dark"] = faults(tab, COLOURS)
            tab.emulate_media(color_scheme="light")
    assert {name: found for name, found in seen.items() if found} == {}


def test_on_paper_each_figure_stands_under_its_heading_and_no_form_shows(tab, bench):
    tab.emulate_media(media="print")
    tab.set_viewport_size({"width": 680, "height": 950})  # what a margin leaves of A4
    for address in (*PAGES[2:4], PAGES[5], PAGES[7], "/model?node=mould", "/casebook"):
        tab.goto(bench.root + address)
        shown = "e => e.checkVisibility()"
        assert not tab.locator("form").evaluate_all(f"all => all.some({shown})"), address
        cut = "all => all.filter(t => t.getBoundingClientRect().right > innerWidth + 1).length"
        assert tab.locator("table").evaluate_all(cut) == 0, address
    tab.goto(bench.root + PAGES[3])
    right = "e => Math.round(e.getBoundingClientRect().right)"
    for column in (2, 3, 5, 6):
        heading = tab.locator(f".sides thead th:nth-child({column})")
        figure = tab.locator(f".sides .finding:last-child > :nth-child({column})")
        assert heading.evaluate(right) == figure.evaluate(right)
    assert "what would be lost without each" in tab.inner_text("#sides ~ .note")


def test_where_the_opinion_stands_below_the_traits_a_link_leads_to_it(tab, bench):
    tab.goto(bench.root + CASE)
    link = tab.get_by_role("link", name="To the opinion")
    assert not link.is_visible()
    tab.set_viewport_size({"width": 1024, "height": 768})
    link.press("Enter")
    until(tab, "document.getElementById('beside').getBoundingClientRect().top < innerHeight")
    assert tab.evaluate("document.activeElement.id") in {"beside", ""}


def test_two_attributions_are_chosen_by_ticks_and_turned_round(tab, bench):
    tab.goto(f"{bench.root}{CASE}/contrast")
    assert "M04 Marrable" in tab.inner_text(".answer")
    tab.locator("summary").press("Enter")
    tab.get_by_role("link", name="The two leading").press("Enter")
    tab.locator("summary").press("Enter")
    for name, value in (("a.mould", "M04"), ("b.mould", "M12")):
        tab.locator(f"[name='{name}'][value={value}]").press("Space")
    for name, value in (("a.period", "P1"), ("a.period", "P2"), ("b.period", "P5")):
        tab.locator(f"[name='{name}'][value={value}]").press("Space")
    tab.get_by_role("button", name="Set side by side").press("Enter")
    tab.wait_for_url("**a.period=P1&a.period=P2**")
    assert "P1 Founding or P2 Rebuilding" in tab.inner_text("#odds")
    tab.get_by_role("link", name="Turn A and B round").press("Enter")
    tab.wait_for_url("**a.period=P5**")
    assert tab.inner_text("#odds").startswith("The odds of P5 After 1950")


def test_a_certificate_is_signed_by_keyboard_and_found_good_then_changed_and_found_bad(tab, bench):
    tab.goto(f"{bench.root}{CASE}/certificate")
    make_key(tab)
    text = signed(tab)
    picture(tab, "bench-certificate")
    public = tab.locator(".done .id").inner_text().split()[-1]

    def check(content):
        tab.goto(f"{bench.root}/verify")
        tab.get_by_label("The signed file").set_input_files(
            {"name": "c.json", "mimeType": "application/json", "buffer": content}
        )
        tab.get_by_label("The key you expect").fill(public)
        tab.get_by_role("button", name="Check").press("Enter")
        tab.wait_for_url("**/verify/*")
        return tab.inner_text("h1"), tab.inner_text(".checks")

    answer, checks = check(text)
    assert answer == "Valid as far as it was checked."
    assert "found again by a second engine" in checks
    assert "--status" not in checks
    assert check(text.replace(b"weir-004", b"weir-005"))[0] == "NOT VALID (tampered)"
    held = [path.read_bytes() for path in bench.casebook.parent.rglob("*") if path.is_file()]
    assert not any(SECRET.encode() in content for content in held)


def test_choosing_a_node_by_keyboard_shows_its_table_and_going_back_the_one_before(tab, bench):
    tab.goto(f"{bench.root}/model?node=paste&piece={'a' * 16}")
    assert "B Ferry" in tab.inner_text("#node")
    tab.locator(".box[data-node=size]").press("Enter")
    until(tab, "document.getElementById('node-title').textContent === 'Height and width'")
    shown = tab.inner_text("#node")
    assert "45.1" in shown
    assert "Elicited for the demonstration" in shown
    assert tab.locator(".box[aria-current]").get_attribute("data-node") == "size"
    picture(tab, "bench-model")
    tab.go_back()
    until(tab, "document.getElementById('node-title').textContent === 'Paste'")
    assert "rows of the most doubt" in tab.inner_text("#owed ~ .two").lower()


def test_the_other_sides_file_gives_a_joint_statement_and_a_wrong_one_its_reason(tab, bench):
    tab.goto(f"{bench.root}{CASE}/dispute")

    def load(name):
        file = {"name": "theirs.yaml", "mimeType": "text/yaml", "buffer": laid.example(name)}
        tab.get_by_label("The other side's file").set_input_files(file)
        tab.get_by_role("button", name="Load it").press("Enter")

    load("05-copy")
    tab.wait_for_selector("[role=alert]")
    assert "a joint statement is about one piece" in tab.inner_text("[role=alert]")
    load("04-marrable-b")
    tab.wait_for_selector(".joint")
    assert tab.inner_text(".answer") == "The examiners disagree."
    assert "Grog" in tab.inner_text(".joint")
    picture(tab, "bench-dispute")


def test_a_telephone_shows_a_whole_row_of_the_cases_and_of_the_looks(tab, bench):
    tab.set_viewport_size({"width": 390, "height": 844})
    for address in ("/casebook", "/casebook/triage", f"{CASE}/looks"):
        tab.goto(bench.root + address)
        cells = ".slim tbody :is(th, td)"
        assert tab.locator(cells).count() > 0, address
        ends = (
            f"[...document.querySelectorAll('{cells}')].map(e => e.getBoundingClientRect().right)"
        )
        assert max(tab.evaluate(ends)) <= 390, address
    for caption in tab.locator(".slim caption").all():
        assert caption.bounding_box()["height"] < 80  # no word alone on its line
