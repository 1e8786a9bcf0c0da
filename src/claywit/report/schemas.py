"""The JSON Schemas of the file formats, made from the values that check the files."""

from typing import Any

from pydantic import BaseModel

from claywit.errors import ClaywitError, did_you_mean
from claywit.evidence.priors import Priors
from claywit.evidence.written import Evidence
from claywit.learning.sheet import SeedFile, Sheet
from claywit.model.schema import Model
from claywit.reasoning.policy import Policy
from claywit.report.advised import Next
from claywit.report.batched import BatchAccount, BatchPart, BatchRow, BatchRun
from claywit.report.contrast import Contrast
from claywit.report.counted import Moulds
from claywit.report.differing import Diff
from claywit.report.elicited import Elicited
from claywit.report.evaluated import Evaluation
from claywit.report.examined import Examined
from claywit.report.fitted import Fitted
from claywit.report.joint import Joint
from claywit.report.report import Report
from claywit.report.scale import Scale
from claywit.report.told import StoriesAnswer
from claywit.report.varying import Sensitivity

FORMATS: dict[str, type[BaseModel]] = {
    "model": Model,
    "evidence": Evidence,
    "report": Report,
    "contrast": Contrast,
    "next": Next,
    "stories": StoriesAnswer,
    "joint": Joint,
    "diff": Diff,
    "priors": Priors,
    "sensitivity": Sensitivity,
    "evaluation": Evaluation,
    "scale": Scale,
    "policy": Policy,
    "sheet": Sheet,
    "seeds": SeedFile,
    "elicited": Elicited,
    "examiners": Examined,
    "fit": Fitted,
    "moulds": Moulds,
    "batch-row": BatchRow,
    "batch-account": BatchAccount,
    "batch-part": BatchPart,
    "batch-run": BatchRun,
}
# Lists of named values that a file may write as a mapping of name to value.
NAMED = {("Model", "nodes"): "Node", ("Model", "groups"): "Group", ("Node", "states"): "State"}


def json_schema(kind: str) -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of what a person writes in one format.

    Raises:
        ClaywitError: there is no such format.
    """
    if kind not in FORMATS:
        raise ClaywitError(f"no format {kind}; {did_you_mean(kind, FORMATS)}")
    schema = FORMATS[kind].model_json_schema(by_alias=True)
    parts = {FORMATS[kind].__name__: schema, **schema.get("$defs", {})}
    for (owner, field), item in NAMED.items():
        if owner in parts:
            _allow_mapping(parts[owner]["properties"], field, parts[item])
    if "Unfiled" in parts:
        _allow_named_sizes(parts["Unfiled"])
    if "Written" in parts:
        _allow_short_forms(schema, parts)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def _allow_mapping(properties: dict[str, Any], field: str, item: dict[str, Any]) -> None:
    """Let *field* be a mapping; its entries then need no name, and a bare name will do."""
    listed = {key: properties[field][key] for key in ("items", "type") if key in properties[field]}
    reference = listed["items"]
    entry = {"anyOf": [reference, {"type": "null"}, {"const": ""}]}
    if item["title"] == "Group":
        entry = {"anyOf": [reference, {"type": "array", "items": {"type": "string"}}]}
    if item["title"] == "State":
        listed["items"] = {"anyOf": [reference, {"type": "string"}]}
    mapping = {"type": "object", "additionalProperties": entry}
    properties[field] = {"anyOf": [mapping, listed], "title": properties[field].get("title", field)}
    item["required"] = [name for name in item.get("required", []) if name != "name"]


def _allow_named_sizes(unfiled: dict[str, Any]) -> None:
    """Let the sizes of what is not in the file stand beside its other keys."""
    del unfiled["properties"]["dimensions"]
    unfiled["required"] = []
    unfiled["additionalProperties"] = {"$ref": "#/$defs/MeanSd"}


def _allow_short_forms(schema: dict[str, Any], parts: dict[str, Any]) -> None:
    """Let a finding be a bare state or value, and hold its measures beside its remarks."""
    measure = {"anyOf": [{"type": "string"}, {"$ref": "#/$defs/WrittenMeasure"}]}
    written = parts["Written"]
    limits = parts["WrittenMeasure"]["properties"]
    own = {k: v for k, v in written["properties"].items() if k not in ("says", "measure")}
    written["properties"] = {**own, **limits}
    written["additionalProperties"] = measure
    patterns = schema["properties"]["findings"]["patternProperties"]
    for pattern, finding in patterns.items():
        patterns[pattern] = {"anyOf": [{"type": "string"}, finding]}
