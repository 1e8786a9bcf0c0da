"""What somebody's bundle or casebook says of opinions, certificates and seals, and may not do."""

import io
from dataclasses import dataclass
from hashlib import sha256

import pytest
from desk import at, evidence, form, new, open_case, opine, seeded
from made import SIGNER, small_certificate

from claywit.certificate.outcome import Refused
from claywit.certificate.verify import read_certificate
from claywit.errors import CasebookError
from claywit.records import bundle, casebook
from claywit.records.archive import Archive, pack
from claywit.records.bundle import HeadSaid, Manifest
from claywit.records.case import read_case
from claywit.records.checking import check
from claywit.records.kept import Certified, Imported, Opened, Opinion, canonical
from claywit.records.log import Head, following
from claywit.records.opinions import Asked
from claywit.records.replaying import replay_all
from claywit.records.standing import fallen
from claywit.records.telling import told

OTHER_ID = "urn:uuid:00000000-0000-8000-8000-000000000000"


@pytest.fixture
def kept(tmp_path):
    with new(tmp_path / "c.db") as opened:
        open_case(opened)
        opine(opened)
        yield opened


@dataclass(frozen=True)
class More:
    """An entry that somebody puts at the end of a bundle; *record* None withholds it."""

    kind: str
    record: object = None
    subject: str = ""
    parts: tuple[bytes, ...] = ()


def forged(content, *more):
    """Return a bundle with more entries, each fitting the one before."""
    archive = Archive(io.BytesIO(content), "b.zip")
    manifest = Manifest.model_validate_json(archive.manifest())
    objects = {digest: archive.get(digest) for digest in archive.objects()}
    entries, withheld = list(manifest.entries), set(manifest.withheld)
    for one in more:
        written = [canonical(one.record)] if one.record else []
        objects |= {sha256(part).hexdigest(): part for part in (*written, *one.parts)}
        subject = one.subject or sha256(written[0]).hexdigest()
        withheld |= {subject} - set(objects)
        head = Head(entries[-1].sequence, entries[-1].hash)
        entries.append(following(head, at(30), one.kind, case=manifest.case, subject=subject))
    changed = manifest.model_copy(
        update={
            "entries": tuple(entries),
            "head": HeadSaid(length=entries[-1].sequence, hash=entries[-1].hash),
            "objects": {digest: len(part) for digest, part in sorted(objects.items())},
            "withheld": tuple(sorted(withheld)),
        }
    )
    return pack(canonical(changed), objects)


def bring(kept, content, name="q-1"):
    brought = bundle.unpack(io.BytesIO(content), "b.zip")
    return bundle.bring_in(kept, brought, at(40), name=name)


def opinion_of(kept, **changed):
    _, opinion = read_case(kept, "p-1").opinions[-1]
    return opinion.model_copy(update=changed)


def test_an_opinion_on_what_are_no_readings_does_not_come_in(kept):
    opened = read_case(kept, "p-1").of(Opened)[0][0].digest
    content = forged(
        bundle.export(kept, "p-1", at(9)), More("opined", opinion_of(kept, examination=opened))
    )
    with pytest.raises(CasebookError, match="as if it were locked or amended, and it is opened"):
        bring(kept, content)


def test_a_certificate_under_another_name_does_not_come_in(kept):
    made = small_certificate()
    record = Certified(id=OTHER_ID, certificate=made.digest)
    content = forged(
        bundle.export(kept, "p-1", at(9)), More("certified", record, parts=(made.text,))
    )
    with pytest.raises(CasebookError, match="calls itself otherwise"):
        bring(kept, content)


def test_nothing_that_a_bundle_says_takes_our_own_certificate_back(kept):
    made, later = small_certificate(), small_certificate(valid_until="2030-01-01T00:00:00Z")
    (step, _), *_ = read_case(kept, "p-1").opinions
    newer = opinion_of(kept, supersedes=step.digest, model_version="9.9")
    content = forged(
        bundle.export(kept, "p-1", at(9)),
        More("certified", Certified(id=made.id, certificate=made.digest, opinion=step.digest),
             parts=(made.text,)),
        More("opined", newer),
        More("certified", Certified(id=later.id, certificate=later.digest,
                                    opinion=sha256(canonical(newer)).hexdigest()),
             parts=(later.text,)),
    )  # fmt: skip
    bring(kept, content)
    assert len(read_case(kept, "q-1").certificates) == 2
    assert fallen(kept, read_case(kept, "q-1"), SIGNER.did) == []


def test_a_certificate_is_listed_by_what_it_calls_itself_whatever_its_record_says(kept):
    made = small_certificate()
    (step, _), *_ = read_case(kept, "p-1").opinions
    with kept.writing():
        kept.put(made.text)
        record = Certified(id=OTHER_ID, certificate=made.digest, opinion=step.digest)
        casebook.add(kept, at(7), "certified", "p-1", record)
        casebook.add(kept, at(8), "opined", "p-1", opinion_of(kept, supersedes=step.digest))
    (found,) = fallen(kept, read_case(kept, "p-1"), SIGNER.did)
    assert found.certificate == made.id


def test_a_certificate_is_kept_beside_the_opinion_on_its_own_examiners_readings(kept):
    other = evidence(examiner="B", findings="{rim: bevelled, mark: stroke}")
    casebook.lock(kept, "p-1", other, at(6), name="e.yaml")
    opine(kept, minutes=7, asked=Asked(examiner="B"))
    casebook.keep(kept, "p-1", small_certificate().text, at(8), name="c.json")
    case = read_case(kept, "p-1")
    ((_, certified),) = case.certificates
    held = next(o for s, o in case.of(Opinion) if s.digest == certified.opinion)
    assert case.examiner_of(held) == "A"


def test_what_a_bundle_withheld_is_not_filled_in_from_another_case(kept):
    casebook.intake(kept, form("p-2", story="bought of the harbour master"), at(7), seeded(4))
    ((seal, _),) = read_case(kept, "p-2").seals
    bring(kept, forged(bundle.export(kept, "p-1", at(9)), More("sealed", subject=seal.digest)))
    case, _ = casebook.unmask(kept, "q-1", at(50))
    assert "harbour master" not in told(case).text()
    assert case.seals == []


def test_a_kept_report_that_is_none_is_told_as_a_difference(kept):
    record = opinion_of(kept, report=sha256(b"[1]").hexdigest())
    content = forged(bundle.export(kept, "p-1", at(9)), More("opined", record, parts=(b"[1]",)))
    bring(kept, content)
    *_, last = replay_all(kept, ["q-1"])
    assert "what was kept is no report" in last.differences[0]


@pytest.mark.parametrize("manifest", [b"[]", b"{}", b'{"entries":[1],"objects":[]}', b"\xff"])
def test_a_casebook_whose_bundle_is_none_is_one_clear_error(kept, manifest):
    with kept.writing():
        record = Imported(manifest=kept.put(manifest), origin="0" * 64, origin_case="q-1")
        casebook.add(kept, at(9), "imported", "q-1", record)
    with pytest.raises(CasebookError, match="no table of contents of a bundle"):
        read_case(kept, "q-1")
    assert check(kept).entries == 6


@pytest.mark.parametrize(
    "part", [b'{"nodes":[' + b"{}," * 300_000 + b"{}]}", b'{"x":[' + b"1," * 300_000 + b"1]}", b"["]
)
def test_a_kept_model_of_anybodys_making_is_refused_before_it_takes_room(kept, part):
    record = opinion_of(kept, model=sha256(part).hexdigest())
    content = forged(bundle.export(kept, "p-1", at(9)), More("opined", record, parts=(part,)))
    bring(kept, content)
    *_, last = replay_all(kept, ["q-1"])
    wanted = "not readable" if part == b"[" else "values that are read of a model"
    assert wanted in last.differences[0]


def test_a_certificate_of_millions_of_values_is_refused_before_it_is_read(kept):
    part = b'{"id":"a","x":[' + b"[]," * 600_000 + b"[]]}"
    record = Certified(id="a", certificate=sha256(part).hexdigest())
    content = forged(bundle.export(kept, "p-1", at(9)), More("certified", record, parts=(part,)))
    with pytest.raises(CasebookError, match="values that are read"):
        bring(kept, content)
    with pytest.raises(Refused, match="values that are read"):
        read_certificate(part)
