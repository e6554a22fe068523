"""Trays, stock, and what a check finds."""

from __future__ import annotations

from typing import Literal

from etui.knowledge.model import Grade, Need, Record
from etui.reading.model import Reading

FindingKind = Literal[
    "missing_step", "assembly_fault", "unsafe_item", "too_few", "look_alike", "superfluous",
    "not_ready", "unresolved_line", "local_rule",
]
Severity = Literal["violation", "warning", "info"]
Verdict = Literal["fit", "fit-with-remarks", "unfit"]


class Place(Record, frozen=True):
    """Where a line stands: file, sheet (of a workbook) and row or line, from 1."""

    file: str | None = None
    sheet: str | None = None
    row: int | None = None

    def __str__(self) -> str:
        parts = [self.file or "", self.sheet or "", str(self.row) if self.row else ""]
        return ":".join(p for p in parts if p)


class Line(Record, frozen=True):
    """One line of a tray or stock as it was written; ``qty`` None = the text may hold it."""

    text: str
    qty: int | None = None
    place: Place = Place()
    reading: Reading | None = None


class Tray(Record, frozen=True):
    """A tray as its people wrote it, and what it is for (procedures as written or ids)."""

    title: str
    procedures: tuple[str, ...] = ()
    operator: str | None = None
    kept_alongside: tuple[Line, ...] = ()
    contents: tuple[Line, ...] = ()


class Stock(Record, frozen=True):
    """What lies in a cupboard; a count of 0 is listed but not to hand."""

    title: str
    lines: tuple[Line, ...] = ()


class Suggestion(Record, frozen=True):
    """Something that would fill a gap, how well, and where it is to be found."""

    id: str
    name: str
    grade: Grade
    origin: Literal["tray", "stock", "reference"]


class Finding(Record, frozen=True):
    """One fault or remark, ready to show: what, how to mend, which items and steps, which rule."""

    kind: FindingKind
    severity: Severity
    text: str
    fix: str
    items: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    suggestions: tuple[Suggestion, ...] = ()
    rule: str = ""
    place: Place | None = None
    why: tuple[str, ...] = ()


class Covered(Record, frozen=True):
    """What serves one step: the best grade, what gives it, and how many pieces are free.

    ``by``: ids of patterns or manoeuvres, the leading one first; ``source`` says where the grade
    comes from; ``beside``: it is kept alongside, not on the tray.
    """

    step: str
    need: Need
    grade: Grade | None
    by: tuple[str, ...] = ()
    pieces: int = 0
    beside: bool = False
    why: tuple[str, ...] = ()


class Busy(Record, frozen=True):
    """One moment of the timeline: while *step* is done, which pieces are in use and for what.

    ``held``: (step, pieces) of earlier steps that still hold a piece.
    """

    step: str
    uses: tuple[str, ...]
    held: tuple[tuple[str, tuple[str, ...]], ...] = ()


class SinglePoint(Record, frozen=True):
    """A piece whose loss stops essential steps, and what would save them."""

    piece: str
    steps: tuple[str, ...]
    drop_prone: bool
    saved_by: tuple[Suggestion, ...] = ()


class Route(Record, frozen=True):
    """One way of doing a procedure on this tray: complete or not, and whether it is the one judged.

    ``advised``: it is the one to take in these hands; ``because``: why.
    """

    procedure: str
    approach: str | None
    name: str
    complete: bool
    gaps: tuple[str, ...] = ()
    advised: bool = False
    because: str = ""


class Report(Record, frozen=True):
    """The outcome of a check; ``checked``: rule -> how many nodes it looked at.

    ``approaches``: procedure -> the approach that was judged.  ``routes``: all ways considered.
    ``rare_hands``: the procedure is taken to be rare for who operates.
    """

    title: str
    verdict: Verdict
    procedures: tuple[str, ...]
    findings: tuple[Finding, ...]
    coverage: tuple[Covered, ...]
    checked: dict[str, int]
    approaches: dict[str, str] = {}
    readings: tuple[Line, ...] = ()
    routes: tuple[Route, ...] = ()
    timeline: tuple[Busy, ...] = ()
    single_points: tuple[SinglePoint, ...] = ()
    rare_hands: bool = True
