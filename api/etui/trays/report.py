"""A report as JSON by the machine contract, and as text that a nurse can read."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill as wrap
from typing import Any

from etui.knowledge.model import Reference
from etui.trays.model import Covered, Finding, Report, Suggestion

VERDICT_WORDS = {
    "fit": "FIT",
    "fit-with-remarks": "FIT, WITH REMARKS",
    "unfit": "NOT FIT",
}
GRAVE_WORDS = {"violation": "must be mended", "warning": "to be looked at", "info": "good to know"}
NEED_WORDS = {
    "essential": "must be done",
    "conditional": "if needed",
    "optional": "may be left out",
    "closing": "afterwards",
}
LIMITS = (
    "A reference for planning and teaching. Local protocol, manufacturers' instructions, "
    "sterile-processing rules and licensed judgement prevail."
)


def _name(reference: Reference, id_: str) -> str:
    for table in (reference.patterns, reference.manoeuvres, reference.steps, reference.procedures):
        if id_ in table:
            return str(table[id_].name)
    return id_


def suggestion_json(suggestion: Suggestion) -> dict[str, Any]:
    """One suggestion by the machine contract."""
    return {
        "id": suggestion.id, "name": suggestion.name, "grade": suggestion.grade,
        "from": suggestion.origin,
    }


def finding_json(finding: Finding) -> dict[str, Any]:
    """One finding by the machine contract; place and why beside it."""
    out: dict[str, Any] = {
        "kind": finding.kind, "severity": finding.severity, "text": finding.text,
        "fix": finding.fix, "items": list(finding.items), "steps": list(finding.steps),
        "suggestions": [suggestion_json(s) for s in finding.suggestions], "rule": finding.rule,
    }
    if finding.place is not None and str(finding.place):
        out["place"] = str(finding.place)
    if finding.why:
        out["why"] = list(finding.why)
    return out


def report_json(report: Report, reference: Reference | None = None) -> dict[str, Any]:
    """A report as the machine contract has it, with further keys beside the contract's.

    Args:
        reference: Gives names beside ids; without it ids stand alone.
    """

    def named(id_: str) -> dict[str, str]:
        return {"id": id_, "name": _name(reference, id_) if reference else id_}

    return {
        "title": report.title,
        "verdict": report.verdict,
        "procedures": list(report.procedures),
        "findings": [finding_json(f) for f in report.findings],
        "coverage": [
            {
                "step": c.step, "need": c.need, "grade": c.grade, "by": list(c.by),
                "pieces": c.pieces, "beside": c.beside,
                **({"name": _name(reference, c.step)} if reference else {}),
                **({"why": list(c.why)} if c.why else {}),
            }
            for c in report.coverage
        ],
        "checked": dict(report.checked),
        "approaches": dict(report.approaches),
        "routes": [
            {
                "procedure": r.procedure, "approach": r.approach, "name": r.name,
                "complete": r.complete, "advised": r.advised, "because": r.because,
                "gaps": list(r.gaps),
            }
            for r in report.routes
        ],
        "timeline": [
            {
                "step": b.step, "uses": list(b.uses),
                "held": [{"step": s, "pieces": list(p)} for s, p in b.held],
            }
            for b in report.timeline
        ],
        "single_points": [
            {
                "piece": named(p.piece.partition("~")[0]), "steps": list(p.steps),
                "drop_prone": p.drop_prone,
                "saved_by": [suggestion_json(s) for s in p.saved_by],
            }
            for p in report.single_points
        ],
        "rare_hands": report.rare_hands,
        "note": LIMITS,
    }


def report_text(
    report: Report, reference: Reference, *, why: bool = False, width: int = 88
) -> str:
    """A report to read: verdict, what to mend, what to know, and the operation in order.

    Args:
        why: Add reason and source under each finding and each step.
        width: Columns of a line.
    """
    out: list[str] = [f"{report.title}: {VERDICT_WORDS[report.verdict]}"]
    for procedure in report.procedures:
        out.append(_procedure_line(report, reference, procedure))
    out.append(_counts(report.findings))
    for severity in ("violation", "warning", "info"):
        found = [f for f in report.findings if f.severity == severity]
        if found:
            out += ["", GRAVE_WORDS[severity].upper()]
            for number, finding in enumerate(found, 1):
                out += _finding_lines(finding, number, why, width)
    out += ["", "STEP BY STEP"]
    out += _steps(report, reference, why, width)
    if report.single_points:
        out += ["", "IF ONE IS LOST"]
        out += _losses(report, reference, width)
    looked = sum(1 for n in report.checked.values() if n)
    out += ["", f"{looked} of {len(report.checked)} rules had something to look at.", "",
            wrap(LIMITS, width)]
    return "\n".join(out) + "\n"


def _procedure_line(report: Report, reference: Reference, procedure: str) -> str:
    line = f"For: {_name(reference, procedure)}"
    route = next((r for r in report.routes if r.procedure == procedure and r.advised), None)
    if route is not None:
        line += f". Way: {route.name}"
        if route.because:
            line += f" ({route.because})"
        others = [r.name for r in report.routes
                  if r.procedure == procedure and r.complete and not r.advised]
        if others:
            line += ". Also complete: " + "; ".join(others)
    return line + "."


def _counts(findings: Sequence[Finding]) -> str:
    parts = []
    for severity, words in GRAVE_WORDS.items():
        count = sum(f.severity == severity for f in findings)
        if count:
            parts.append(f"{count} {words}")
    return "Findings: " + (", ".join(parts) if parts else "none") + "."


def _indented(text: str, first: str, rest: str, width: int) -> list[str]:
    return wrap(text, width, initial_indent=first, subsequent_indent=rest).split("\n")


def _finding_lines(
    finding: Finding, number: int, why: bool, width: int
) -> list[str]:
    place = f" [{finding.place}]" if finding.place is not None and str(finding.place) else ""
    out = _indented(finding.text + place, f"{number:>3}. ", "     ", width)
    if finding.fix:
        out += _indented(finding.fix, "     -> ", "        ", width)
    near = [s for s in finding.suggestions if s.origin != "reference"]
    if near:
        words = ", ".join(f"{s.name} ({s.grade}, {s.origin})" for s in near)
        out += _indented(f"At hand: {words}.", "        ", "        ", width)
    if why:
        bar = "        | "
        out += [line for w in finding.why for line in _indented(w, bar, bar, width)]
        out += _indented(f"Rule: {finding.rule}", "        | ", "        | ", width)
    return out


def _steps(report: Report, reference: Reference, why: bool, width: int) -> list[str]:
    out: list[str] = []
    procedure = ""
    for covered in report.coverage:
        owner = covered.step.partition("/")[0]
        if owner != procedure and len(report.procedures) > 1:
            out.append(f"  {_name(reference, owner)}")
        procedure = owner
        out += _indented(_step_words(covered, reference), "  - ", "    ", width)
        if why:
            out += [x for w in covered.why for x in _indented(w, "      | ", "      | ", width)]
    return out


def _step_words(covered: Covered, reference: Reference) -> str:
    need = NEED_WORDS[covered.need]
    name = _name(reference, covered.step)
    if covered.grade is None or not covered.by:
        return f"{name} ({need}): nothing here"
    by = " with ".join(
        [_name(reference, covered.by[0]), ", ".join(_name(reference, b) for b in covered.by[1:])]
        if len(covered.by) > 1
        else [_name(reference, covered.by[0])]
    )
    beside = ", kept beside" if covered.beside else ""
    return f"{name} ({need}): {by}: {covered.grade}{beside}"


def _losses(report: Report, reference: Reference, width: int) -> list[str]:
    out: list[str] = []
    for point in report.single_points:
        piece = _name(reference, point.piece.partition("~")[0])
        steps = "; ".join(_name(reference, s) for s in point.steps)
        saved = [s.name for s in point.saved_by][:3]
        text = f"The only {piece}: then this stops: {steps}."
        if saved:
            text += f" Saved by a second one, or by {', '.join(saved)}."
        out += _indented(text, "  - ", "    ", width)
    return out
