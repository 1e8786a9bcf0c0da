"""The casebook on the command line: 0 done, 1 an honest negative, 2 one line that says the way out."""

import json

import pytest
from test_cli import EVIDENCE, MODEL, ROOT, claywit


@pytest.fixture
def folder(tmp_path):
    assert claywit("casebook", "new", folder=tmp_path).returncode == 0
    form = claywit("casebook", "form", "weir-004", folder=tmp_path).stdout
    (tmp_path / "form.yaml").write_text(
        form.replace('story: ""', "story: from a boat"), encoding="utf-8"
    )
    assert claywit("casebook", "intake", "form.yaml", folder=tmp_path).returncode == 0
    return tmp_path


def test_the_story_is_nowhere_shown_before_readings_are_locked(folder):
    for command in (
        ("show", "weir-004", "--json"),
        ("show", "weir-004"),
        ("list",),
        ("log", "--json"),
    ):
        assert "from a boat" not in claywit("casebook", *command, folder=folder).stdout
    claywit("casebook", "lock", "weir-004", ROOT / EVIDENCE, folder=folder)
    assert "from a boat" in claywit("casebook", "unmask", "weir-004", folder=folder).stdout


def test_a_head_that_does_not_agree_ends_with_1(folder):
    done = claywit("casebook", "check", "--head", f"99:{'a' * 64}", "--json", folder=folder)
    assert done.returncode == 1
    assert json.loads(done.stdout)["outside"] == "disagrees"


def test_an_opinion_kept_replays_with_status_0(folder):
    claywit("casebook", "lock", "weir-004", ROOT / EVIDENCE, folder=folder)
    assert claywit("casebook", "assess", "weir-004", ROOT / MODEL, folder=folder).returncode == 0
    done = claywit("casebook", "replay", "--json", folder=folder)
    assert (done.returncode, json.loads(done.stdout)[0]["differences"]) == (0, [])


@pytest.mark.parametrize("arguments", [
    ("show", "nothing"), ("lock", "weir-004", "nowhere"), ("check", "--head", "17"), ("list", "-c", "nowhere"),
    ("import", "form.yaml"), ("unmask", "weir-004"), ("fetch", "weir-004", "abc", "-o", "x"),
])  # fmt: skip
def test_what_the_user_can_mend_is_one_line_and_status_2(folder, arguments):
    done = claywit("casebook", *arguments, folder=folder)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert done.stderr.startswith("error: ")
