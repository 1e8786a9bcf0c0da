"""`claywit certify` and `claywit verify` as a user types them."""

import json
import os
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from made import LATER, small_certificate
from patience import HANGS

from claywit.certificate.identity import time_of
from claywit.records import keys

ROOT = Path(__file__).parents[2]
MODEL, PIECE = ROOT / "models/oskervane.yaml", ROOT / "evidence_examples/certified/04-marrable.yaml"


def claywit(*arguments, folder=ROOT):
    command = [Path(sys.executable).parent / "claywit", *map(str, arguments)]
    return subprocess.run(
        command, cwd=folder, capture_output=True, text=True, check=False, timeout=HANGS,
        env={**os.environ, "COLUMNS": "100", "NO_COLOR": "1"},
    )  # fmt: skip


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    """A folder with a key and a certificate in it."""
    folder = tmp_path_factory.mktemp("desk")
    keys.new_key(folder / "keys" / "a.key", None)
    done = claywit("certify", MODEL, PIECE, "-k", "keys/a.key", "-o", "a.cert.json", folder=folder)
    assert done.returncode == 0, done.stderr
    return folder


def test_certify_says_what_it_wrote_and_verify_finds_it_good(desk):
    done = claywit("verify", "a.cert.json", "--signer", "keys/a.pub", folder=desk)
    assert done.returncode == 0
    assert done.stdout.startswith("Valid as far as it was checked.")
    assert "second engine (pgmpy) within 1e-9" in done.stdout
    assert "It does not show that the\nattribution is right." in done.stdout


def test_a_certificate_is_never_overwritten(desk):
    before = (desk / "a.cert.json").read_bytes()
    done = claywit("certify", MODEL, PIECE, "-k", "keys/a.key", "-o", "a.cert.json", folder=desk)
    assert done.returncode == 2
    assert "never overwritten" in done.stderr
    assert (desk / "a.cert.json").read_bytes() == before


def test_what_is_missing_is_one_line_with_status_2_and_writes_nothing(desk):
    piece = ROOT / "evidence_examples" / "01-textbook.yaml"
    done = claywit("certify", MODEL, piece, "-k", "keys/a.key", "-o", "b.cert.json", folder=desk)
    assert done.returncode == 2
    assert "engagement.interest" in done.stderr
    assert "findings.thickness" in done.stderr
    assert "missing  engagement.client: for whom" in done.stdout
    assert len(done.stderr.splitlines()) == 1
    assert not (desk / "b.cert.json").exists()


def test_anything_but_a_certificate_has_status_1(desk):
    for name, text in (("x.json", b"{}"), ("y.json", b"\x89PNG"), ("z.json", b"")):
        (desk / name).write_bytes(text)
        done = claywit("verify", name, "--no-recheck", folder=desk)
        assert done.returncode == 1
        assert done.stdout.startswith("NOT VALID (")
    assert claywit("verify", MODEL, "--no-recheck", folder=desk).returncode == 1


def test_a_file_that_is_not_there_has_status_2(desk):
    done = claywit("verify", "nowhere.json", folder=desk)
    assert (done.returncode, done.stdout) == (2, "")


def test_the_json_answer_names_the_codes(desk):
    other = keys.new_key(desk / "keys" / "other.key", None).multikey
    done = claywit("verify", "a.cert.json", "--signer", f"did:key:{other}", "--no-recheck", "--json",
                   folder=desk)  # fmt: skip
    answer = json.loads(done.stdout)
    assert done.returncode == 1
    assert (answer["valid"], [f["code"] for f in answer["failures"]]) == (False, ["wrong_key"])
    assert answer["certificate"].startswith("urn:uuid:")


def test_a_certificate_is_taken_back_by_its_signer_alone(desk):
    keys.new_key(desk / "keys" / "thief.key", None)
    arguments = ("--status", "status.json", "--certificate", "a.cert.json", "--reason", "read anew")
    done = claywit("keys", "revoke", "keys/thief.key", *arguments, folder=desk)
    assert (done.returncode, "was signed by" in done.stderr) == (2, True)
    done = claywit("keys", "revoke", "keys/a.key", *arguments, folder=desk)
    assert done.returncode == 0
    assert stat.S_IMODE((desk / "status.json").stat().st_mode) == 0o644
    done = claywit("verify", "a.cert.json", "--status", "status.json", "--no-recheck", folder=desk)
    assert done.returncode == 1
    assert done.stdout.startswith("NOT VALID (revoked)")
    again = claywit("keys", "revoke", "keys/a.key", *arguments, folder=desk)
    assert (again.returncode, "in the list already" in again.stderr) == (2, True)


def test_a_list_is_dated_anew_without_taking_anything_back(desk):
    done = claywit("keys", "revoke", "keys/a.key", "--status", "fresh.json", "--renew", folder=desk)
    assert done.returncode == 0
    done = claywit("verify", "a.cert.json", "--status", "fresh.json", "--no-recheck", folder=desk)
    assert (done.returncode, "not taken back in the list of" in done.stdout) == (0, True)
    done = claywit(
        "keys", "revoke", "keys/a.key", "--status", "x.json", "--renew", "--whole-key", folder=desk
    )
    assert (done.returncode, "give one of" in done.stderr) == (2, True)


def test_a_list_is_held_against_one_that_was_kept_and_against_a_day(desk):
    claywit("keys", "revoke", "keys/a.key", "--status", "kept.json", "--renew", folder=desk)
    shutil.copy(desk / "kept.json", desk / "today.json")
    ask = ("verify", "a.cert.json", "--no-recheck")
    lists = ("--status", "today.json", "--status-kept", "kept.json")
    done = claywit(*ask, *lists, "--status-since", "2026-01-01", folder=desk)
    assert done.returncode == 0, done.stdout
    done = claywit(*ask, *lists, "--status-since", "2999-01-01", folder=desk)
    assert done.stdout.startswith("NOT VALID (status_stale)")
    done = claywit(*ask, *lists, "--status-since", "soon", folder=desk)
    assert (done.returncode, "--status-since soon: no day" in done.stderr) == (2, True)
    done = claywit(*ask, "--status-since", "2026-01-01", folder=desk)
    assert (done.returncode, "go with --status" in done.stderr) == (2, True)


def test_a_page_that_does_not_belong_to_it_is_found(desk):
    (desk / "other.html").write_text("<p>Certain.</p>", encoding="utf-8")
    done = claywit("verify", "a.cert.json", "--page", "other.html", folder=desk)
    assert done.stdout.startswith("NOT VALID (other_page)")


def test_a_replacement_names_what_it_replaces_and_the_list_names_it(desk):
    done = claywit("certify", MODEL, PIECE, "-k", "keys/a.key", "-o", "later.cert.json",
                   "--supersedes", "a.cert.json", "--valid-until", "2099-12-31", folder=desk)  # fmt: skip
    assert done.returncode == 0, done.stderr
    claywit("keys", "revoke", "keys/a.key", "--status", "later.json", "--certificate", "a.cert.json",
            "--superseded-by", "later.cert.json", folder=desk)  # fmt: skip
    done = claywit("verify", "a.cert.json", "--status", "later.json", "--no-recheck", folder=desk)
    assert done.stdout.startswith("NOT VALID (superseded)")


def test_what_would_steer_a_terminal_is_shown_as_a_box():
    from claywit.certificate.check import Against, verify
    from claywit.commands.verdict import as_text

    made = small_certificate()
    verdict = verify(made.text, Against(recompute=False), now=LATER)
    verdict.certificate.trace.report["statement"][0] = "\x1b[2J\x1b]0;x\x07 turned \u202e round"
    unseen = "\x1b\x85\u061c\u200b\u200f\u2028\u2029\u202e\u2066\ufeff\U000e0041"
    verdict.certificate.trace.report["statement"][0] += unseen
    assert not set(unseen) & set(as_text(verdict))
    assert time_of(LATER)
