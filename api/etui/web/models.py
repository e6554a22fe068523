"""What goes in and out over HTTP, for validation and for OpenAPI.

The fields are those of the machine contract; engines may say more, so answers allow further
fields and never fewer.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

Grade = Literal["preferred", "acceptable", "improvised", "unsafe", "unable"]


def _sound(text: str) -> str:
    if any("\ud800" <= c <= "\udfff" for c in text):
        raise ValueError("the text holds half of a character; send whole Unicode characters")
    return text


Words = Annotated[str, Field(max_length=500), AfterValidator(_sound)]
LineText = Annotated[str, Field(max_length=1000), AfterValidator(_sound)]


class Asked(BaseModel):
    """Base of what comes in: unknown fields are refused, so that a misspelling is not ignored."""

    model_config = ConfigDict(extra="forbid")


class Answer(BaseModel):
    """Base of what goes out."""

    model_config = ConfigDict(extra="allow")


class Named(Answer):
    """A thing with its name; no bare ids."""

    id: str
    name: str


class NamedOrNone(Answer):
    """A step that could not be found has neither id nor name."""

    id: str | None
    name: str | None


# -- read -------------------------------------------------------------------------------------
class ReadAsked(Asked):
    """One line as it was written."""

    text: LineText


class ReadAnswer(Answer):
    """What the line names."""

    text: str
    kind: Literal[
        "instrument", "assembly", "consumable", "manoeuvre", "ambiguous", "unknown", "not-an-item"
    ]
    quantity: int | None
    instrument: Answer | None
    parts: list[Any]
    attributes: dict[str, Any]
    alternatives: list[Answer]
    why: str


# -- replace ----------------------------------------------------------------------------------
class StockLine(Asked):
    """One line of a stock: its own text and how many are to hand."""

    name: LineText
    count: Annotated[int, Field(ge=0, le=1_000_000, strict=True)] = 1


class ReplaceAsked(Asked):
    """A question: free text or ids.  Without ``candidate``, stand-ins are listed."""

    procedure: Words | None = None
    step: Words | None = None
    missing: Words | None = None
    candidate: Words | None = None
    stock: Annotated[list[StockLine], Field(max_length=2000)] | None = None


class Reason(Answer):
    """Why: what is asked, what is offered, what follows, from where and how known."""

    demand: str
    offer: str
    consequence: str
    source: str | None
    how_known: str


class GradedThing(Named):
    """A thing with its grade for the step."""

    grade: Grade


class CandidateAnswer(Answer):
    """How the candidate was understood."""

    resolved: list[Named]
    manner: list[str]


class ReplaceAnswer(Answer):
    """A grade with its reasons, or the deciding question."""

    step: NamedOrNone
    candidate: CandidateAnswer
    grade: Grade | None
    stated: bool
    asks: str | None
    careful: Grade | None
    reasons: list[Reason]
    hazards: list[str]
    better: list[GradedThing]
    unresolved: list[str]


# -- check ------------------------------------------------------------------------------------
class TrayLine(Asked):
    """One line of a tray as it was written."""

    text: LineText
    qty: Annotated[int, Field(ge=0, le=100_000, strict=True)] | None = None


class CheckAsked(Asked):
    """A tray in the machine contract."""

    title: Words = ""
    procedures: Annotated[list[Words], Field(min_length=1, max_length=30)]
    operator: Words | None = None
    kept_alongside: Annotated[list[LineText | TrayLine], Field(max_length=500)] = []
    contents: Annotated[list[TrayLine | LineText], Field(min_length=1, max_length=2000)]
    stock: Annotated[list[StockLine], Field(min_length=1, max_length=2000)] | None = None


class SuggestionOut(Named):
    """What would fill a gap, how well, and where it is."""

    grade: Grade
    origin: Literal["tray", "stock", "reference"] = Field(alias="from")
    model_config = ConfigDict(extra="allow", populate_by_name=True)


class FindingOut(Answer):
    """One fault or remark."""

    kind: str
    severity: Literal["violation", "warning", "info"]
    text: str
    fix: str
    items: list[Any]
    steps: list[Any]
    suggestions: list[SuggestionOut]
    rule: str


class CoveredOut(Answer):
    """What serves one step."""

    step: Any
    need: str
    grade: Grade | None
    by: Any
    pieces: int


class CheckAnswer(Answer):
    """Verdict, findings, coverage."""

    verdict: Literal["fit", "fit-with-remarks", "unfit"]
    procedures: list[Any]
    findings: list[FindingOut]
    coverage: list[CoveredOut]
    checked: dict[str, int]


# -- compose ----------------------------------------------------------------------------------
class ComposeAsked(Asked):
    """What the tray is for, and the stock it may be composed from."""

    title: Words = ""
    procedures: Annotated[list[Words], Field(min_length=1, max_length=10)]
    operator: Words | None = None
    stock: Annotated[list[StockLine], Field(min_length=1, max_length=500)]
    constraints: Words | Annotated[list[Words], Field(max_length=40)] | None = None
    kept_alongside: Annotated[list[LineText], Field(max_length=200)] = []


class Proof(Answer):
    """How far the choice is proven to be the best."""

    optimal: bool
    bound: float | None


class ComposeAnswer(Answer):
    """The tray, or an honest no with what to obtain first."""

    verdict: Literal["fit", "fit-with-remarks", "unfit"]
    tray: list[Answer]
    gaps: list[Answer]
    proof: Proof


# -- compare ----------------------------------------------------------------------------------
class CompareAsked(Asked):
    """Two instruments, by id or name."""

    a: Annotated[Words, Field(min_length=1)]
    b: Annotated[Words, Field(min_length=1)]


class CompareAnswer(Answer):
    """How alike they look, what tells them apart, what a mix-up does."""

    a: Named
    b: Named
    resemblance: Literal["high", "medium", "low"]
    tells: str
    differences: list[str]
    harm_if_swapped: str


# -- browsing ---------------------------------------------------------------------------------
class InstrumentRow(Named):
    """One instrument in a list."""

    family: Named
    definition: str


class InstrumentList(Answer):
    """A page of the list of instruments."""

    total: int
    offset: int
    items: list[InstrumentRow]


class ProcedureRow(Named):
    """One procedure in a list."""

    purpose: str
    steps: int


class ProcedureList(Answer):
    """All procedures."""

    total: int
    items: list[ProcedureRow]


class Card(Answer):
    """Everything stated about one thing; fields depend on its kind."""

    kind: str
    id: str


class About(Answer):
    """The server, its data and its limits."""

    name: str
    version: str
    reference: str
    instruments: int
    procedures: int
    steps: int
    limits: str
    openapi: str
