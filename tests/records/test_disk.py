"""Files are written whole or not at all, nothing but a file is replaced, the dead leave nothing."""

import errno
import os
import stat
from pathlib import Path
from unittest.mock import Mock

import pytest

from claywit.errors import ClaywitError
from claywit.records import alone, disk

DEAD = ".a.txt.0123abcd.draft"


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_the_draft_of_a_dead_writer_is_cleared_by_the_next(tmp_path):
    (tmp_path / DEAD).write_text("half")
    disk.write_bytes(tmp_path / "a.txt", b"whole")
    assert names(tmp_path) == ["a.txt"]


def test_the_draft_of_a_writer_at_work_is_left_alone(tmp_path):
    with (tmp_path / DEAD).open("wb") as stream:
        assert alone.lock(stream.fileno()) == "ours"
        disk.write_bytes(tmp_path / "a.txt", b"whole")
        assert names(tmp_path) == [DEAD, "a.txt"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no such pipes here")
def test_a_pipe_that_another_user_named_like_a_draft_keeps_nobody_waiting(tmp_path):
    os.mkfifo(tmp_path / DEAD)
    disk.write_bytes(tmp_path / "a.txt", b"whole")
    assert (tmp_path / "a.txt").read_bytes() == b"whole"


def test_a_file_that_only_looks_like_a_draft_is_left_alone(tmp_path):
    for name in (
        ".a.txt.draft",
        "a.txt.0123abcd.draft",
        ".b.txt.0123abcd.draft",
        ".a.txt.0123abcd",
    ):
        (tmp_path / name).touch()
    before = names(tmp_path)
    disk.write_bytes(tmp_path / "a.txt", b"whole")
    assert names(tmp_path) == sorted([*before, "a.txt"])


def test_several_new_files_appear_all_or_none(tmp_path):
    (tmp_path / "b").write_text("there")
    with pytest.raises(ClaywitError, match="b: is there already"):
        disk.write_all_new({tmp_path / "a": b"1", tmp_path / "b": b"2", tmp_path / "c": b"3"})
    assert names(tmp_path) == ["b"]


def test_a_new_file_that_the_disk_does_not_confirm_is_taken_back(tmp_path, monkeypatch):
    real = os.fsync

    def fails_for_folders(handle):
        if os.path.isdir(f"/proc/self/fd/{handle}"):  # noqa: PTH112
            raise OSError(errno.EIO, "Input/output error")
        real(handle)

    monkeypatch.setattr(disk.os, "fsync", fails_for_folders)
    with pytest.raises(ClaywitError, match="a: cannot be written: Input/output error"):
        disk.write_new(tmp_path / "a", b"1")
    assert names(tmp_path) == []
    with pytest.raises(ClaywitError, match="was written, but the disk did not confirm it"):
        disk.write_bytes(tmp_path / "a", b"1")
    assert (tmp_path / "a").read_bytes() == b"1"


def test_a_folder_that_is_made_is_synced_into_the_one_above(tmp_path, monkeypatch):
    seen = Mock(side_effect=lambda path: None)
    monkeypatch.setattr(disk, "confirm", seen)
    disk.make_folders(tmp_path / "a" / "b", 0o700)
    assert [call.args[0].name for call in seen.call_args_list] == ["a", "b"]


def test_two_at_work_in_one_folder_are_one_too_many(tmp_path):
    with (
        alone.alone(tmp_path),
        pytest.raises(ClaywitError, match="another claywit is at work here"),
        alone.alone(tmp_path),
    ):
        pass
    with alone.alone(tmp_path):
        pass


posix = pytest.mark.skipif(os.name != "posix", reason="links, modes and pipes of POSIX")


def mode(path):
    return stat.S_IMODE(path.stat().st_mode)


@posix
def test_a_pipe_a_device_or_a_folder_is_never_replaced_by_a_file(tmp_path):
    pipe, link = tmp_path / "pipe", tmp_path / "link"
    os.mkfifo(pipe)
    link.symlink_to(pipe)
    for path in (pipe, link, tmp_path):
        with pytest.raises(ClaywitError, match="is no ordinary file; choose the name of a file"):
            disk.write_bytes(path, b"x")
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert sorted(tmp_path.iterdir()) == [link, pipe]


@posix
def test_a_link_stays_and_the_file_behind_it_is_written(tmp_path):
    (tmp_path / "far").mkdir()
    far, link = tmp_path / "far" / "answer.csv", tmp_path / "answer.csv"
    link.symlink_to(far)
    disk.write_bytes(link, b"one")
    disk.write_bytes(link, b"two")
    assert link.is_symlink()
    assert far.read_bytes() == b"two"
    assert list(far.parent.iterdir()) == [far]


@posix
def test_a_private_file_stays_private_and_a_new_one_obeys_the_users_mask(tmp_path):
    private, new = tmp_path / "private.json", tmp_path / "new.json"
    private.write_bytes(b"old")
    private.chmod(0o600)
    disk.write_bytes(private, b"new")
    assert (mode(private), private.read_bytes()) == (0o600, b"new")
    before = os.umask(0o027)
    try:
        disk.write_new(new, b"x")
    finally:
        os.umask(before)
    assert mode(new) == 0o640


def test_a_long_name_is_no_hindrance(tmp_path):
    path = tmp_path / ("𐤀" * 60 + ".json")
    disk.write_bytes(path, b"x")
    assert path.read_bytes() == b"x"


@pytest.mark.parametrize("stop", [KeyboardInterrupt, SystemExit])
def test_a_signal_while_the_draft_is_removed_leaves_none(tmp_path, monkeypatch, stop):
    unlink, stops = Path.unlink, [stop]

    def stopped(path, **more):
        if stops and path.name.endswith(".draft"):
            raise stops.pop()
        unlink(path, **more)

    monkeypatch.setattr(Path, "unlink", stopped)
    with pytest.raises(stop):
        disk.write_new(tmp_path / "a.txt", b"whole")
    assert [name for name in names(tmp_path) if name.endswith(".draft")] == []
