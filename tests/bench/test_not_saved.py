"""What could not be saved: the page says so, keeps it, and saves it once it can."""

import errno
from unittest.mock import Mock

from bench.asking import Asking
from bench.browser import needs_browser, running, until
from bench.keyboard import practise, ready, saved

from claywit.records import disk


def test_where_the_disk_is_full_the_page_is_told_to_keep_the_answer(tmp_path, monkeypatch):
    asking = Asking(tmp_path)
    piece = asking.practise()

    full = Mock(side_effect=OSError(errno.ENOSPC, "No space left on device"))
    with monkeypatch.context() as patched:
        patched.setattr(disk.os, "fsync", full)
        told = asking.answer(piece, "wear", {"way": "seen", "state": "none"})
    assert told.status_code == 507
    assert "No space left" in told.json()["error"]
    assert str(tmp_path) not in told.text
    assert asking.state(piece)["readings"] == {}
    assert not [path for path in asking.desk.drafts.iterdir() if path.name.startswith(".")]
    asking.see(piece, wear="none")


@needs_browser
def test_an_answer_that_is_refused_is_never_called_saved(browser, tmp_path):
    with running(tmp_path) as bench:
        page = browser.new_context().new_page()
        page.goto(bench.opens)
        practise(page)
        page.keyboard.press("o")
        page.keyboard.insert_text("safe\u202eeliw")
        until(page, "document.getElementById('said').textContent.includes('cannot be seen')")
        page.wait_for_timeout(400)
        assert page.inner_text("#saved") == "Not saved"
        assert "cannot be seen" in page.inner_text("#said")
        page.context.close()


@needs_browser
def test_a_page_of_an_earlier_run_keeps_what_is_entered_until_it_is_loaded_again(browser, tmp_path):
    with running(tmp_path) as first:
        page = browser.new_context().new_page()
        page.goto(first.opens)
        practise(page)
        port = int(first.root.rpartition(":")[2])
        first.kill()
    with running(tmp_path, port=port) as again:
        page.keyboard.press("3")
        until(page, "document.getElementById('said').textContent.includes('kept here')")
        other = page.context.new_page()
        other.goto(again.opens)
        page.reload()
        ready(page)
        saved(page)
        state = page.evaluate("async () => (await fetch(location.pathname + '/state')).json()")
        assert state["readings"]["arch_contact"]["state"] == "right_shoulder"
        page.context.close()
