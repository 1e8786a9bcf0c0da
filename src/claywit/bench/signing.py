"""The user's keys as the bench shows them: by name, never by folder; a passphrase is never kept."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from claywit.bench.web import Refused
from claywit.certificate.proof import DID, Signer
from claywit.errors import CertificateError
from claywit.records import keys

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,59}")


@dataclass(frozen=True)
class KeyTold:
    """A key by its name: its public half, and whether a passphrase guards it; or what is wrong."""

    name: str
    public: str = ""
    guarded: bool = True
    wrong: str = ""


def keys_told() -> tuple[KeyTold, ...]:
    """Return the keys in the user's folder of keys."""
    folder = keys.default_folder()
    names = sorted(path.stem for path in folder.glob("*.key")) if folder.is_dir() else []
    return tuple(_told(folder, name) for name in names)


def key_told(name: str) -> KeyTold:
    """Return one key of that folder.

    Raises:
        Refused: there is none of that name, or it is not readable.
    """
    found = next((key for key in keys_told() if key.name == name), None)
    if found is None:
        raise Refused(404, "There is no such key.")
    if found.wrong:
        raise Refused(422, found.wrong)
    return found


def _told(folder: Path, name: str) -> KeyTold:
    try:
        with without_folder():
            found = keys.kept(folder / f"{name}.key")
    except CertificateError as wrong:
        return KeyTold(name, wrong=str(wrong))
    return KeyTold(name, DID + found.multikey, found.encrypted)


def key_of(name: str, passphrase: str) -> Signer:
    """Return who signs with the key of that name.

    Raises:
        Refused: there is no such key.
        CertificateError: others can read it, or the passphrase is wrong.
    """
    if not name:
        raise Refused(422, "Choose the key that signs.")
    path = _path(name)
    with without_folder():
        guarded = keys.needs_passphrase(path)
        if guarded and not passphrase:
            raise Refused(422, "Type the passphrase of the key.")
        return keys.signer(path, passphrase.encode() if guarded else None)


def made_key(name: str, passphrase: str) -> str:
    """Make a key, and return its public half.

    Raises:
        Refused: the name is not one of a key.
        CertificateError: the passphrase is too short, or there is a key of that name.
    """
    with without_folder():
        return DID + keys.new_key(_path(name), passphrase.encode()).multikey


def _path(name: str) -> Path:
    if not NAME.fullmatch(name):
        raise Refused(422, "Name a key in letters, digits, - and _, as north-2026.")
    return keys.key_path(name)


@contextmanager
def without_folder() -> Iterator[None]:
    """Take the folder of keys out of what is said of a key."""
    try:
        yield
    except CertificateError as wrong:
        folder = str(keys.default_folder())
        text = str(wrong).replace(f"{folder}/", "").replace(folder, "the folder of keys")
        raise CertificateError(text) from None
