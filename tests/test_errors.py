"""Messages are of one line that a terminal shows and does not obey."""

import os
import subprocess
import sys

import pytest
from patience import HANGS

from claywit.errors import ClaywitError, ClaywitWarning, ModelError, legible
from claywit.model.source import read_document

SEEN = "rim: flat (é, ‰, …, 粘土)"


def claywit(*arguments, **more):
    return subprocess.run(
        [sys.executable, "-c", "from claywit.cli import main; main()", *arguments],
        capture_output=True, timeout=HANGS, check=False, **more,
    )  # fmt: skip


def test_what_shows_nothing_itself_is_shown_by_its_number():
    assert legible(SEEN) == SEEN
    assert (
        legible("a\x1b[2Jb\u202e\u009b\n\ud800\u2028") == "a\\x1b[2Jb\\u202e\\x9b\\n\\ud800\\u2028"
    )


def test_a_message_never_holds_a_character_that_a_terminal_obeys():
    error = ClaywitError("m.yaml: '\x1b[2J'", ["\x07"])
    assert (str(error), error.details) == ("m.yaml: '\\x1b[2J'", ("\\x07",))


def test_a_message_is_short_however_long_what_it_quotes_and_keeps_its_place_and_its_way_out():
    said = str(ClaywitError(f"m.yaml:3: unknown key {'x' * 4_000_000}; did you mean rim?"))
    assert len(said) < 1_010
    assert said.startswith("m.yaml:3: unknown key x")
    assert said.endswith("x; did you mean rim?")


def test_the_name_of_a_file_does_not_steer_the_terminal(tmp_path):
    """As `claywit check *.yaml` in a folder that came out of somebody's archive."""
    for name in ("a\x1b]0;owned\x07.yaml", "a\u202elmay.yaml", "a\x9b2J.yaml"):
        (tmp_path / name).write_text("x", encoding="utf-8")
        done = claywit("check", str(tmp_path / name), env={**os.environ, "PYTHONUTF8": "1"})
        assert done.returncode == 2
        said = (done.stdout + done.stderr).decode()
        assert "holds a character that cannot be seen; rename it" in said
        assert said.strip().isprintable()


def test_a_file_whose_last_line_has_no_end_is_read_with_a_warning(tmp_path):
    """`20` cut to `2` looks whole."""
    with pytest.warns(ClaywitWarning, match=r"m\.yaml:2: the last line has no end"):
        assert read_document(b"a: 1\nn: 2", "m.yaml", ModelError).data == {"a": "1", "n": "2"}
    (tmp_path / "m.yaml").write_text("a: 1", encoding="utf-8")
    done = claywit("check", str(tmp_path / "m.yaml"))
    assert b"warning: " in done.stderr
    assert b"m.yaml:1: the last line has no end, so the file may be cut off" in done.stderr


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("text", ["a: 1\n", "a: 1\r\n", "a: 1\n  "])
def test_a_file_whose_lines_have_ends_is_read_without_a_word(text):
    assert read_document(text.encode(), "m.yaml", ModelError).data == {"a": "1"}
