"""The sheet that an expert fills in, and the seed questions whose answers are known."""

from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from claywit.errors import SheetError
from claywit.model.source import Document
from claywit.model.typed import read_typed, typed
from claywit.model.values import Given, Name, Number, StateName, Text, Value

LEAST_SURE, MOST_SURE = 50.0, 99.0


def _blank(value: object) -> object:
    return None if value == "" else value


Amount = Annotated[Number, Field(ge=-1e12, le=1e12)]
Filled = Annotated[Amount | None, BeforeValidator(_blank)]
Sure = Annotated[
    Annotated[Number, Field(ge=LEAST_SURE, le=MOST_SURE)] | None, BeforeValidator(_blank)
]


class Range(Value):
    """Lowest, best guess and highest; all three, or none where it is left open."""

    lowest: Filled = None
    best: Filled = None
    highest: Filled = None

    @property
    def empty(self) -> bool:
        """Return whether nothing was filled in."""
        return self.lowest is None and self.best is None and self.highest is None

    @model_validator(mode="after")
    def _whole_and_in_order(self) -> Self:
        lowest, best, highest = self.lowest, self.best, self.highest
        if self.empty:
            return self
        if lowest is None or best is None or highest is None:
            gaps = [k for k in ("lowest", "best", "highest") if getattr(self, k) is None]
            raise ValueError(f"no {' and no '.join(gaps)}; fill in all three, or none")
        if not lowest <= best <= highest:
            said = f"lowest {lowest:g}, best {best:g}, highest {highest:g}"
            raise ValueError(f"{said} are not in order; write the smallest as lowest")
        return self


class Asked(Value):
    """One question about a row of the model, and its answer for each state, of 100 pieces."""

    node: Name
    given: Given = {}
    place: Literal["row", "leak", "cause", "visibility"] = "row"
    ask: Text = ""
    confidence: Sure = None
    counts: dict[StateName, Range] = Field(min_length=1)
    note: Text = ""


class SeedAnswer(Range):
    """The answer to a question whose truth is known to whoever made the sheet."""

    id: Name
    ask: Text = ""


class SheetModel(Value):
    """The model that a sheet was made from."""

    name: Text
    version: Text
    digest: Text = ""


class Sheet(Value):
    """What one expert said.

    confidence: of 100 ranges like these, how many hold the true number.
    """

    format: Literal["claywit-sheet/1"]
    model: SheetModel
    expert: Annotated[str, Field(max_length=120)] = ""
    confidence: Sure = None
    questions: tuple[Asked, ...] = ()
    seeds: tuple[SeedAnswer, ...] = ()


class Seed(Value):
    """A question whose answer is known, and that answer."""

    id: Name
    ask: Text = Field(min_length=1)
    truth: Amount
    scale: Literal["even", "log"] = "even"

    @model_validator(mode="after")
    def _has_a_logarithm(self) -> Self:
        if self.scale == "log" and self.truth <= 0:
            raise ValueError(f"truth {self.truth:g} has no logarithm; write scale: even")
        return self


class SeedFile(Value):
    """The seed questions of a study; it stays with whoever leads it."""

    format: Literal["claywit-seeds/1"]
    title: Text = ""
    confidence: Annotated[Number, Field(ge=LEAST_SURE, le=MOST_SURE)] = 90.0
    seeds: tuple[Seed, ...] = Field(min_length=1, max_length=60)

    @model_validator(mode="after")
    def _ids_are_single(self) -> Self:
        names = [seed.id for seed in self.seeds]
        for name in names:
            if names.count(name) > 1:
                raise ValueError(f"seed {name} stands twice; give each its own id")
        return self


def read_sheet(text: bytes, name: str) -> tuple[Sheet, Document]:
    """Return the sheet that *text* holds, with the document that knows its lines.

    Raises:
        SheetError: it cannot be read, or is not of the form of a sheet.
    """
    return read_typed(Sheet, text, name, SheetError)


def checked_sheet(document: Document) -> Sheet:
    """Return the sheet that is in *document*, however it was written.

    Raises:
        SheetError: it is not of the form of a sheet.
    """
    return typed(Sheet, document, SheetError)


def read_seeds(text: bytes, name: str) -> SeedFile:
    """Return the seed questions that *text* holds.

    Raises:
        SheetError: it cannot be read, or is not of the form of a file of seeds.
    """
    return read_typed(SeedFile, text, name, SheetError)[0]
