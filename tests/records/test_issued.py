"""Status lists on disk: signed once for all that is added, and never longer than what is read."""

from datetime import UTC, datetime

import pytest
from made import SIGNER

from claywit.certificate.status import Entry
from claywit.certificate.verify import read_status
from claywit.errors import CertificateError
from claywit.records import issued

NOW = datetime(2026, 3, 1, tzinfo=UTC)


def entries(count, reason=""):
    return [
        Entry(
            certificate=f"urn:uuid:00000000-0000-8000-8000-{k:012d}",
            state="revoked",
            at="2026-03-01T00:00:00Z",
            reason=reason,
        )
        for k in range(count)
    ]


class _Counting:
    def __init__(self, signer):
        self.signer, self.times = signer, 0

    def __getattr__(self, name):
        return getattr(self.signer, name)

    def sign(self, content):
        self.times += 1
        return self.signer.sign(content)


def test_many_entries_are_signed_once(tmp_path):
    signer = _Counting(SIGNER)
    assert issued.extend_status(tmp_path / "s.json", entries(500), signer, NOW) == 500
    assert signer.times == 1
    read = read_status((tmp_path / "s.json").read_bytes())
    assert list(read.credentialSubject.status.entries) == entries(500)


def test_a_list_that_could_not_be_read_any_more_is_not_written(tmp_path):
    path = tmp_path / "s.json"
    issued.extend_status(path, entries(2), SIGNER, NOW)
    before = path.read_bytes()
    with pytest.raises(CertificateError, match=r"would have .* bytes, and at most 3,000 are read"):
        issued.extend_status(path, entries(9, "x" * 900)[2:], SIGNER, NOW, most=3000)
    assert path.read_bytes() == before
