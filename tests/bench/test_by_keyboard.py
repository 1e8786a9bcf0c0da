"""A whole examination in a real browser, without the mouse."""

from bench.browser import needs_browser, picture, until
from bench.keyboard import (
    READ,
    certify,
    current,
    practise,
    press,
    ready,
    saved,
    state_terms,
    tab_to,
    take_in,
)
from bench.relief import photograph

from claywit.assessment import ask, assess
from claywit.bench.draft import Draft
from claywit.bench.weighing import evidence_file
from claywit.certificate.face import face_of
from claywit.certificate.verify import read_certificate
from claywit.evidence.binding import bind
from claywit.evidence.written import read_evidence
from claywit.records.files import read_demonstration, read_standards

pytestmark = needs_browser
REASON = "seen again by daylight"
MARKS = (  # from the middle, or from the mark before, to four landmarks of the relief
    {"Shift+ArrowUp": 7},
    {"Shift+ArrowLeft": 5, "Shift+ArrowDown": 13, "ArrowDown": 5},
    {"Shift+ArrowRight": 10},
    {"Shift+ArrowLeft": 5, "Shift+ArrowUp": 6},
)


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
    amend_bubbles(tab)
    lay_two_photographs_over_each_other(tab)
    certified = certify(tab)
    printed = face_of(read_certificate(certified).trace)["amended"]
    assert [(row[0], row[2].partition(" → ")[2], row[3]) for row in printed] == [
        ("Trapped bubbles", "none (sure 0.8)", f"Trapped bubbles: {REASON}")
    ]
    assert "after an opinion was formed" in printed[0][1]
    tab.goto(f"{bench.root}/verify")
    file = {"name": "c.json", "mimeType": "application/json", "buffer": certified}
    tab.get_by_label("The signed file").set_input_files(file)
    tab.get_by_role("button", name="Check").press("Enter")
    tab.wait_for_url("**/verify/*")
    assert tab.inner_text("h1").startswith("Intact")
    assert "weir-021" in tab.inner_text("main")


def amend_bubbles(tab):
    """Change a reading after the opinion was seen, and say why; the opinion follows."""
    tab.keyboard.press("a")
    tab.keyboard.press("1")
    tab_to(tab, "[name=reason]")
    tab.keyboard.type(REASON)
    picture(tab, "bench-amend")
    tab_to(tab, ".amending button")
    tab.keyboard.press("Enter")
    tab.locator("#said", has_text="The amendment is recorded, with its reason.").wait_for()
    ready(tab)
    assert tab.locator("#trait-bubbles .states input:checked").input_value() == "none"
    until(tab, "document.getElementById('computing').hidden")


def lay_two_photographs_over_each_other(tab):
    """Mark the same four places in two pictures of one relief, by the arrows alone."""
    tab_to(tab, "a[href$='/moulds']")
    tab.keyboard.press("Enter")
    tab.wait_for_url("**/moulds")
    for side, scale in (("first", 1.0), ("second", 1.9)):
        frame = tab.locator(f"[data-side={side}]")
        # What a dialog of the system would ask, no page can.
        frame.locator(".send").set_input_files(photograph(scale))
        until(tab, f"!!document.querySelector('[data-side={side}] image')")
        tab_to(tab, f"[data-side={side}] svg")
        for moves in MARKS:
            for key, times in moves.items():
                for _ in range(times):
                    tab.keyboard.press(key)
            tab.keyboard.press("Enter")
        x, y = (round(value * scale) for value in (200, 210))
        assert frame.locator(".at").inner_text() == f"Marked landmark 4 at {x} across, {y} down."
    until(tab, "document.querySelectorAll('#residual li').length > 0")
    assert tab.inner_text("#residual").startswith("0.00%")


def first_reason(tab):
    """Return the finding that drives the opinion on the page, as a report names it."""
    first = tab.locator("#opinion .reasons").first.locator("button").first
    name, weight = first.locator("span").all_inner_texts()
    return f"what drove it: {name} ({weight} bans)".casefold()


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
