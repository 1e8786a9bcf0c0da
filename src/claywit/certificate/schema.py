"""A certificate as a value: a W3C Verifiable Credential whose subject is a reasoning trace.

The trace carries its model and evidence whole, and the report as it was given. The report
is not typed again here, so that whatever a report says is signed with it.
"""

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, ConfigDict, Field, StrictBool, StrictStr

from claywit.model.values import VERSION, Value

FORMAT = "claywit-certificate/1"
TYPE = "PieceOpinion"
# The trace is a JSON literal, so that a linked-data reader takes it whole and as it stands.
CONTEXT: list[Any] = [
    "https://www.w3.org/ns/credentials/v2",
    {
        TYPE: f"urn:{FORMAT.replace('/', ':')}#{TYPE}",
        "trace": {"@id": f"urn:{FORMAT.replace('/', ':')}#trace", "@type": "@json"},
    },
]
Digest = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Id = Annotated[str, Field(pattern=r"^urn:uuid:[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$")]


def _is_a_time(text: str) -> str:
    datetime.fromisoformat(text)  # the pattern alone takes a 31st of February
    return text


# Times are compared as text, so their digits must be those of ASCII: others sort behind them.
Time = Annotated[
    str,
    Field(pattern=r"^[0-9]{4}(-[0-9]{2}){2}T[0-9]{2}(:[0-9]{2}){2}Z$"),
    AfterValidator(_is_a_time),
]
Did = Annotated[str, Field(pattern=r"^did:key:z6Mk[1-9A-HJ-NP-Za-km-z]{40,48}$")]
Plain = dict[str, Any]


class Strict(Value):
    """A value of a signed file: nothing is converted, nothing unknown is let through."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class Proof(Strict):
    """The proof of a signed file, in the one suite that is taken."""

    type: Literal["DataIntegrityProof"]
    cryptosuite: Literal["eddsa-jcs-2022"]
    created: Time
    verificationMethod: StrictStr  # noqa: N815 - its name in the standard
    proofPurpose: Literal["assertionMethod"]  # noqa: N815
    context: list[Any] = Field(alias="@context")
    proofValue: StrictStr  # noqa: N815


class UsedModel(Strict):
    """The model of the opinion; *source* is all of it, or null where only its digest is given."""

    name: StrictStr
    version: Annotated[str, Field(pattern=VERSION)]
    status: Literal["demonstration", "elicited", "measured"]
    digest: Digest
    source: Plain | None


class UsedEvidence(Strict):
    """The evidence of the opinion, all of it."""

    digest: Digest
    source: Plain


class Data(Strict):
    """A data file that the opinion rests on, such as a verbal scale, and its digest."""

    id: StrictStr
    digest: Digest
    source: Plain


class Reliability(Strict):
    """How far one reading can be trusted, as the examiner and the model say.

    sure: the probability that the reading is right, if the examiner gave one.
    matrix: the examiner's reading matrix in the model, if one was named.
    u: the standard uncertainty of each measure, in the measure's unit; null for limits.
    in_model: the model's rows hold the reading error already.
    """

    visible: StrictBool
    form: Literal["state", "half_certain", "matrix", "likelihood", "not_visible", "measured"]
    sure: float | None
    matrix: StrictStr | None
    u: dict[str, float | None]
    in_model: StrictBool


class Method(Strict):
    """With what the numbers were made."""

    program: Literal["claywit"]
    version: StrictStr
    inference: StrictStr


class Earlier(Strict):
    """The certificate that this one takes the place of."""

    id: Id
    digest: Digest


class Log(Strict):
    """Where the signer's casebook stood: the head of its log, and how many entries it had."""

    head: Digest
    length: Annotated[float, Field(ge=0)]


class Loose(Value):
    """A part of a report: what is read here must be there, and more may stand beside it."""

    model_config = ConfigDict(extra="ignore", frozen=True, populate_by_name=True)


class Weighed(Loose):
    """One weighed finding, as far as a certificate reads it."""

    node: StrictStr
    reading: StrictStr
    group: StrictStr
    bans: float | None
    left_out_bans: float | None
    alone_bans: float | None


class Explained(Loose):
    """The explanation, as far as a certificate reads it."""

    for_: StrictStr = Field(alias="for")
    against: StrictStr
    prior_bans: float | None
    total_bans: float | None
    posterior_bans: float | None
    findings: tuple[Weighed, ...]


class Core(Loose):
    """The parts of a report that a certificate reads itself, whatever else a report holds."""

    question: StrictStr
    prior: dict[str, dict[str, StrictStr]]
    posterior: dict[str, dict[str, StrictStr]]
    log10_evidence: float
    explanation: Explained
    statement: tuple[StrictStr, ...] = Field(min_length=1)
    cautions: tuple[StrictStr, ...]


class Trace(Strict):
    """The whole reasoning of one opinion.

    notices: what must be read before anything else, first lines of every page.
    not_recorded: traits of the model of which the evidence says nothing at all.
    """

    format: Literal["claywit-certificate/1"]
    notices: tuple[StrictStr, ...] = Field(min_length=1)
    piece: StrictStr
    examiner: StrictStr
    model: UsedModel
    evidence: UsedEvidence
    report: Plain
    reliability: dict[str, Reliability]
    not_recorded: tuple[StrictStr, ...]
    scale: Data
    policy: Data
    evaluation: Data | None
    method: Method
    definitions: dict[str, StrictStr]
    limits: tuple[StrictStr, ...] = Field(min_length=1)
    supersedes: Earlier | None
    log: Log | None


class Subject(Strict):
    """What the credential is about."""

    trace: Trace


class Certificate(Strict):
    """A signed certificate, as it stands in its file."""

    context: list[Any] = Field(alias="@context")
    id: Id
    type: list[StrictStr]
    issuer: Did
    validFrom: Time  # noqa: N815 - names of the standard
    validUntil: Time | None = None  # noqa: N815
    credentialSubject: Subject  # noqa: N815
    proof: Proof

    @property
    def trace(self) -> Trace:
        """Return the reasoning trace."""
        return self.credentialSubject.trace
