"""Keys on disk: a private key that only its owner can read, and its public half beside it.

A key is a PKCS #8 file, encrypted with a passphrase unless its owner said otherwise. It is
named by its file, or by a bare name in the folder of keys.
"""

import os
import stat
from dataclasses import dataclass
from pathlib import Path

from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import (
    Ed25519PrivateKey,
    Ed25519PublicKey,
)
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    KeySerializationEncryption,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
    load_pem_public_key,
)

from claywit.certificate.proof import DID, Signer, multikey, public_key
from claywit.errors import CertificateError, ClaywitError
from claywit.records.disk import make_folders, read_whole, refuse_unplain, write_new
from claywit.records.drafting import clear_drafts

SHORTEST_PASSPHRASE = 12
LONGEST_FILE = 20_000
BEGINS = ("did:key:z", "z6Mk")  # a public key as it is written
OTHERS = stat.S_IRWXG | stat.S_IRWXO


@dataclass(frozen=True)
class Kept:
    """A key as it lies on disk: its public half, and whether a passphrase guards it."""

    path: Path
    multikey: str
    encrypted: bool


def default_folder() -> Path:
    """Return the folder of keys: `claywit/keys` in the user's configuration folder."""
    base = os.environ.get("XDG_CONFIG_HOME") or str(Path.home() / ".config")
    return Path(base) / "claywit" / "keys"


def key_path(name: str, folder: Path | None = None) -> Path:
    """Return the file of a key: *name* itself if it is a path, else a file of the folder."""
    if os.sep in name or name.endswith(".key"):
        return Path(name)
    return (folder or default_folder()) / f"{name}.key"


def new_key(path: Path, passphrase: bytes | None) -> Kept:
    """Make a key and write it to *path*, which must not be there yet; None leaves it bare.

    A key whose making ended before its public half was written is completed.

    Raises:
        CertificateError: the passphrase is too short, the file is there already, or the folder
            is open to others.
        ClaywitError: it cannot be written.
    """
    if passphrase is not None and len(passphrase) < SHORTEST_PASSPHRASE:
        raise CertificateError(
            f"the passphrase has {len(passphrase)} bytes; use {SHORTEST_PASSPHRASE} or more,"
            " as four words that nobody would put together"
        )
    if path.exists() and not path.with_suffix(".pub").exists():
        return _finished(path, passphrase)
    private = Ed25519PrivateKey.generate()
    guard: KeySerializationEncryption = (
        NoEncryption() if passphrase is None else BestAvailableEncryption(passphrase)
    )
    text = private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, guard)
    try:
        if not path.parent.exists():
            make_folders(path.parent, 0o700)
            path.parent.chmod(0o700)
        _refuse_open(path.parent, path.parent.stat(), "folder")
    except OSError as wrong:
        raise CertificateError(f"{path}: cannot be written: {wrong.strerror}") from None
    _refuse_there(path, path.with_suffix(".pub"))
    write_new(path, text, mode=0o600)
    return _with_public(path, private, encrypted=passphrase is not None)


def _refuse_there(*paths: Path) -> None:
    for path in paths:
        clear_drafts(path)
    for path in paths:
        if path.exists():
            raise CertificateError(
                f"{path}: is there already; a key is never overwritten, so give another name"
            )


def _finished(path: Path, passphrase: bytes | None) -> Kept:
    """Return the key that was begun at *path*, and ended before its public half was written."""
    clear_drafts(path)
    try:
        private = _load(path, _private_text(path), passphrase)
    except CertificateError as wrong:
        raise CertificateError(
            f"{wrong}; a key without its public half is there, so open it to complete it, or give"
            " another name"
        ) from None
    return _with_public(path, private, encrypted=passphrase is not None)


def _with_public(path: Path, private: Ed25519PrivateKey, *, encrypted: bool) -> Kept:
    public = _multikey(private)
    write_new(path.with_suffix(".pub"), f"{DID}{public}\n".encode())
    return Kept(path, public, encrypted)


def kept(path: Path) -> Kept:
    """Return what can be said of the key at *path* without its passphrase.

    Raises:
        CertificateError: there is no such key, or others can read it.
    """
    text = _private_text(path)
    encrypted = b"BEGIN ENCRYPTED PRIVATE KEY" in text
    beside = path.with_suffix(".pub")
    if beside.exists():
        return Kept(path, read_public(str(beside)), encrypted)
    if encrypted:
        raise CertificateError(f"{beside}: is not there; put the public key back beside the key")
    return Kept(path, _multikey(_load(path, text, None)), encrypted)


def signer(path: Path, passphrase: bytes | None) -> Signer:
    """Return who signs with the key at *path*.

    Raises:
        CertificateError: there is no such key, others can read it, the passphrase is wrong, or
            the public key beside it is another's.
    """
    private = _load(path, _private_text(path), passphrase)
    public = _multikey(private)
    beside = path.with_suffix(".pub")
    if beside.exists() and read_public(str(beside)) != public:
        raise CertificateError(f"{beside}: is not the public half of {path.name}; mend one")
    return Signer(public, private.sign)


def needs_passphrase(path: Path) -> bool:
    """Return whether the key at *path* is encrypted."""
    return b"BEGIN ENCRYPTED PRIVATE KEY" in _private_text(path)


def read_public(text: str) -> str:
    """Return the Multikey that *text* is or names: did:key:z6Mk…, z6Mk…, or a file of either.

    A file may also hold a public key in PEM.

    Raises:
        CertificateError: it is no public key.
    """
    said = text.strip()
    if said.startswith(BEGINS):
        return public_said(said)
    return public_said(_public_text(Path(said)), said)


def public_said(said: str, name: str = "") -> str:
    """Return the Multikey that *said* itself is, never a file that it names; as `read_public`.

    name: what an error calls it, else what it begins with.

    Raises:
        CertificateError: it is no public key.
    """
    text = said.strip()
    if text.startswith("-----BEGIN PUBLIC KEY-----"):
        return _from_pem(text, name or text.partition("\n")[0])
    return _sound(text.removeprefix(DID).partition("#")[0], name or text)


def public_pem(key: str) -> str:
    """Return the public key of Multikey *key* in PEM, as other programs take it."""
    public = Ed25519PublicKey.from_public_bytes(public_key(key))
    return public.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo).decode("ascii")


def read_secret(path: Path) -> bytes:
    """Return the passphrase in the file at *path*, without its line end.

    Raises:
        CertificateError: it cannot be read, others can read it, or it is empty.
    """
    text = _guarded(path, "passphrase file")
    secret = text.rstrip(b"\r\n")
    if not secret:
        raise CertificateError(f"{path}: holds no passphrase")
    return secret


def _sound(key: str, text: str) -> str:
    try:
        public_key(key)
    except ValueError as wrong:
        raise CertificateError(f"{text[:200]}: {wrong}") from None
    return key


def _from_pem(said: str, text: str) -> str:
    try:
        public = load_pem_public_key(said.encode())
    except (ValueError, UnsupportedAlgorithm):
        public = None
    if not isinstance(public, Ed25519PublicKey):
        raise CertificateError(f"{text[:200]}: is no Ed25519 public key in PEM")
    return _sound(multikey(public.public_bytes_raw()), text)


def _public_text(path: Path) -> str:
    said = f"{str(path)[:200]}: is no public key (did:key:z6Mk…) and no file that holds one"
    try:
        return read_whole(path, LONGEST_FILE).decode("ascii").strip()
    except ClaywitError as wrong:
        raise CertificateError(str(wrong) if _is_there(path) else said) from None
    except ValueError:
        raise CertificateError(said) from None


def _is_there(path: Path) -> bool:
    try:
        path.lstat()
    except ValueError:
        return False
    except OSError as wrong:
        return isinstance(wrong, PermissionError)
    return True


def _private_text(path: Path) -> bytes:
    _refuse_open(path.parent, _stat(path.parent), "folder")
    return _guarded(path, "key")


def _stat(path: Path) -> os.stat_result:
    try:
        return path.stat()
    except OSError as wrong:
        raise CertificateError(f"{path}: cannot be read: {wrong.strerror}") from None


def _guarded(path: Path, what: str) -> bytes:
    """Return the bytes of a secret file: what is checked is what is read, through no link."""
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC | os.O_NONBLOCK)
    except OSError as wrong:
        hint = " (see `claywit keys new --help`)" if what == "key" else ""
        raise CertificateError(f"{path}: cannot be read: {wrong.strerror}{hint}") from None
    with os.fdopen(handle, "rb") as stream:
        refuse_unplain(path, CertificateError, os.fstat(handle).st_mode)
        _refuse_open(path, os.fstat(handle), what)
        try:
            return stream.read(LONGEST_FILE)
        except OSError as wrong:
            raise CertificateError(f"{path}: cannot be read: {wrong.strerror}") from None


def _refuse_open(path: Path, found: os.stat_result, what: str) -> None:
    if found.st_mode & OTHERS:
        wanted = "700" if stat.S_ISDIR(found.st_mode) else "600"
        raise CertificateError(
            f"{path}: this {what} is open to others (mode {stat.S_IMODE(found.st_mode):o});"
            f" run `chmod {wanted} {path}`, and make a new key if anyone may have read it"
        )
    if found.st_uid not in (os.geteuid(), 0):
        raise CertificateError(f"{path}: this {what} belongs to somebody else; use your own")


def _load(path: Path, text: bytes, passphrase: bytes | None) -> Ed25519PrivateKey:
    try:
        private = load_pem_private_key(text, passphrase)
    except TypeError:
        said = "has no passphrase; give none" if passphrase else "needs its passphrase"
        raise CertificateError(f"{path}: {said}") from None
    except (ValueError, UnsupportedAlgorithm):
        said = "the passphrase is wrong, or the file is damaged" if passphrase else "is no key"
        raise CertificateError(f"{path}: {said}") from None
    if not isinstance(private, Ed25519PrivateKey):
        raise CertificateError(f"{path}: is no Ed25519 key; make one with `claywit keys new`")
    return private


def _multikey(private: Ed25519PrivateKey) -> str:
    return multikey(private.public_key().public_bytes_raw())
