"""Reading from disk: a file and nothing else, so that nobody waits for ever."""

import errno
import os
import stat

import pytest
from small import model

from claywit.errors import CasesError, CertificateError, ModelError
from claywit.records import disk, keys
from claywit.records.cases import read_cases
from claywit.records.files import read_model
from claywit.records.readings import read_readings
from claywit.records.rejects import Rejects
from claywit.records.tallies import tally

PIPE = "is a pipe or a device, a file is expected"


@pytest.fixture
def pipe(tmp_path):
    """Give a maker of pipes that nobody writes to: whoever opens one plainly waits for ever."""

    def make(name):
        os.mkfifo(tmp_path / name, 0o600)
        return tmp_path / name

    return make


def test_a_pipe_is_refused_at_once_by_every_reader_of_files(pipe):
    known = model()
    for ending in ("csv", "jsonl", "parquet"):
        with pytest.raises(CasesError, match=PIPE):
            list(read_cases(pipe(f"c.{ending}"), known))
        with pytest.raises(CasesError, match=PIPE):
            tally(pipe(f"t.{ending}"), "shop")
    with pytest.raises(ModelError, match=PIPE):
        read_model(pipe("m.yaml"))
    with pytest.raises(CasesError, match=PIPE):
        read_readings(pipe("r.csv"), None, Rejects(None))
    with pytest.raises(CasesError, match=PIPE):
        disk.digest_of(pipe("d.csv"), CasesError)


def test_a_pipe_is_no_key_either(pipe, tmp_path):
    tmp_path.chmod(stat.S_IRWXU)
    path = pipe("k.key")
    with pytest.raises(CertificateError, match=PIPE):
        keys.needs_passphrase(path)
    with pytest.raises(CertificateError, match=PIPE):
        keys.read_secret(path)
    with pytest.raises(CertificateError, match=PIPE):
        keys.read_public(str(path))


def test_a_key_on_a_disk_that_fails_is_named_in_the_error(tmp_path, monkeypatch):
    path = tmp_path / "keys" / "k.key"
    keys.new_key(path, None)

    class Failing:
        def __init__(self, handle, _):
            self.handle = handle

        def __enter__(self):
            return self

        def __exit__(self, *_):
            os.close(self.handle)

        def read(self, _):
            raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(os, "fdopen", Failing)
    with pytest.raises(CertificateError, match=r"k\.key: cannot be read: Input/output error"):
        keys.signer(path, None)


def test_an_endless_device_is_refused_at_once(tmp_path):
    link = tmp_path / "c.jsonl"
    link.symlink_to("/dev/zero")
    with pytest.raises(CasesError, match=PIPE):
        list(read_cases(link, model()))


def test_a_folder_and_what_may_not_be_read_are_said_with_the_place(tmp_path):
    folder = tmp_path / "c.csv"
    folder.mkdir()
    with pytest.raises(CasesError, match=r"c\.csv: cannot be read: Is a directory"):
        list(read_cases(folder, model()))
    with pytest.raises(CasesError, match=r"none\.csv: cannot be read: No such file"):
        list(read_cases(tmp_path / "none.csv", model()))
