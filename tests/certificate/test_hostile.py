"""A signer who signs nonsense gets a verdict, never a crash: the reader's machine is not theirs."""

from copy import deepcopy

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made import codes, signed_again, small_certificate, verify

from claywit.certificate.canonical import digest_of, read_canonical

MADE = small_certificate()
VALUES = [None, True, -1.0, 0.0, 1e300, "", "x", "not_visible", "\x00", "shop", [], ["x"], {}, {"x": 1.0}, [[]], "9" * 400]  # fmt: skip


FREE = {("method", "version"), ("model", "source"), ("evidence", "source")}


def paths(value, at=()):
    """Yield the path of everything in a piece of JSON."""
    yield at
    parts = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()  # fmt: skip
    for key, part in parts:
        yield from paths(part, (*at, key))


TRACE = read_canonical(MADE.text)["credentialSubject"]["trace"]
PATHS = [path for path in paths(TRACE) if path]


def put(trace, path, value, *, drop):
    at = trace
    for step in path[:-1]:
        at = at[step]
    if drop:
        del at[path[-1]]
    else:
        at[path[-1]] = value


def with_right_digests(trace):
    """Put on the digests that a dishonest but careful signer would."""
    for part in ("model", "evidence"):
        if isinstance(trace.get(part), dict) and "source" in trace[part]:
            digest = digest_of(trace[part]["source"])
            trace[part]["digest"] = digest
            if isinstance(trace.get("report"), dict) and isinstance(
                trace["report"].get(part), dict
            ):
                trace["report"][part]["digest"] = digest
    for part in ("scale", "policy"):
        if isinstance(trace.get(part), dict) and "source" in trace[part]:
            trace[part]["digest"] = digest_of(trace[part]["source"])


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(PATHS), st.sampled_from(VALUES), st.booleans())
def test_a_signed_file_with_anything_in_it_gets_a_verdict(path, value, drop):
    trace = deepcopy(TRACE)
    put(trace, path, value, drop=drop)
    with_right_digests(trace)

    def change(raw):
        raw["credentialSubject"]["trace"] = trace

    try:
        text = signed_again(MADE.text, change)
    except ValueError:
        return  # not even JSON
    verdict = verify(text)
    changed = read_canonical(text)["credentialSubject"]["trace"] != TRACE
    # What the signer may say as they like: another model or evidence, followed through or not.
    free = path[0] in ("evaluation", "supersedes", "log") or path[:2] in FREE
    if changed and not free:
        assert not verdict.valid, (path, value, drop)


@pytest.mark.parametrize("part", ["scale", "policy"])
def test_a_scale_or_policy_under_another_name_than_its_own_is_found(part):
    def change(raw):
        raw["credentialSubject"]["trace"][part]["id"] = "mine"

    assert "data_differ" in codes(verify(signed_again(MADE.text, change)))


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=300))
def test_no_bytes_at_all_crash_the_check(text):
    assert not verify(text).valid


@pytest.mark.parametrize("size", [10, 1000, 100_000])
def test_a_certificate_with_long_texts_is_read_in_time(size):
    def change(raw):
        raw["credentialSubject"]["trace"]["limits"] = ["x" * 100] * size

    assert not verify(signed_again(MADE.text, change)).valid
