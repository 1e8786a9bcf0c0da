"""Drafts on disk: a new file for each version, which appears whole or not at all.

Two tabs, or two runs of the bench, can never both save the same version, since a file that is
there is never replaced. So nothing that was saved is lost, and whoever comes second is told.
"""

import json
import os
import re
from contextlib import suppress
from pathlib import Path
from random import Random

from claywit.bench.draft import Draft
from claywit.errors import ClaywitError
from claywit.model.formats import OtherFormat, refuse_format
from claywit.records.disk import AlreadyThere, make_folders, read_whole, write_new
from claywit.records.drafting import clear_dead

MAX_DRAFT = 64_000_000
LONG = 2_000_000  # bytes beyond which the oldest steps are forgotten
KEPT = 3  # versions that stay; the older ones are in the steps of the newer
BESIDE = ("theirs", "priors", "model")  # what may be brought of the other side of a dispute
TYPED = "typed"  # into its forms, and not sent yet


class Stale(Exception):  # noqa: N818 - it names the state of affairs
    """Another tab has saved this draft meanwhile."""


def new_id(rng: Random) -> str:
    """Return a name for a draft that nobody can guess."""
    return rng.randbytes(8).hex()


def own(folder: Path) -> None:
    """Make the folder of the drafts if it is not there, for its owner's eyes only.

    What a bench that died had begun to write is cleared away.

    Raises:
        ClaywitError: it cannot be made, or another user of the machine has put it there.
    """
    try:
        make_folders(folder, 0o700)
        if os.name == "posix":
            if {folder.lstat().st_uid, folder.stat().st_uid} != {os.getuid()}:
                raise ClaywitError(
                    f"{folder}: belongs to another user of this machine, who could read and change"
                    " what is entered; keep the casebook in a folder of your own"
                )
            if folder.stat().st_mode & 0o077:
                folder.chmod(0o700)
        clear_dead(folder)
    except OSError as wrong:
        raise ClaywitError(f"{folder}: cannot be written: {wrong.strerror}") from None


def create(folder: Path, draft: Draft) -> None:
    """Save the first version of a draft."""
    own(folder)
    _write(folder, draft)


def save(folder: Path, draft: Draft) -> None:
    """Save a draft as its version.

    Raises:
        Stale: this version was saved by another tab.
        ClaywitError: the folder cannot be written.
    """
    _write(folder, draft)
    for old in _versions(folder, draft.id)[:-KEPT]:
        with suppress(OSError):  # in nobody's way
            old.unlink()


def _write(folder: Path, draft: Draft) -> None:
    path = folder / _name(draft)
    newer = _versions(folder, draft.id)
    if newer and newer[-1].name >= path.name:
        raise Stale
    try:
        write_new(path, _written(draft))
    except AlreadyThere:
        raise Stale from None


def _written(draft: Draft) -> bytes:
    """Return a draft as it is stored, without the oldest steps where they grow too long."""
    text = draft.model_dump_json(by_alias=True).encode()
    while len(text) > LONG and draft.done:
        draft = draft.model_copy(update={"done": draft.done[len(draft.done) // 2 + 1 :]})
        text = draft.model_dump_json(by_alias=True).encode()
    if len(text) > MAX_DRAFT:
        raise ClaywitError(f"{len(text):,} bytes; a draft has at most {MAX_DRAFT:,}")
    return text


def exists(folder: Path, draft: str) -> bool:
    """Return whether there is a draft of this name."""
    return bool(_versions(folder, draft))


def read(folder: Path, draft: str) -> Draft:
    """Return the newest version of a draft.

    Raises:
        ClaywitError: there is none of this name, or it is not readable.
    """
    versions = _versions(folder, draft)
    if not versions:
        raise ClaywitError("there is no such draft; it may have been removed")
    newest = versions[-1]
    text = read_whole(newest, MAX_DRAFT)
    try:
        refuse_format(json.loads(text), Draft)
        found = Draft.model_validate_json(text)
    except OtherFormat as wrong:
        raise ClaywitError(f"{newest.name}: {wrong}") from None
    except (ValueError, RecursionError):
        raise ClaywitError(
            f"{newest.name}: is damaged; move it away, the one before stays"
        ) from None
    if newest.name != _name(found):
        raise ClaywitError(f"{newest.name}: holds another draft, {_name(found)}; move it away")
    return found


def read_all(folder: Path) -> list[Draft]:
    """Return the drafts that are readable, the newest first."""
    names = {path.name.partition(".")[0] for path in folder.glob("*.json")}
    found = []
    for name in names:
        try:
            found.append(read(folder, name))
        except ClaywitError:
            continue
    return sorted(found, key=lambda draft: draft.saved, reverse=True)


def beside(folder: Path, draft: str, part: str = BESIDE[0]) -> Path:
    """Return where something beside a draft that was read lies, as a part of the other side."""
    return folder / f"{draft}.{part}"


def remove(folder: Path, draft: str) -> None:
    """Remove all versions of a draft, and what lies beside it."""
    versions = _versions(folder, draft)
    lying = [beside(folder, draft, part) for part in (*BESIDE, TYPED)] if versions else []
    for path in [*versions, *lying]:
        path.unlink(missing_ok=True)


def _name(draft: Draft) -> str:
    return f"{draft.id}.{draft.version:09d}.json"


def _versions(folder: Path, draft: str) -> list[Path]:
    """Return the files of a draft, the oldest first; no copy that another program left there."""
    if not re.fullmatch("[0-9a-f]{16}", draft):
        return []
    named = re.compile(rf"{draft}\.\d{{9}}\.json", re.ASCII)
    return sorted(path for path in folder.glob(f"{draft}.*.json") if named.fullmatch(path.name))
