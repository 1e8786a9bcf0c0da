"""Certificates to attack, and ways in which somebody without the key, or with it, changes one."""

import json
from functools import cache

from damage import replaced
from made import issue, small_case

from claywit.certificate.canonical import digest_of
from claywit.certificate.replay import DECIMAL
from claywit.certificate.schema import Earlier, Log
from claywit.report.digest import digest

OTHER_ID = "urn:uuid:00000000-0000-8000-8000-000000000000"


@cache
def golden(findings="{rim: bevelled, mark: {state: stroke, sure: 0.9}}"):
    """Return a certificate in which every field that there is says something."""
    known, piece = small_case(findings)
    return issue(
        known,
        piece,
        valid_until="2027-01-20T23:59:59Z",
        supersedes=Earlier(id=OTHER_ID, digest="0" * 64),
        log=Log(head="1" * 64, length=7),
        evaluation={"format": "figures/1", "model": {"digest": digest(known)}},
    )


def at_place(data, at):
    for step in at:
        data = data[step]
    return data


def without(data, at):
    """Return *data* without what stands at *at*."""
    above = at_place(data, at[:-1])
    if isinstance(above, dict):
        kept = {key: value for key, value in above.items() if key != at[-1]}
    else:
        kept = above[: at[-1]] + above[at[-1] + 1 :]
    return replaced(data, at[:-1], kept)


def beside(data, at):
    """Return *data* with one thing more beside what stands at *at*."""
    above = at_place(data, at[:-1])
    more = {**above, "extra": 1.0} if isinstance(above, dict) else [*above, above[at[-1]]]
    return replaced(data, at[:-1], more)


def other_value(data, at):
    """Return *data* with another value of the same type at *at*."""
    value = at_place(data, at)
    if isinstance(value, bool):
        other = not value
    elif isinstance(value, float):
        other = value + 1.0
    elif isinstance(value, str) and DECIMAL.fullmatch(value):
        other = f"{float(value) + 0.25}"  # by more than the 1e-9 within which numbers agree
    elif isinstance(value, str):
        other = value[:-1] + ("0" if value[-1:] != "0" else "1")
    elif value is None:
        other = "x"
    else:
        other = {**value, "extra": 1.0} if isinstance(value, dict) else [*value, 1.0]
    return replaced(data, at, other)


def other_type(data, at):
    value = at_place(data, at)
    return replaced(data, at, 1.0 if not isinstance(value, int | float) else json.dumps(value))


CHANGES = {
    "value": other_value,
    "type": other_type,
    "removed": without,
    "added beside": beside,
}


def with_right_digests(raw):
    """Put on the digests that a dishonest but careful signer would."""
    trace = raw["credentialSubject"]["trace"]
    for part in ("model", "evidence"):
        trace[part]["digest"] = trace["report"][part]["digest"] = digest_of(trace[part]["source"])
    for part in ("scale", "policy", "evaluation"):
        trace[part]["digest"] = digest_of(trace[part]["source"])
    return raw
