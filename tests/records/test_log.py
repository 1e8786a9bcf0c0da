"""The log: whatever is done to it afterwards shows."""

import json
from hashlib import sha256

import pytest
import rfc8785
from desk import START, at
from hypothesis import given, settings
from hypothesis import strategies as st

from claywit.errors import CasebookError
from claywit.records.log import EMPTY, Entry, Head, against, following, read_head, stamp, walk

DIGESTS = [sha256(bytes([n])).hexdigest() for n in range(12)]


def chain(length):
    """Return a log of *length* entries as stored: sequence and bytes."""
    head, rows = EMPTY, []
    for n in range(length):
        entry = following(head, at(n), "opened", case="p-1", subject=DIGESTS[n])
        rows.append((entry.sequence, entry.canonical()))
        head = Head(entry.sequence, entry.hash)
    return rows


def head_of(rows):
    return Head(rows[-1][0], sha256(rows[-1][1]).hexdigest())


def test_a_log_as_it_was_written_has_no_fault():
    found = walk(chain(12))
    assert (found.faults, found.notes, found.head.length) == ((), (), 12)


def test_an_entry_is_its_rfc_8785_bytes_and_its_hash_their_sha_256():
    entry = following(EMPTY, START, "opened", case="p-1", subject=DIGESTS[0])
    # Written out by hand: keys sorted, no spaces (RFC 8785, 3.2).
    by_hand = (
        '{"case":"p-1","format":"claywit-log/1","kind":"opened","previous":"' + "0" * 64 + '",'
        '"sequence":1,"subject":"' + DIGESTS[0] + '","time":"2026-01-10T09:00:00Z"}'
    )
    assert entry.canonical() == by_hand.encode()
    assert entry.hash == sha256(by_hand.encode()).hexdigest()


@pytest.mark.parametrize("gone", range(11))
def test_an_entry_taken_out_of_the_middle_shows(gone):
    rows = chain(12)
    del rows[gone]
    assert walk(rows).faults


@pytest.mark.parametrize("gone", range(11))
def test_it_shows_even_when_the_rest_is_numbered_anew(gone):
    rows = chain(12)
    del rows[gone]
    assert walk([(n, written) for n, (_, written) in enumerate(rows, start=1)]).faults


def test_an_entry_put_in_shows():
    rows = chain(6)
    stranger = following(
        Head(3, sha256(rows[2][1]).hexdigest()), at(3), "opened", case="p-2", subject=DIGESTS[9]
    )
    put_in = [*rows[:3], (4, stranger.canonical()), *((n + 1, w) for n, w in rows[3:])]
    assert walk(put_in).faults


@given(st.permutations(range(8)))
def test_any_other_order_shows(order):
    rows = chain(8)
    moved = [(n, rows[i][1]) for n, i in enumerate(order, start=1)]
    assert bool(walk(moved).faults) == (list(order) != list(range(8)))


@settings(max_examples=200)
@given(entry=st.integers(0, 4), at_byte=st.integers(0, 10_000), mask=st.integers(1, 255))
def test_any_changed_byte_shows(entry, at_byte, mask):
    rows = chain(6)
    written = bytearray(rows[entry][1])
    written[at_byte % len(written)] ^= mask
    rows[entry] = (entry + 1, bytes(written))
    assert walk(rows).faults


@given(
    field=st.sampled_from(["time", "kind", "case", "subject", "previous"]), entry=st.integers(0, 4)
)
def test_a_field_rewritten_in_good_form_shows(field, entry):
    rows = chain(6)
    data = json.loads(rows[entry][1])
    data[field] = {"time": stamp(at(999)), "kind": "locked", "case": "p-9"}.get(field, DIGESTS[11])
    Entry.model_validate(data)  # in good form
    rows[entry] = (entry + 1, rfc8785.dumps(data))
    assert walk(rows).faults


def test_an_end_cut_off_shows_against_a_head_kept_outside_and_only_there():
    rows = chain(12)
    outside = head_of(rows)
    assert walk(rows[:9]).faults == ()
    assert "its end was cut off" in against(rows[:9], outside)
    assert against(rows, outside) is None


def test_a_log_that_grew_still_agrees_with_an_older_head():
    rows = chain(12)
    assert against(rows, head_of(rows[:5])) is None


def test_a_log_written_anew_shows_against_a_head_kept_outside():
    outside = head_of(chain(12))
    head, rows = EMPTY, []
    for n in range(12):
        entry = following(head, at(n), "opened", case="p-2", subject=DIGESTS[n])
        rows.append((entry.sequence, entry.canonical()))
        head = Head(entry.sequence, entry.hash)
    assert walk(rows).faults == ()  # whole in itself: only an outside head can tell
    assert "written anew" in against(rows, outside)


def test_a_clock_that_went_back_is_noted_and_is_no_fault():
    first = following(EMPTY, at(10), "opened", case="p-1", subject=DIGESTS[0])
    second = following(Head(1, first.hash), at(5), "opened", case="p-2", subject=DIGESTS[1])
    found = walk([(1, first.canonical()), (2, second.canonical())])
    assert found.faults == ()
    assert "entry 2 is dated before entry 1" in found.notes[0]


@pytest.mark.parametrize(
    "text",
    [
        f"17:{DIGESTS[0]}",
        f"  17:{DIGESTS[0]}\n",
        json.dumps({"length": 17, "hash": DIGESTS[0]}),
        json.dumps({"credentialSubject": {"casebook": {"length": 17, "hash": DIGESTS[0]}}}),
    ],
)
def test_a_head_is_read_from_a_line_or_from_json_that_holds_it(text):
    assert read_head(text) == Head(17, DIGESTS[0])


@pytest.mark.parametrize(
    "text", ["", "17", "17:abc", "{", "[]", "{}", '{"length": true, "hash": "x"}', "[" * 5000]
)
def test_what_states_no_head_is_refused(text):
    with pytest.raises(CasebookError, match="no head found"):
        read_head(text)
