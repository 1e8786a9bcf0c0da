"""A whole examination in a real browser, without the mouse; reload, crash, a second tab."""

from bench.browser import needs_browser, picture, running, until

from claywit.assessment import ask, assess
from claywit.bench.draft import Draft
from claywit.bench.weighing import evidence_file
from claywit.evidence.binding import bind
from claywit.evidence.written import read_evidence
from claywit.records.files import read_demonstration, read_standards

pytestmark = needs_browser

READ = {  # of the demonstration piece weir-004: the keys that answer each trait
    "arch_contact": "3", "wear": "3", "coating_cover": "4", "coating_place": "2", "bloom": "noil makes it clear",
    "back_texture": "2", "frame_radius": "m0.48~0.03", "flaw_set": "4", "flaw_state": "2", "inherited_mark": "1h+",
    "recut": "1", "tool_mark": "xno time", "relief_edge": "2", "matrix_colour": "3", "bubbles": "2h", "shell": "1",
    "grog": "2", "crack_net": "2", "crack_lip": "1", "size": "m43.52~0.1|31.78~0.1", "thickness": "m7.4~0.1", "crown_gap": "m22~3",
}  # fmt: skip
SECRET = "seven grey herons stood still"  # noqa: S105 - of a key that lives for a test


def ready(page):
    page.wait_for_selector("#work[data-ready]")


def saved(page):
    until(page, "document.getElementById('saved').textContent === 'Saved'")


def press(page, keys):
    """Press *keys* as an examiner would: the digit or letter, then what is typed in the field."""
    page.keyboard.press(keys[0])
    rest = keys[1:]
    if keys[0] in "nxm":
        for i, part in enumerate(rest.split("|")):
            if i:
                page.keyboard.press("Enter")
            value, _, u = part.partition("~")
            page.keyboard.type(value)
            if u:
                page.keyboard.press("Tab")
                page.keyboard.type(u)
        page.keyboard.press("Escape")
    else:
        for key in rest:
            page.keyboard.press(key)


def current(page):
    return page.evaluate("document.querySelector('.trait:not([hidden])').dataset.trait")


def practise(page, name="heron"):
    page.get_by_label("Name of the piece").fill(name)
    page.get_by_role("button", name="Practise").click()
    page.wait_for_url("**/piece/*")
    ready(page)


def take_in(page, root, piece):
    page.goto(f"{root}/intake")
    page.keyboard.press("Tab")
    page.get_by_label("Id:").focus()
    page.keyboard.type(piece)
    page.get_by_label("Story").fill("found in a boat locker")
    page.get_by_label("Story").press("Tab")
    page.keyboard.type("40")
    page.keyboard.press("Enter")
    page.wait_for_url(f"{root}/")
    page.get_by_label("Examiner").focus()
    page.keyboard.type("A")
    page.keyboard.press("Enter")
    page.wait_for_url("**/piece/*")
    ready(page)


def state_terms(tab):
    """State propositions and engagement on the page of terms, by keyboard."""
    tab.wait_for_url("**/terms")
    for side, state in (("For", "M04"), ("Against", "M12")):
        tab.get_by_label(f"{side}: Mould", exact=True).focus()
        tab.keyboard.type(state)
    tab.get_by_label("Client", exact=True).focus()
    for text in ("C", "sale", "C", "2026-01-12", "none", "nothing"):
        tab.keyboard.type(text)
        tab.keyboard.press("Tab")
    tab.get_by_role("button", name="Keep").press("Enter")
    until(tab, "document.getElementById('said').textContent === 'Kept.'")


def opinion_by_hand(bench, address):
    """Return what claywit says of the evidence file that the draft of a page makes."""
    name = address.rpartition("/")[2].partition("#")[0]
    newest = max(bench.casebook.with_name("casebook-bench").glob(f"{name}.*.json"))
    model = read_demonstration()
    written = evidence_file(Draft.model_validate_json(newest.read_bytes()), model)
    evidence, document = read_evidence(written, "by hand")
    asked, _ = ask(model, bind(evidence, model, document.place), "mould", None, None)
    return assess(model, asked, read_standards(), seed=None)


def test_a_whole_examination_to_a_verified_certificate_needs_no_mouse(tab, bench):
    take_in(tab, bench.root, "weir-021")
    assert "boat locker" not in tab.content()
    order = tab.evaluate("[...document.querySelectorAll('.trait')].map(s => s.dataset.trait)")
    for name in order:
        assert current(tab) == name
        if name in READ:
            press(tab, READ[name])
        tab.keyboard.press("j")
    saved(tab)
    tab.keyboard.press("t")
    state_terms(tab)
    picture(tab, "bench-terms")
    tab.get_by_role("link", name="To the examination").press("Enter")
    ready(tab)
    assert tab.locator("#opinion").count() == 0
    tab.evaluate("location.hash = 'arch_contact'")
    picture(tab, "bench-examine")
    tab.keyboard.press("l")
    assert tab.locator("#lock-problems li").count() == 0
    tab.keyboard.press("Enter")
    tab.wait_for_selector("#opinion .answer")
    assert tab.inner_text("#said") == "The readings are locked. The opinion stands beside them."
    until(tab, "document.getElementById('computing').hidden")
    tab.evaluate("location.hash = 'bubbles'")
    tab.locator("#question").select_option("mould")
    until(tab, "document.querySelector('#opinion .answer').textContent.startsWith('Mould')")
    until(tab, "document.getElementById('computing').hidden")
    picture(tab, "bench-opinion")
    said = tab.inner_text("#opinion .answer")
    by_hand = opinion_by_hand(bench, tab.url).statement
    assert said == by_hand[0]
    assert first_reason(tab) in "; ".join(by_hand).casefold()
    assert "draws of the model" in tab.inner_text("#judged")
    tab.locator("#unmask").focus()
    tab.keyboard.press("Enter")
    until(tab, "document.getElementById('stories').textContent.includes('boat locker')")
    tab.keyboard.press("a")
    picture(tab, "bench-amend")
    certified = certify(tab)
    tab.goto(f"{bench.root}/verify")
    file = {"name": "c.json", "mimeType": "application/json", "buffer": certified}
    tab.get_by_label("The signed file").set_input_files(file)
    tab.get_by_role("button", name="Check").press("Enter")
    tab.wait_for_url("**/verify/*")
    assert tab.inner_text("h1").startswith("Intact")
    assert "weir-021" in tab.inner_text("main")


def first_reason(tab):
    """Return the finding that drives the opinion on the page, as a report names it."""
    first = tab.locator("#opinion .reasons").first.locator("button").first
    name, weight = first.locator("span").all_inner_texts()
    return f"what drove it: {name} ({weight} bans)".casefold()


def certify(tab):
    """Make a key and sign, by keyboard; return the signed file."""
    tab.get_by_role("link", name="Certificate").press("Enter")
    tab.get_by_label("Name").type("north")
    for label in ("Passphrase, 12", "The same again"):
        tab.get_by_label(label).type(SECRET)
    tab.keyboard.press("Enter")
    tab.wait_for_selector("form.sign")
    tab.get_by_label("Its passphrase").type(SECRET)
    tab.keyboard.press("Enter")
    tab.wait_for_selector(".done")
    with tab.expect_download() as got:
        tab.locator(".done").get_by_role("link", name="signed file").press("Enter")
    return got.value.path().read_bytes()


def test_undo_and_redo_by_key(tab):
    practise(tab)
    tab.keyboard.press("3")
    tab.keyboard.press("2")
    saved(tab)
    tab.keyboard.press("u")
    until(
        tab,
        "document.querySelector('#trait-arch_contact .states input:checked').value === 'right_shoulder'",
    )
    tab.keyboard.press("u")
    until(tab, "!document.querySelector('#trait-arch_contact .states input:checked')")
    tab.keyboard.press("r")
    until(
        tab,
        "document.querySelector('#trait-arch_contact .states input:checked')?.value === 'right_shoulder'",
    )


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


def test_same_as_another_piece_is_confirmed_trait_by_trait(tab, bench):
    practise(tab, "first")
    tab.keyboard.press("3")
    tab.keyboard.press("j")
    tab.keyboard.press("2")
    saved(tab)
    tab.goto(bench.root)
    practise(tab, "second")
    tab.keyboard.press("c")
    tab.wait_for_selector("#same-one button")
    tab.locator("#same-as").select_option(label="first (practice)")
    tab.get_by_role("button", name="Same here").press("Enter")
    tab.get_by_role("button", name="Not the same").press("Enter")
    tab.get_by_role("button", name="Done").press("Enter")
    saved(tab)
    state = tab.evaluate("async () => (await fetch(location.pathname + '/state')).json()")
    assert {n: r["copied_from"] for n, r in state["readings"].items()} == {
        "arch_contact": "first (practice)"
    }


def test_every_number_opens_its_rows_and_their_source(tab):
    practise(tab)
    press(tab, "3")
    tab.evaluate("location.hash = 'size'")
    until(tab, "!document.getElementById('trait-size').hidden")
    press(tab, READ["size"])
    saved(tab)
    tab.locator("#question").select_option("mould")
    for node in ("mould", "arch_contact", "size"):
        tab.wait_for_selector(f"[data-why={node}]")
        tab.locator(f"[data-why={node}]").press("Enter")
        tab.wait_for_selector("#why-dialog[open] table")
        if node == "arch_contact":
            picture(tab, "bench-reason")
        assert "Elicited for the demonstration" in tab.inner_text("#why-dialog")
        tab.keyboard.press("Escape")
