"""Files in, values out, and values out again."""

from importlib.resources import files as resources
from pathlib import Path

from claywit.errors import ClaywitError, EvidenceError, ModelError
from claywit.evidence.binding import Examined, bind
from claywit.evidence.parties import Party, with_priors
from claywit.evidence.priors import read_priors
from claywit.evidence.written import Evidence
from claywit.evidence.written import read_evidence as _read_evidence
from claywit.model.schema import Model
from claywit.model.soundness import read_with_lines
from claywit.model.source import MAX_BYTES, Document
from claywit.reasoning.policy import Policy
from claywit.reasoning.policy import read_policy as _read_policy
from claywit.records.disk import read_bytes, write_bytes
from claywit.report.scale import Scale
from claywit.report.scale import read_scale as _read_scale
from claywit.report.standards import Standards

DEFAULT_SCALE = "enfsi-2015"
DEFAULT_POLICY = "plaques-2026"
DEMONSTRATION = "oskervane.yaml"


def read_model(path: Path) -> Model:
    """Return the sound model in the file at *path*.

    Raises:
        ModelError: there is no such file, or it holds no sound model.
    """
    return read_model_with_lines(path)[0]


def read_demonstration() -> Model:
    """Return the demonstration model, as it is shipped, or as it lies beside the source."""
    shipped = resources("claywit") / "data" / DEMONSTRATION
    beside = Path(__file__).parents[3] / "models" / DEMONSTRATION
    text = shipped.read_bytes() if shipped.is_file() else beside.read_bytes()
    return read_with_lines(text, DEMONSTRATION)[0]


def read_model_with_lines(path: Path) -> tuple[Model, Document]:
    """Do as `read_model`, and return the document that knows the lines of the file too."""
    return read_with_lines(_bytes(path, ModelError), str(path))


def read_evidence(path: Path) -> tuple[Evidence, Document]:
    """Return the evidence in the file at *path*, with the lines on which it stands.

    Raises:
        EvidenceError: there is no such file, or it holds no evidence.
    """
    return _read_evidence(_bytes(path, EvidenceError), str(path))


def read_piece(model: Path, evidence: Path) -> tuple[Model, Examined]:
    """Return the model at one path, and what the evidence at the other says in its words.

    Raises:
        ModelError: as `read_model`.
        EvidenceError: as `read_evidence`, or the evidence does not fit the model.
    """
    known = read_model(model)
    written, document = read_evidence(evidence)
    return known, bind(written, known, document.place)


def read_parties(
    model: Path, a: Path, b: Path | None, *, priors_b: Path | None, model_b: Path | None
) -> tuple[Party, Party]:
    """Return both sides of a dispute; without *b* the first file stands on both.

    Raises:
        ModelError: as `read_model`.
        EvidenceError: as `read_evidence`, or nothing tells the two sides apart.
    """
    if b is None and priors_b is None and model_b is None:
        raise EvidenceError(
            "nothing to compare with; give a second evidence file, --priors-b or --model-b"
        )
    known = read_model(model)
    one = _party(a, known)
    other = _party(b or a, read_model(model_b) if model_b else known)
    if priors_b:
        priors, document = read_priors(_bytes(priors_b, EvidenceError), str(priors_b))
        other = with_priors(other, priors, document.place)
    return one, other


def _party(path: Path, model: Model) -> Party:
    evidence, document = read_evidence(path)
    return Party(evidence, document.place, model)


def read_scale(name: str = DEFAULT_SCALE) -> Scale:
    """Return the verbal scale that claywit ships under *name*."""
    text = (resources("claywit") / "data" / f"{name}.yaml").read_bytes()
    return _read_scale(text, f"{name}.yaml")


def read_policy(name: str = DEFAULT_POLICY) -> Policy:
    """Return the attribution policy that claywit ships under *name*."""
    text = (resources("claywit") / "data" / f"{name}.yaml").read_bytes()
    return _read_policy(text, f"{name}.yaml")


def read_standards() -> Standards:
    """Return the verbal scale and the policy that claywit ships."""
    return Standards(read_scale(), read_policy())


def _bytes(path: Path, error: type[ClaywitError]) -> bytes:
    return read_bytes(path, MAX_BYTES, error)


def write_text(path: Path, text: str) -> None:
    """Write *text* so that the file is either the old one or the whole new one.

    Raises:
        ClaywitError: the folder does not exist, is full, or may not be written.
    """
    write_bytes(path, text.encode("utf-8"))
