"""Files are written whole or not at all, and nothing but a file is ever replaced."""

import os
import stat

import pytest

from claywit.errors import ClaywitError
from claywit.records import disk

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
