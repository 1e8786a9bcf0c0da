"""The JSON Schemas of the file formats, made from the values that check the files."""

from typing import Any

from pydantic import BaseModel

from claywit.errors import ClaywitError, did_you_mean
from claywit.evidence.written import Evidence
from claywit.model.schema import Model
from claywit.report.report import Report
from claywit.report.scale import Scale

FORMATS: dict[str, type[BaseModel]] = {
    "model": Model,
    "evidence": Evidence,
    "report": Report,
    "scale": Scale,
}


def json_schema(kind: str) -> dict[str, Any]:
    """Return the JSON Schema of one file format.

    Raises:
        ClaywitError: there is no such format.
    """
    if kind not in FORMATS:
        raise ClaywitError(f"no format {kind}; {did_you_mean(kind, FORMATS)}")
    return FORMATS[kind].model_json_schema(by_alias=True)
