"""Reports of checks and compositions, arranged for a page."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from msgspec import structs

from etui.commands.cards import name_of
from etui.drawing import width_mm
from etui.exchange import open_stock
from etui.knowledge.model import USABLE
from etui.trays.model import Finding, Line, Place, Report
from etui.web.desk import Desk
from etui.web.words import FINDING_GROUPS, group_of

VERDICTS = {
    "fit": ("Fit", "Every essential step has a usable piece, and nothing dangerous was found."),
    "fit-with-remarks": ("Fit, with remarks", "The essential steps are covered; read what to add."),
    "unfit": ("Not fit", "An essential step has nothing usable, or only something unsafe."),
}
"""Verdict -> (word, what it means)."""


def check_view(
    desk: Desk,
    content: bytes,
    name: str,
    procedures: Sequence[str],
    *,
    title: str = "",
    operator: str = "",
    alongside: str = "",
) -> dict[str, Any]:
    """Check a list and arrange the report: findings in groups, coverage, how lines were read.

    Raises:
        BadInput: The list cannot be taken, or no procedure is named.
        UnknownTerm: A procedure is not in the reference.
    """
    tray, taken = desk.open_tray(content, name, procedures)
    if title.strip():
        tray = structs.replace(tray, title=title.strip())
    if operator.strip():
        tray = structs.replace(tray, operator=operator.strip())
    more = tuple(
        Line(text=text.strip(), place=Place(file="kept beside", row=row))
        for row, text in enumerate(alongside.splitlines(), 1)
        if text.strip()
    )
    if more:
        tray = structs.replace(tray, kept_alongside=tray.kept_alongside + more)
    tray = desk.with_procedures(tray, name)
    report = desk.check(tray)
    return {
        "title": report.title,
        "verdict": report.verdict,
        "words": VERDICTS[report.verdict],
        "procedures": [(p, name_of(desk.reference, p)) for p in report.procedures],
        "groups": _groups(desk, report),
        "coverage": _coverage(desk, report),
        "strip": _strip(desk, _in_order_of_use(report)),
        "lines": _lines(desk, report),
        "how": taken.how(),
        "routes": [r for r in report.routes if r.complete or r.advised],
        "checked": sum(report.checked.values()),
        "rules": len(report.checked),
        "operator": tray.operator,
    }


def _groups(desk: Desk, report: Report) -> list[dict[str, Any]]:
    groups: dict[str, list[dict[str, Any]]] = {key: [] for key, _, _ in FINDING_GROUPS}
    for finding in report.findings:
        groups[group_of(finding.kind, finding.severity)].append(_finding(desk, finding))
    return [
        {"key": key, "heading": heading, "lead": lead, "findings": groups[key]}
        for key, heading, lead in FINDING_GROUPS
        if groups[key]
    ]


def _finding(desk: Desk, finding: Finding) -> dict[str, Any]:
    return {
        "text": finding.text,
        "fix": finding.fix,
        "kind": finding.kind.replace("_", " "),
        "severity": finding.severity,
        "rule": finding.rule,
        "place": str(finding.place) if finding.place else "",
        "why": finding.why,
        "items": [thing(desk, i) for i in finding.items],
        "steps": [step_link(desk, s) for s in finding.steps],
        "suggestions": [
            {**thing(desk, s.id), "name": s.name, "grade": s.grade, "origin": s.origin}
            for s in finding.suggestions
        ],
    }


def thing(desk: Desk, id_: str) -> dict[str, Any]:
    """A thing with its name and, if it has one, its page."""
    page = f"/instruments/{id_}" if id_ in desk.reference.patterns else None
    return {"id": id_, "name": name_of(desk.reference, id_), "page": page}


def step_link(desk: Desk, id_: str) -> dict[str, Any]:
    """A step with its name and page; a step that is only named has no page."""
    if id_ in desk.reference.steps:
        head, _, tail = id_.partition("/")
        return {
            "id": id_,
            "name": desk.reference.steps[id_].name,
            "page": f"/procedures/{head}/steps/{tail}",
        }
    return {"id": id_, "name": id_, "page": None}


def _coverage(desk: Desk, report: Report) -> list[dict[str, Any]]:
    """Coverage by procedure, each in order of the operation."""
    blocks: dict[str, list[dict[str, Any]]] = {p: [] for p in report.procedures}
    for covered in report.coverage:
        head = covered.step.partition("/")[0]
        blocks.setdefault(head, []).append(
            {
                **step_link(desk, covered.step),
                "need": covered.need,
                "grade": covered.grade,
                "by": [thing(desk, b) for b in covered.by],
                "pieces": covered.pieces,
                "beside": covered.beside,
                "why": covered.why,
            }
        )
    return [
        {"id": p, "name": name_of(desk.reference, p), "steps": rows} for p, rows in blocks.items()
    ]


def _in_order_of_use(report: Report) -> list[str]:
    """Ids of what is on the tray: what serves a step in order of the operation, then the rest."""
    there = [
        item.pattern
        for line in report.readings
        if line.reading is not None
        for item in line.reading.items
        if item.pattern is not None and item.quantity != 0
    ]
    used = [
        b
        for covered in report.coverage
        if covered.grade in USABLE and not covered.beside
        for b in covered.by
        if b in there
    ]
    return [*used, *there]


STRIP_WIDTH = 220
"""Width in pixels at which the longest piece of a tray is drawn."""
MOST_MM = 400
"""Wider pieces (mm) are left out of the strip: they would shrink all others to nothing."""


def _strip(desk: Desk, ids: Sequence[str]) -> list[dict[str, Any]]:
    """The pieces of a tray in order of first use, drawn at one scale.

    A piece without a recorded shape or length is left out: it cannot be drawn to that scale.
    """
    pieces = [
        desk.reference.patterns[i]
        for i in dict.fromkeys(ids)
        if i in desk.reference.patterns and desk.is_drawn(i)
    ]
    sized = [(p, mm) for p in pieces if (mm := width_mm(p)) is not None]
    sized = [(p, mm) for p, mm in sized if mm <= MOST_MM]
    longest = max((mm for _, mm in sized), default=1.0)
    return [
        {**thing(desk, p.id), "width": max(round(STRIP_WIDTH * mm / longest), 24)}
        for p, mm in sized
    ]


def _lines(desk: Desk, report: Report) -> list[dict[str, Any]]:
    """How each line was read; ``doubt`` marks what a person should look at."""
    rows = []
    for line in report.readings:
        if line.reading is None:
            continue
        items = [
            {
                "name": item.name or "",
                "id": item.pattern,
                "quantity": item.quantity,
                "kind": item.kind,
                "ask": item.ask,
                "page": f"/instruments/{item.pattern}"
                if item.pattern in desk.reference.patterns
                else None,
                "alternatives": [(a.name, a.id) for a in item.alternatives[:4]],
            }
            for item in line.reading.items
        ]
        doubt = any(i["kind"] in ("ambiguous", "unknown") for i in items)
        rows.append(
            {
                "text": line.text,
                "qty": line.qty,
                "row": line.place.row,
                "read": items,
                "doubt": doubt,
            }
        )
    return rows


def compose_view(
    desk: Desk,
    content: bytes,
    name: str,
    procedures: Sequence[str],
    *,
    operator: str = "",
    constraints: str = "",
) -> dict[str, Any]:
    """Compose a tray and arrange the answer.

    Raises:
        BadInput: The stock cannot be taken.
        UnknownTerm: A procedure is not in the reference.
    """
    stock, taken = open_stock(content, name=name)
    brief: dict[str, Any] = {
        "title": stock.title,
        "procedures": list(procedures),
        "operator": operator.strip() or None,
        "stock": [_held(desk, line) for line in stock.lines],
    }
    if constraints.strip():
        brief["constraints"] = constraints.strip()
    answer = desk.compose(brief)
    tray = [
        {
            **line,
            "for": [
                step_link(desk, s if isinstance(s, str) else s["id"]) for s in line.get("for", [])
            ],
        }
        for line in answer["tray"]
    ]
    gaps = [{**gap, "step": step_link(desk, _id(gap.get("step")))} for gap in answer["gaps"]]
    return {
        **answer,
        "tray": tray,
        "gaps": gaps,
        "words": VERDICTS[answer["verdict"]],
        "pieces": sum(int(line["count"]) for line in tray),
        "strip": _strip(desk, [line["id"] for line in tray if line.get("id")]),
        "how": taken.how(),
    }


def _held(desk: Desk, line: Line) -> dict[str, Any]:
    """Name and count of a stock line.

    The count comes from its column, else from the words; a count that leads the words is then
    taken off the name, so that it is not counted twice.  A line without any names one piece.
    """
    if line.qty is not None:
        return {"name": line.text, "count": line.qty}
    stated = desk.reader.read(line.text).first.quantity
    if stated is None:
        return {"name": line.text, "count": 1}
    lead = re.match(rf"\s*{stated}\s*(?:x|×|pcs?\.?|ea\.?)?\s+(?=\D)", line.text, re.IGNORECASE)
    return {"name": line.text[lead.end() :] if lead else line.text, "count": stated}


def _id(step: Any) -> str:
    return str(step["id"]) if isinstance(step, dict) else str(step)
