"""The newer pages in a real browser, by keyboard: a dispute otherwise, a copy, an intake, a key."""

import sqlite3

from bench import laid
from bench.browser import needs_browser, picture
from bench.keyboard import SECRET
from bench.payloads import PAYLOADS
from bench.test_pages import CASE
from bench.test_sides import PRIORS

pytestmark = needs_browser
PIECES_LIE = True
BOOK = "/casebook/case/weir-004"


def press(tab, role, name):
    tab.get_by_role(role, name=name).press("Enter")


def open_up(tab, name):
    tab.locator("summary", has_text=name).press("Enter")


def said(tab, text):
    tab.locator("#said", has_text=text).wait_for()  # on this page, or on the one that follows


def test_a_dispute_is_joined_by_other_priors_on_a_question_of_ones_own(tab, bench):
    tab.goto(f"{bench.root}{CASE}/dispute")
    tab.get_by_label("The other side's file").set_input_files(
        {"name": "b.yaml", "mimeType": "text/yaml", "buffer": laid.example("04-marrable-b")}
    )
    press(tab, "button", "Load it")
    tab.wait_for_selector(".joint")
    open_up(tab, "What the other side holds")
    tab.get_by_label("Its priors").set_input_files(
        {"name": "p.yaml", "mimeType": "text/yaml", "buffer": PRIORS}
    )
    press(tab, "button", "Load the priors")
    tab.wait_for_selector("text=the owner's adviser")
    open_up(tab, "Choose the question")
    tab.get_by_label("Weight of your side").fill("2")
    press(tab, "button", "Join again")
    tab.wait_for_selector("[role=alert]")
    assert "lies between 0 and 1" in tab.inner_text("[role=alert]")
    tab.get_by_label("Weight of your side").fill("0.4")
    tab.get_by_label("About").select_option("period")
    press(tab, "button", "Join again")
    tab.wait_for_url("**q=period**")
    assert "P5" in tab.inner_text(".joint")


def test_a_copy_of_the_casebook_is_saved_and_past_cases_are_looked_through(tab, bench, tmp_path):
    tab.goto(f"{bench.root}/casebook")
    with tab.expect_download() as got:
        press(tab, "link", "Save a copy")
    copy = tmp_path / got.value.suggested_filename
    got.value.save_as(copy)
    count = "SELECT count(*) FROM log"
    held = [sqlite3.connect(path).execute(count).fetchone() for path in (copy, bench.casebook)]
    assert held[0] == held[1]
    picture(tab, "bench-casebook")
    press(tab, "link", "Weigh past cases again")
    assert "No opinion was formed" in tab.inner_text(".answer")
    tab.goto(f"{bench.root}/casebook")
    press(tab, "link", "Is it whole?")
    head = tab.inner_text("p.id")
    tab.get_by_label("The head").fill(head)
    tab.keyboard.press("Enter")
    tab.wait_for_url("**head=**")
    assert "It agrees" in tab.inner_text("main")


def test_an_intake_is_corrected_with_hostile_words_and_none_of_them_runs(tab, bench):
    tab.context.add_init_script("window.count = 0; window.ran = () => { window.count += 1 }")
    tab.goto(bench.root + BOOK)
    press(tab, "link", "Correct the intake")
    tab.wait_for_url("**/intake")
    for i, field in enumerate(tab.locator("form input:not([type=hidden]), form textarea").all()):
        field.fill(PAYLOADS[i])
    press(tab, "button", "Record the correction")
    said(tab, "The correction is recorded.")
    assert PAYLOADS[0] in tab.inner_text("main")
    open_up(tab, "More of its story")
    tab.get_by_label("What was told").fill(PAYLOADS[-1])
    press(tab, "button", "Seal it")
    said(tab, "It is sealed.")
    press(tab, "link", "Its log")
    assert "taken in anew" in tab.inner_text(".log")
    for address in (f"{BOOK}/intake", f"{CASE}/looks", "/casebook/reopen"):
        tab.goto(bench.root + address)
        assert tab.evaluate("window.count") == 0, address
    assert PAYLOADS[-1] not in tab.content()


def test_a_list_is_signed_with_a_key_and_a_refusal_leaves_the_focus_where_it_was(tab, bench):
    tab.goto(f"{bench.root}/keys")
    tab.get_by_label("Name").fill("north")
    tab.get_by_label("Passphrase, 12").fill(SECRET)
    tab.get_by_label("The same again").fill(SECRET)
    press(tab, "button", "Make the key")
    said(tab, "The key is made.")
    open_up(tab, "Sign its list anew")
    tab.get_by_label("take back all that this key").press("Space")
    press(tab, "button", "Sign the list")
    said(tab, "Say by the tick")
    assert tab.evaluate("document.activeElement.textContent") == "Sign the list"
    tab.get_by_label("only date it anew").press("Space")
    tab.get_by_label("Its passphrase").fill(SECRET)
    press(tab, "button", "Sign the list")
    said(tab, "The list is signed")
    assert "Its list is empty, and dated" in tab.inner_text("main")
