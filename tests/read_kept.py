"""What is kept: casebooks, bundles, photographs, keys, drafts; and how they are read."""

import io
import json
from functools import cache

import numpy as np
from desk import at, new, open_case, opine
from PIL import Image
from reading import FOLDER, put

from claywit.bench.draft import Draft
from claywit.bench.drafts import read as read_draft
from claywit.bench.typed import Typed
from claywit.bench.typed import read as read_typed
from claywit.bench.web import Refused as NotTaken
from claywit.bench.web import json_object
from claywit.errors import CasebookError, ClaywitError
from claywit.records import archive, bundle, casebook, keys, opening
from claywit.records.case import read_cases as read_all_cases
from claywit.records.checking import check
from claywit.records.photographs import clean, look_at


@cache
def casebooks():
    files = []
    for opined in (False, True):
        path = FOLDER / f"made-{opined}.db"
        with new(path) as kept:
            open_case(kept)
            if opined:
                opine(kept)
        files.append(path.read_bytes())
    return tuple(files)


def read_casebook(content):
    for end in ("-wal", "-shm", "-journal"):
        (FOLDER / f"c.db{end}").unlink(missing_ok=True)
    with opening.opened(put("c.db", content)) as kept:
        checked = check(kept)
        checked.text()
        if checked.faults:
            raise CasebookError(f"c.db: {checked.faults[0]!a}")
        for case in read_all_cases(kept):
            assert case.opened
        return checked.head


@cache
def bundles():
    path = FOLDER / "bundled.db"
    with new(path) as kept:
        open_case(kept)
        casebook.photograph(
            kept, "p-1", pictures()[1], casebook.Shot("front", "10 mm"), at(3), name="p"
        )
        opine(kept)
        open_case(kept, "p-2", minutes=20)
        return (
            bundle.export(kept, "p-1", at(30)),
            bundle.export(kept, "p-1", at(30), sealed=True),
            bundle.export(kept, "p-2", at(30)),
        )


def unpacked(content):
    brought = bundle.unpack(io.BytesIO(content), "b.zip")
    return brought.written


def repacked(content):
    """Bring in a bundle of somebody who wrote its manifest and packed it anew."""
    whole = archive.Archive(io.BytesIO(bundles()[0]), "b.zip")
    objects = {digest: whole.get(digest) for digest in whole.objects()}
    return unpacked(archive.pack(content, objects))


@cache
def manifests():
    return tuple(archive.Archive(io.BytesIO(b), "b.zip").manifest() for b in bundles()[:1])


@cache
def pictures():
    rng = np.random.default_rng(3)
    image = Image.fromarray(rng.integers(0, 255, (12, 16, 3), dtype=np.uint8))
    exif = Image.Exif()
    exif[0x0112] = 6
    files = []
    for kind in ("JPEG", "PNG", "TIFF"):
        out = io.BytesIO()
        image.save(out, kind, exif=exif)
        files.append(out.getvalue())
    return tuple(files)


def read_photograph(content):
    found = look_at(content, "p.jpg")
    copy = clean(found, "p.jpg")
    return look_at(copy, "p.jpg").content


@cache
def key_files():
    folder = FOLDER / "keys"
    folder.mkdir(mode=0o700)
    keys.new_key(folder / "a.pem", None)
    keys.new_key(folder / "b.pem", b"four words of no sense")
    return tuple((folder / f"{name}.pem").read_bytes() for name in "ab")


def read_key(content):
    folder = FOLDER / "other"
    folder.mkdir(mode=0o700, exist_ok=True)
    path = folder / "k.pem"
    path.write_bytes(content)
    path.chmod(0o600)
    secret = b"four words of no sense" if keys.needs_passphrase(path) else None
    return keys.signer(path, secret).multikey


def draft_files():
    draft = Draft.model_validate(
        {"id": "0" * 16, "piece": {"id": "p-1"}, "model": "shops", "examiner": "A",
         "readings": {"rim": {"way": "half", "state": "flat", "sure": 0.8}}}
    )  # fmt: skip
    return (draft.model_dump_json(by_alias=True).encode(),)


def from_draft(content):
    (FOLDER / "drafts").mkdir(exist_ok=True)
    put(f"drafts/{'0' * 16}.000000001.json", content)
    return read_draft(FOLDER / "drafts", "0" * 16)


def typed_files():
    said = {"amend": {"rim": ['{"way": "seen"}', "because"]}, "case/p-1/seal": {"story": ["told"]}}
    return (Typed(forms=said).model_dump_json().encode(),)


def from_typed(content):
    (FOLDER / "drafts").mkdir(exist_ok=True)
    put("drafts/bench.typed", content)
    return read_typed(FOLDER / "drafts", None)


def asked(content):
    try:
        return json.dumps(json_object(content))
    except NotTaken as wrong:
        raise ClaywitError(f"request: {wrong}") from None
