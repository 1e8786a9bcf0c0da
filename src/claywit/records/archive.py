"""A zip archive from anybody, read so that it can do no harm; written, it is the same twice.

An archive of claywit holds `manifest.json` and `objects/` with files that are called by their
SHA-256. So a name has just two shapes, and everything else is refused before a byte is unpacked.
"""

import io
import re
import stat
import unicodedata
import zipfile
import zlib
from collections.abc import Mapping
from hashlib import sha256
from itertools import pairwise
from typing import BinaryIO

from claywit.errors import CasebookError

MANIFEST = "manifest.json"
OBJECT = re.compile(r"objects/([0-9a-f]{64})", re.ASCII)
MAX_FILES = 5_000
MAX_FILE = 64_000_000
MAX_TOTAL = 1_000_000_000
MAX_RATIO = 1_100  # deflate gains at most 1,032 times (its own bound), and headers count too
MAX_MANIFEST = 8_000_000
ENCRYPTED = 0x1
MS_DOS_EPOCH = (1980, 1, 1, 0, 0, 0)


class Archive:
    """An archive whose names, sizes and kinds were found harmless; nothing is unpacked yet."""

    def __init__(self, stream: BinaryIO, name: str, *, most: int = MAX_FILE) -> None:
        """Look at the list of files in *stream*, each of at most *most* bytes once unpacked.

        Raises:
            CasebookError: no archive, or one that holds what a bundle never holds.
        """
        self._name, self._most = name, most
        try:
            self._zip = zipfile.ZipFile(stream)
        except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, EOFError):
            raise CasebookError(f"{name}: no zip archive, or one that was cut short") from None
        infos = self._zip.infolist()
        if len(infos) > MAX_FILES:
            raise CasebookError(f"{name}: {len(infos):,} files, a bundle has at most {MAX_FILES:,}")
        self._files: dict[str, zipfile.ZipInfo] = {}
        for info in infos:
            self._refuse_name(info)
            self._refuse_kind(info)
            self._files[info.filename] = info
        self._refuse_sizes()
        if MANIFEST not in self._files:
            raise CasebookError(f"{name}: no {MANIFEST} in it; is it a bundle of claywit?")

    def _refuse_name(self, info: zipfile.ZipInfo) -> None:
        name = info.filename
        fault = None
        if info.orig_filename != name or "\0" in info.orig_filename:
            fault = "is written in two ways"
        elif ".." in re.split(r"[/\\]", name) or name.startswith(("/", "\\")) or ":" in name:
            fault = "leads out of the bundle"
        elif name in self._files:
            fault = "stands twice"
        elif name != MANIFEST and not OBJECT.fullmatch(name):
            fault = _looks_like(name)
        if fault:
            raise CasebookError(f"{self._name}: file {_shown(name)} {fault}; nothing was read")

    def _refuse_kind(self, info: zipfile.ZipInfo) -> None:
        mode = info.external_attr >> 16
        fault = None
        if stat.S_IFMT(mode) not in (0, stat.S_IFREG):
            fault = "is a link or a device"
        elif info.flag_bits & ENCRYPTED:
            fault = "is encrypted"
        elif info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            fault = "is packed in an unusual way"
        if fault:
            raise CasebookError(
                f"{self._name}: file {_shown(info.filename)} {fault}; nothing was read"
            )

    def _refuse_sizes(self) -> None:
        for info in self._files.values():
            most = MAX_MANIFEST if info.filename == MANIFEST else self._most
            packed = max(info.compress_size, 1)
            if info.file_size > most or info.file_size > MAX_RATIO * packed:
                raise CasebookError(
                    f"{self._name}: file {_shown(info.filename)} would unpack to"
                    f" {info.file_size:,} bytes; nothing was read"
                )
        total = sum(info.file_size for info in self._files.values())
        if total > MAX_TOTAL:
            raise CasebookError(
                f"{self._name}: would unpack to {total:,} bytes, at most {MAX_TOTAL:,}"
            )
        spans = sorted((i.header_offset, i.compress_size) for i in self._files.values())
        for (start, size), (following, _) in pairwise(spans):
            if start + size > following:
                raise CasebookError(f"{self._name}: files in it overlap; nothing was read")

    def objects(self) -> list[str]:
        """Return the digests by which the objects are called."""
        return sorted(name.partition("/")[2] for name in self._files if name != MANIFEST)

    def manifest(self) -> bytes:
        """Return the bytes of the manifest."""
        return self._read(MANIFEST)

    def get(self, digest: str) -> bytes:
        """Return an object, whose bytes are those of its digest.

        Raises:
            CasebookError: they are not.
        """
        content = self._read(f"objects/{digest}")
        if sha256(content).hexdigest() != digest:
            raise CasebookError(f"{self._name}: object {digest[:12]}… was altered")
        return content

    def _read(self, name: str) -> bytes:
        info = self._files[name]
        try:
            with self._zip.open(info) as stream:
                content = stream.read(info.file_size + 1)
        except (zipfile.BadZipFile, zlib.error, OSError, EOFError, RuntimeError, ValueError):
            raise CasebookError(f"{self._name}: file {_shown(name)} is damaged") from None
        if len(content) != info.file_size:
            raise CasebookError(f"{self._name}: file {_shown(name)} is not as long as it says")
        return content


def _looks_like(name: str) -> str:
    """Return what is wrong with a name that is no name of a bundle's file."""
    plain = unicodedata.normalize("NFKC", name).casefold()
    if plain != name and (plain == MANIFEST or OBJECT.fullmatch(plain)):
        return "only looks like a file of a bundle"
    if not name.isascii():
        return "has letters that no file of a bundle has"
    return "is no file of a bundle"


def _shown(name: str) -> str:
    text = ascii(name)
    return text if len(text) <= 80 else f"{text[:77]}…'"


def pack(manifest: bytes, objects: Mapping[str, bytes]) -> bytes:
    """Return an archive; the same parts always give the same bytes."""
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_STORED) as archive:
        for name, content in [(MANIFEST, manifest), *(
            (f"objects/{digest}", objects[digest]) for digest in sorted(objects)
        )]:  # fmt: skip
            info = zipfile.ZipInfo(name, MS_DOS_EPOCH)
            info.external_attr = (stat.S_IFREG | 0o644) << 16
            info.create_system = 3
            archive.writestr(info, content)
    return written.getvalue()
