"""Keys: private to their owner, guarded by a passphrase, and never shown."""

import os
import pty
import stat
import subprocess
import sys
import traceback
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.serialization import load_pem_public_key
from patience import HANGS

from claywit.certificate.proof import public_key
from claywit.errors import CertificateError
from claywit.records import keys

SECRET = b"heron weir oil lamp"


@pytest.fixture
def path(tmp_path):
    return tmp_path / "keys" / "a.key"


def test_a_key_lies_private_in_a_private_folder(path):
    os.umask(0o022)
    keys.new_key(path, SECRET)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
    assert b"BEGIN ENCRYPTED PRIVATE KEY" in path.read_bytes()


def test_a_key_signs_and_its_public_half_stands_beside_it(path):
    made = keys.new_key(path, SECRET)
    signer = keys.signer(path, SECRET)
    assert signer.multikey == made.multikey == keys.read_public(str(path.with_suffix(".pub")))
    assert keys.kept(path) == made
    assert len(signer.sign(b"anything")) == 64


def test_the_public_half_in_pem_is_the_same_key(path):
    made = keys.new_key(path, SECRET)
    pem = keys.public_pem(made.multikey)
    assert load_pem_public_key(pem.encode()).public_bytes_raw() == public_key(made.multikey)
    (path.parent / "a.pem").write_text(pem)
    assert keys.read_public(str(path.parent / "a.pem")) == made.multikey


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o660, 0o610])
def test_a_key_that_others_can_reach_is_refused(path, mode):
    keys.new_key(path, None)
    path.chmod(mode)
    with pytest.raises(CertificateError, match="open to others"):
        keys.signer(path, None)


def test_a_folder_that_others_can_reach_is_refused(path):
    keys.new_key(path, None)
    path.parent.chmod(0o750)
    with pytest.raises(CertificateError, match=r"this folder is open to others.*chmod 700"):
        keys.signer(path, None)
    with pytest.raises(CertificateError, match="this folder"):
        keys.new_key(path.with_name("b.key"), None)


def test_a_link_to_a_key_is_not_followed(path):
    keys.new_key(path, None)
    link = path.with_name("link.key")
    link.symlink_to(path)
    with pytest.raises(CertificateError, match="cannot be read"):
        keys.signer(link, None)


def test_a_key_is_never_overwritten(path):
    keys.new_key(path, None)
    before = path.read_bytes()
    with pytest.raises(CertificateError, match="never overwritten"):
        keys.new_key(path, SECRET)
    assert path.read_bytes() == before


def test_a_short_passphrase_is_refused_and_nothing_is_written(path):
    with pytest.raises(CertificateError, match="12 or more"):
        keys.new_key(path, b"heron")
    assert not path.exists()


@pytest.mark.parametrize(
    ("given", "said"),
    [(b"another secret", "wrong, or the file is damaged"), (None, "needs its passphrase")],
)
def test_a_wrong_passphrase_is_one_line_that_shows_no_secret(path, given, said):
    keys.new_key(path, SECRET)
    with pytest.raises(CertificateError, match=said) as raised:
        keys.signer(path, given)
    shown = "".join(traceback.format_exception(raised.value))
    assert "another secret" not in shown
    assert SECRET.decode() not in shown
    assert raised.value.__suppress_context__


def test_no_private_byte_is_in_what_a_signer_shows(path):
    keys.new_key(path, None)
    shown = repr(keys.signer(path, None))
    assert shown.startswith("Signer(multikey='z6Mk")
    assert "sign=" not in shown


def test_a_public_key_of_another_beside_the_private_one_is_refused(path):
    keys.new_key(path, None)
    other = keys.new_key(path.with_name("b.key"), None)
    path.with_suffix(".pub").write_text(other.multikey)
    with pytest.raises(CertificateError, match="not the public half"):
        keys.signer(path, None)


@pytest.mark.parametrize(
    "text", ["z6Mkgarbage", "did:key:zQ3shokF", "nowhere", "../..", "x" * 5000]
)
def test_what_is_no_public_key_is_refused(text):
    with pytest.raises(CertificateError):
        keys.read_public(text)


def test_an_rsa_key_is_refused(path):
    from cryptography.hazmat.primitives.asymmetric.rsa import generate_private_key
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    keys.new_key(path, None)
    rsa = generate_private_key(65537, 2048)
    path.write_bytes(rsa.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    with pytest.raises(CertificateError, match="no Ed25519 key"):
        keys.signer(path, None)


def claywit(*arguments, **more):
    command = [Path(sys.executable).parent / "claywit", *map(str, arguments)]
    return subprocess.run(
        command, capture_output=True, text=True, check=False, timeout=HANGS, **more
    )


def test_a_passphrase_comes_from_a_private_file_or_a_descriptor(tmp_path):
    secret = tmp_path / "secret"
    secret.write_bytes(SECRET + b"\n")
    key = tmp_path / "keys" / "a.key"
    done = claywit("keys", "new", key, "--passphrase-file", secret)
    assert (done.returncode, "open to others" in done.stderr) == (2, True)
    secret.chmod(0o600)
    done = claywit("keys", "new", key, "--passphrase-file", secret)
    assert done.returncode == 0
    assert "did:key:z6Mk" in done.stdout
    assert keys.signer(key, SECRET)
    read, write = os.pipe()
    os.write(write, SECRET)
    os.close(write)
    other = tmp_path / "keys" / "b.key"
    done = claywit("keys", "new", other, "--passphrase-fd", read, pass_fds=[read])
    os.close(read)
    assert done.returncode == 0
    assert keys.signer(other, SECRET)


def test_without_a_terminal_a_passphrase_must_be_named(tmp_path):
    done = claywit("keys", "new", tmp_path / "k" / "a.key", stdin=subprocess.DEVNULL)
    assert done.returncode == 2
    assert "--passphrase-file" in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_a_bare_name_lies_in_the_folder_of_keys(tmp_path):
    environment = {**os.environ, "XDG_CONFIG_HOME": str(tmp_path)}
    done = claywit("keys", "new", "mine", "--no-passphrase", env=environment)
    assert done.returncode == 0
    assert (tmp_path / "claywit" / "keys" / "mine.key").exists()
    shown = claywit("keys", "show", "mine", env=environment).stdout
    assert "none: whoever has the file can sign" in shown
    exported = claywit("keys", "export", "mine", env=environment).stdout.strip()
    assert exported == (tmp_path / "claywit" / "keys" / "mine.pub").read_text().strip()
    assert claywit("keys", "export", "mine", "--pem", env=environment).stdout.startswith("-----")


def at_a_terminal(command, answers):
    """Run *command* with a terminal of its own, and type one of *answers* at each prompt."""
    child, terminal = pty.fork()
    if child == 0:
        os.execv(command[0], list(map(str, command)))  # noqa: S606
    shown, typed = b"", 0
    while True:
        try:
            shown += os.read(terminal, 1024)
        except OSError:  # how Linux says that the other end is closed
            break
        if typed < min(len(answers), shown.count(b": ")):
            os.write(terminal, answers[typed] + b"\n")
            typed += 1
    os.close(terminal)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), shown


def test_at_a_terminal_the_passphrase_is_asked_for_twice_and_never_shown(tmp_path):
    command = [Path(sys.executable).parent / "claywit", "keys", "new", tmp_path / "k" / "a.key"]
    status, shown = at_a_terminal(command, [SECRET, SECRET])
    assert status == 0, shown
    assert SECRET not in shown
    assert keys.signer(tmp_path / "k" / "a.key", SECRET)


def test_two_passphrases_that_differ_write_nothing(tmp_path):
    command = [Path(sys.executable).parent / "claywit", "keys", "new", tmp_path / "k" / "a.key"]
    status, shown = at_a_terminal(command, [SECRET, SECRET + b"!"])
    assert status == 2
    assert b"differ" in shown
    assert not (tmp_path / "k").exists()


def test_a_key_whose_making_was_cut_short_is_completed_by_who_can_open_it(tmp_path):
    path = tmp_path / "k" / "north.key"
    made = keys.new_key(path, b"four words of nobody")
    public = path.with_suffix(".pub").read_text()
    path.with_suffix(".pub").unlink()
    with pytest.raises(CertificateError, match="without its public half is there"):
        keys.new_key(path, b"some other four words")
    (path.parent / ".north.key.0123abcd.draft").write_bytes(path.read_bytes())
    assert keys.new_key(path, b"four words of nobody") == made
    assert path.with_suffix(".pub").read_text() == public
    assert {each.name for each in path.parent.iterdir()} == {"north.key", "north.pub"}


def test_a_public_key_that_lies_there_but_cannot_be_read_is_not_said_to_be_none(tmp_path):
    (tmp_path / "folder").mkdir()
    (tmp_path / "long.pub").write_bytes(b"z" * 30_000)
    with pytest.raises(CertificateError, match="folder: cannot be read"):
        keys.read_public(str(tmp_path / "folder"))
    with pytest.raises(CertificateError, match="more than the 20,000 bytes"):
        keys.read_public(str(tmp_path / "long.pub"))
    for nothing in ("no such file", "z" * 5000, "a\0b"):
        with pytest.raises(CertificateError, match="is no public key"):
            keys.read_public(nothing)
