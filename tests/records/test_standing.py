"""Which certificates of a casebook no longer stand, and the list that says so."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from desk import at, new, open_case, opine
from made import SIGNER, a_signer, small_certificate
from patience import HANGS
from small import SHOPS

from claywit.certificate.verify import read_status
from claywit.records import casebook, keys
from claywit.records.case import read_case
from claywit.records.issued import read_signed
from claywit.records.standing import fallen

OTHER = SHOPS.replace(
    "{north: 0.5, south: 0.4, other: 0.1}", "{north: 0.4, south: 0.5, other: 0.1}"
)


@pytest.fixture
def kept(tmp_path):
    store = new(tmp_path / "case.book")
    open_case(store)
    opine(store)
    return store


def certify(kept, minutes, **how):
    made = small_certificate(**how)
    casebook.keep(kept, "p-1", made.text, at(minutes), name="c.json")
    return made


def test_a_certificate_stands_while_its_opinion_does(kept):
    certify(kept, 6)
    assert fallen(kept, read_case(kept, "p-1"), SIGNER.did) == []


def test_a_superseded_opinion_takes_its_certificate_with_it_once_there_is_a_newer_one(kept):
    first = certify(kept, 6)
    opine(kept, minutes=8, text=OTHER)
    (alone,) = fallen(kept, read_case(kept, "p-1"), SIGNER.did)
    assert (alone.certificate, alone.by) == (first.id, None)
    second = certify(kept, 9, valid_until="2030-01-01T00:00:00Z")
    (replaced,) = fallen(kept, read_case(kept, "p-1"), SIGNER.did)
    assert (replaced.certificate, replaced.by) == (first.id, second.id)


def test_another_signers_certificate_is_not_ours_to_take_back(kept):
    certify(kept, 6)
    opine(kept, minutes=8, text=OTHER)
    assert fallen(kept, read_case(kept, "p-1"), a_signer(b"t").did) == []


def claywit(*arguments, folder):
    command = [Path(sys.executable).parent / "claywit", *map(str, arguments)]
    return subprocess.run(
        command, cwd=folder, capture_output=True, text=True, check=False, timeout=HANGS,
        env={**os.environ, "COLUMNS": "100", "NO_COLOR": "1"},
    )  # fmt: skip


def test_the_list_is_signed_names_each_once_and_a_certificate_carries_the_head(tmp_path):
    """The whole way as a user goes it, with the certified demo piece."""
    root = Path(__file__).parents[2]
    model = root / "models/oskervane.yaml"
    piece = root / "evidence_examples/certified/04-marrable.yaml"
    keys.new_key(tmp_path / "keys" / "a.key", None)
    store = new(tmp_path / "case.book")
    casebook.intake(store, _form("weir-004"), at(1), _seeded())
    casebook.lock(store, "weir-004", piece.read_bytes(), at(2), name="e.yaml")
    store.connection.close()
    changed = tmp_path / "changed.yaml"
    text = model.read_text("utf-8")
    changed.write_text(text.replace("version: 1.0.0", "version: 1.0.1", 1), "utf-8")
    book = ("--casebook", "case.book")
    for i, used in enumerate((model, changed)):
        done = claywit("casebook", "assess", "weir-004", used, *book, folder=tmp_path)
        assert done.returncode == 0, done.stderr
        cert = f"{i}.cert.json"
        done = claywit(
            "certify", used, piece, "-k", "keys/a.key", "-o", cert, *book, folder=tmp_path
        )
        assert done.returncode == 0, done.stderr
        assert claywit("casebook", "keep", "weir-004", cert, *book, folder=tmp_path).returncode == 0
    for count in range(2):
        done = claywit("casebook", "status", "-k", "keys/a.key", "--status", "s.json", *book,
                       folder=tmp_path)  # fmt: skip
        assert done.returncode == 0, done.stderr
        assert "holds 1" in done.stdout
        assert ("superseded:" in done.stdout) is (count == 0)
    listed = read_status(read_signed(tmp_path / "s.json")).credentialSubject.status.entries
    assert [entry.state for entry in listed] == ["superseded"]
    old = claywit("verify", "0.cert.json", "--status", "s.json", "--no-recheck", folder=tmp_path)
    assert (old.returncode, "superseded" in old.stdout) == (1, True)
    new_one = claywit(
        "verify", "1.cert.json", "--status", "s.json", "--no-recheck", folder=tmp_path
    )
    assert new_one.returncode == 0
    head = claywit("casebook", "check", "--head", "1.cert.json", *book, folder=tmp_path)
    assert head.returncode == 0, head.stdout + head.stderr


def _form(piece):
    from desk import form

    return form(piece)


def _seeded():
    from desk import seeded

    return seeded(2)
