"""Files of every version: those of the first are read for ever, of any other it is said which."""

import io
import json
import zipfile

import pytest
from kept_before import OLD, casebook_of_layout_1

from claywit.bench import drafts, typed
from claywit.certificate.canonical import canonical, read_canonical
from claywit.certificate.outcome import Refused
from claywit.certificate.verify import read_certificate, read_status
from claywit.errors import ClaywitError
from claywit.evidence.priors import read_priors
from claywit.evidence.written import read_evidence
from claywit.learning.sheet import read_seeds, read_sheet
from claywit.model.soundness import read_model
from claywit.reasoning.policy import read_policy
from claywit.records import archive, bundle, opening
from claywit.records.intake import read_intake
from claywit.records.log import read_entry
from claywit.report.scale import read_scale

NAMED = {
    "model-1.yaml": read_model, "evidence-1.yaml": read_evidence, "priors-1.yaml": read_priors,
    "intake-1.yaml": read_intake, "sheet-1.yaml": read_sheet, "seeds-1.yaml": read_seeds,
    "scale-1.yaml": read_scale, "policy-1.yaml": read_policy,
    "bundle-1.zip": lambda content, name: bundle.unpack(io.BytesIO(content), name),
    "draft-1.json": lambda content, _: draft(content),
    "typed-1.json": lambda content, _: what_was_typed(content),
    "certificate-1.json": lambda content, _: read_certificate(content),
    "status-1.json": lambda content, _: read_status(content),
    "an entry of a log": lambda content, _: read_entry(content),
}  # fmt: skip
FOLDER = []


@pytest.fixture(autouse=True)
def folder(tmp_path):
    FOLDER[:] = [tmp_path]


def draft(content):
    name = json.loads((OLD / "draft-1.json").read_bytes())["id"]
    version = json.loads((OLD / "draft-1.json").read_bytes())["version"]
    (FOLDER[0] / f"{name}.{version:09d}.json").write_bytes(content)
    return drafts.read(FOLDER[0], name)


def what_was_typed(content):
    (FOLDER[0] / "bench.typed").write_bytes(content)
    return typed.read(FOLDER[0], None)


def content_of(name):
    if name != "an entry of a log":
        return (OLD / name).read_bytes()
    with opening.opened(casebook_of_layout_1(FOLDER[0] / "c.db")) as kept:
        return kept.rows()[3][1]


def of_version(name, content, version):
    """Return the same file with another version, or with none, in its `format`."""
    if name.endswith(".zip"):
        return _bundle(content, version)
    stem = {"an": "log"}.get(name.partition(" ")[0], name.partition("-")[0])
    if not name.endswith(".yaml"):
        is_canonical = stem not in {"draft", "typed"}
        data = read_canonical(content) if is_canonical else json.loads(content)
        holder = next(one for one in _objects(data) if f"claywit-{stem}/1" == one.get("format"))
        _set(holder, f"claywit-{stem}/{version}" if version else None)
        return canonical(data) if is_canonical else json.dumps(data).encode()
    new = f"format: claywit-{stem}/{version}\n" if version else ""
    return content.replace(f"format: claywit-{stem}/1\n".encode(), new.encode())


def _set(holder, value):
    if value:
        holder["format"] = value
    else:
        del holder["format"]


def _objects(data):
    if isinstance(data, dict):
        yield data
        for one in data.values():
            yield from _objects(one)


def _bundle(content, version):
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        objects = {n.partition("/")[2]: packed.read(n) for n in packed.namelist() if "/" in n}
        manifest = json.loads(packed.read("manifest.json"))
    _set(manifest, f"claywit-bundle/{version}" if version else None)
    return archive.pack(canonical(manifest), objects)


@pytest.mark.parametrize("name", NAMED)
def test_a_file_of_the_first_version_is_read(name):
    NAMED[name](content_of(name), name)


def refusal(name, content):
    try:
        NAMED[name](content, name)
    except Refused as wrong:
        return wrong.failure.sentence
    except (ClaywitError, ValueError) as wrong:
        return str(wrong)
    return ""


def test_a_file_of_another_version_says_which_was_found_and_which_is_read(tried):
    refused = 0
    for name in NAMED:
        content = content_of(name)
        stem = "log" if name.startswith("an ") else name.partition("-")[0]
        for version, way_out in (("2", "newer"), ("0", "never in use"), ("", "format")):
            told = refusal(name, of_version(name, content, version))
            found = f"claywit-{stem}/{version}"
            assert not version or (found in told and f"claywit-{stem}/1" in told), (name, version)
            # What was signed is refused in the words of `verify`, which knows no newer and older.
            signed = stem in {"certificate", "status"}
            assert (
                "format" if signed and not version else "claywit" if signed else way_out
            ) in told, (name, version, told)
            refused += 1
    tried(
        f"a file of version 0, of version 2, and without a version: {', '.join(n.removesuffix('.yaml') for n in NAMED)}",
        refused, f"{refused} refused, each with the version that was found and the one that is read",
    )  # fmt: skip


def test_one_kind_of_file_in_the_place_of_another_is_named():
    said = refusal("model-1.yaml", (OLD / "evidence-1.yaml").read_bytes())
    assert "this is a claywit-evidence/1 file, where a claywit-model/1 file is expected" in said


def test_the_head_of_the_kept_casebook_never_changes(tmp_path):
    with opening.opened(casebook_of_layout_1(tmp_path / "c.db")) as kept:
        assert (kept.head().length, kept.head().hash[:12]) == HEAD_OF_LAYOUT_1


HEAD_OF_LAYOUT_1 = (9, "82506ded3152")
