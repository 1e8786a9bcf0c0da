"""What `check` says of a sound model."""

from typing import Literal

from claywit.model.lint import lint
from claywit.model.schema import Model
from claywit.model.source import Document
from claywit.model.values import Value
from claywit.report.digest import digest


class FaultFound(Value):
    """One thing that could be better, the rule that found it, and where in the file."""

    rule: str
    place: str
    text: str


class Checked(Value):
    """The size of a sound model, its digest, and its faults."""

    file: str
    sound: Literal[True] = True
    name: str
    version: str
    status: str
    digest: str
    nodes: int
    hidden: int
    traits: int
    rows: int
    faults: tuple[FaultFound, ...]

    def text(self) -> str:
        """Return the answer as lines for a terminal."""
        lines = [f"{fault.place}: {fault.text} [{fault.rule}]" for fault in self.faults]
        count = len(self.faults)
        verdict = "sound" if not count else f"sound, {count} fault{'s' if count > 1 else ''}"
        size = f"{self.nodes} nodes ({self.hidden} hidden, {self.traits} traits), {self.rows} rows"
        return "\n".join([*lines, f"{self.file}: {size}; {verdict}"])


def checked(model: Model, document: Document) -> Checked:
    """Return what there is to say of a sound *model*; *document* knows where it stands."""
    traits = [node for node in model.nodes if node.is_trait]
    faults = tuple(
        FaultFound(rule=fault.rule, place=document.place(fault.path), text=fault.text)
        for fault in lint(model)
    )
    return Checked(
        file=document.name,
        name=model.name,
        version=model.version,
        status=model.status,
        digest=digest(model),
        nodes=len(model.nodes),
        hidden=len(model.nodes) - len(traits),
        traits=len(traits),
        rows=sum(len(node.rows) for node in model.nodes),
        faults=faults,
    )
