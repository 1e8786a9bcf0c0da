"""Every leaf of a certificate changed, removed, or given a neighbour: nothing of it goes through."""

from collections import Counter
from random import Random

from damage import places, replaced
from forged import CHANGES, golden, with_right_digests
from made import codes, demo_case, issue, signed_again, verify
from trials import LONG, times

from claywit.certificate.canonical import canonical, read_canonical

# Signed with the key, these may be said: by which version, what it replaces, where a log stood,
# its last day, and another model or evidence altogether, as long as all else follows from it.
FREE = {
    ("credentialSubject", "trace", part)
    for part in ("supersedes", "log", "evaluation")
} | {("validUntil",)}  # fmt: skip
SOURCES = {("credentialSubject", "trace", part, "source") for part in ("model", "evidence")}
VERSION = ("credentialSubject", "trace", "method", "version")
# Made anew by signing, or looked at before the signature is.
REBUILT = ("proof", "id", "@context")


def tries(raw, seed, count):
    """Return changes of *raw*: all of them if *count* allows, else some drawn from *seed*."""
    every = [(at, how) for at in places(raw) for how in CHANGES]
    return every if count >= len(every) else Random(seed).sample(every, count)  # noqa: S311 - which are tried


def told(found):
    return ", ".join(f"{n:,} `{code}`" for code, n in found.most_common())


def test_without_the_key_no_leaf_can_be_changed(tried):
    raw, found = read_canonical(golden().text), Counter()
    for at, how in tries(raw, 8, times(120, 10**6)):
        text = canonical(CHANGES[how](raw, at))
        assert text != golden().text, (at, how)
        verdict = verify(text, recompute=False)
        assert not verdict.valid, (at, how)
        assert len(verdict.failures) == 1, (at, how)
        found[verdict.failures[0].code] += 1
    tried(
        "each leaf of a certificate: value, type, removed, neighbour added",
        sum(found.values()),
        f"all rejected: {told(found)}",
    )


def test_nor_a_leaf_of_a_whole_certificate_of_the_demonstration(tried):
    # The demonstration's takes four seconds to issue.
    text = issue(*demo_case()).text if LONG else golden("{rim: flat}").text
    raw, found = read_canonical(text), Counter()
    for at, how in tries(raw, 9, times(20, 60)):
        verdict = verify(canonical(CHANGES[how](raw, at)), recompute=False)
        assert not verdict.valid, (at, how)
        found[verdict.failures[0].code] += 1
    tried(
        "leaves of a second certificate (the demonstration's, in the long run)",
        sum(found.values()),
        f"all rejected: {told(found)}",
    )


def is_free(at):
    return at == VERSION or any(at[: len(free)] == free for free in FREE | SOURCES)


def test_with_the_key_no_leaf_of_the_reasoning_can_be_changed(tried):
    """A dishonest signer puts the right digests on and signs anew; the opinion is formed again."""
    raw, found = read_canonical(golden().text), Counter()
    for at, how in tries(raw, 10, times(20, 60)):
        if at[0] in REBUILT or (is_free(at) and at not in SOURCES):
            continue

        def change(signed, at=at, how=how):
            return with_digests_where_it_can(CHANGES[how](signed, at))

        text = signed_again(golden().text, change)
        if (
            read_canonical(text)["credentialSubject"] == raw["credentialSubject"]
            and at[0] == "credentialSubject"
        ):
            continue  # a digest, which was put right again
        verdict = verify(text)
        assert not verdict.valid, (at, how)
        found.update(codes(verdict)[:1])
    tried(
        "each leaf of the reasoning, signed anew by a dishonest signer",
        sum(found.values()),
        f"all rejected: {told(found)}",
    )


def with_digests_where_it_can(raw):
    try:
        return with_right_digests(raw)
    except (KeyError, TypeError):
        return raw


def test_no_part_of_one_certificate_fits_into_another(tried):
    """Both by one signer, on one piece by one model, with other findings."""
    mine, other = (read_canonical(golden(*f).text) for f in ([], ["{rim: flat}"]))
    trace, count, same = ("credentialSubject", "trace"), 0, []
    parts = [(key,) for key in mine] + [("proof", key) for key in mine["proof"]]
    parts += [(*trace, key) for key in mine["credentialSubject"]["trace"]]
    parts += [(*trace, "report", key) for key in mine["credentialSubject"]["trace"]["report"]]
    for at in parts:
        theirs, own = other, mine
        for step in at:
            theirs, own = theirs[step], own[step]
        if theirs == own:
            same.append(at)
            continue
        swapped = replaced(mine, at, theirs)
        assert not verify(canonical(swapped), recompute=False).valid, at
        count += 1
        if at[0] == "credentialSubject" and len(at) > 1:
            text = signed_again(
                canonical(mine), lambda _, s=swapped: {k: v for k, v in s.items() if k != "proof"}
            )
            assert not verify(text).valid, at
            count += 1
    assert count > len(same) / 2
    tried("parts of two certificates mixed, unsigned and signed anew", count, "all rejected")
