"""Bundles: a case goes out and comes in whole, and a hostile archive writes nothing."""

import io
import stat
import warnings
import zipfile

import pytest
from desk import at, new, open_case, opine

from claywit.errors import CasebookError
from claywit.records import bundle
from claywit.records.case import read_case
from claywit.records.checking import check
from claywit.records.replaying import replay_all


@pytest.fixture
def kept(tmp_path):
    with new(tmp_path / "c.db") as opened:
        open_case(opened)
        opine(opened)
        yield opened


def test_a_case_comes_in_as_it_went_out_and_replays(kept, tmp_path):
    content = bundle.export(kept, "p-1", at(9))
    assert content == bundle.export(kept, "p-1", at(9))  # the same twice
    with new(tmp_path / "other.db") as other:
        bundle.bring_in(other, bundle.unpack(io.BytesIO(content), "b.zip"), at(10))
        case = read_case(other, "p-1")
        assert [step.kind for step in case.steps][:4] == ["opened", "sealed", "locked", "opined"]
        assert case.seals == []  # withheld
        assert replay_all(other, ["p-1"])[0].differences == ()
        assert check(other).faults == ()


def test_a_name_that_no_case_may_have_is_refused_and_nothing_comes_in(kept, tmp_path):
    brought = bundle.unpack(io.BytesIO(bundle.export(kept, "p-1", at(9))), "b.zip")
    with new(tmp_path / "other.db") as other:
        with pytest.raises(CasebookError, match="as the name of a case it is letters"):
            bundle.bring_in(other, brought, at(10), name="../up")
        assert other.head().length == 1


def test_story_and_price_leave_only_when_asked_for(kept):
    assert b"boat locker" not in bundle.export(kept, "p-1", at(9))
    assert b"boat locker" in bundle.export(kept, "p-1", at(9), sealed=True)


def hostile(content, name, data=b"x", mode=stat.S_IFREG, kind=zipfile.ZIP_STORED):
    stream = io.BytesIO(content)
    with warnings.catch_warnings(), zipfile.ZipFile(stream, "a") as archive:
        warnings.simplefilter("ignore")
        info = zipfile.ZipInfo(name)
        info.external_attr, info.compress_type = (mode | 0o644) << 16, kind
        archive.writestr(info, data)
    return stream.getvalue()


A = "objects/" + "a" * 64


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda b: hostile(b, "../evil"), "leads out"),
        (lambda b: hostile(b, "/etc/x"), "leads out"),
        (lambda b: hostile(b, "manifest.json"), "stands twice"),
        (lambda b: hostile(b, A, mode=stat.S_IFLNK), "is a link"),
        (lambda b: hostile(b, "objects/" + "а" * 64), "letters that no file"),
        (lambda b: hostile(b, "ｍanifest.json"), "only looks like"),
        (lambda b: hostile(b, A.upper()), "only looks like"),
        (lambda b: hostile(b, "readme"), "is no file of a bundle"),
        (lambda b: hostile(b, A), "in its manifest, not in both"),
        (lambda b: hostile(b, A, bytes(70_000_000), kind=zipfile.ZIP_DEFLATED), "would unpack"),
        (lambda b: b[: len(b) // 2], "no zip archive"),
        (lambda b: b"", "no zip archive"),
    ],
)
def test_a_hostile_archive_is_one_clear_error_and_nothing_is_written(kept, change, message):
    content = change(bundle.export(kept, "p-1", at(9)))
    before = (kept.head(), kept.digests())
    with pytest.raises(CasebookError, match=message):
        bundle.bring_in(kept, bundle.unpack(io.BytesIO(content), "b.zip"), at(10), name="q-1")
    assert (kept.head(), kept.digests()) == before


def test_too_many_files_are_refused():
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for n in range(5001):
            archive.writestr(f"objects/{n:064x}", b"")
    with pytest.raises(CasebookError, match="a bundle has at most"):
        bundle.unpack(stream, "b.zip")
