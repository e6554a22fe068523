"""A composed tray checked like any other, and mended where the check finds harm."""

from __future__ import annotations

from typing import Any

from etui.trays.compose_build import Setting
from etui.trays.compose_problem import Lot, Plan, Problem
from etui.trays.compose_report import Teller, verdict_of
from etui.trays.compose_solve import solve
from etui.trays.compose_stock import Brief
from etui.trays.model import Line, Report, Tray
from etui.trays.situation import Bench

_VERDICTS = ("fit", "fit-with-remarks", "unfit")
_ROUNDS = 4
"""How often pieces that the check finds harmful are left out and the tray is sought again."""


def check_lines(lines: list[dict[str, Any]], brief: Brief, bench: Bench) -> Report:
    """The check of a tray made of composed lines."""
    from etui.trays.check import check_fully

    return check_fully(
        Tray(
            title=brief.title,
            procedures=brief.procedures,
            operator=brief.operator or None,
            kept_alongside=tuple(Line(text=text) for text in brief.wishes.beside),
            contents=tuple(Line(text=line["name"], qty=line["count"]) for line in lines),
        ),
        reference=bench.reference,
        reader=bench.reader,
        judge=bench.grader.judge,
        details=False,
    ).report


def mended(
    brief: Brief, made: Setting, plan: Plan, teller: Teller, bench: Bench, seconds: float
) -> tuple[Setting, Plan, Teller]:
    """The tray with what its check calls harmful left out, as far as that leaves a fit one."""
    for _ in range(_ROUNDS):
        if verdict_of(made.problem, plan) == "unfit":
            break
        report = check_lines(teller.lines(), brief, bench)
        blamed = {
            item: f.text
            for f in report.findings
            if f.kind == "unsafe_item" and f.severity == "violation"
            for item in f.items
        }
        lots = {
            lot: blamed[line.pattern]
            for lot, line in enumerate(brief.held)
            if plan.pieces[lot] and line.pattern in blamed and lot not in brief.wishes.required
        }
        if not lots:
            break
        trial = without(made, lots)
        other = solve(trial.problem, seconds=seconds)
        if verdict_of(trial.problem, other) == "unfit":
            break
        made, plan = trial, other
        teller = Teller(brief, made, plan, teller.fitter, teller.expected)
    return made, plan, teller


def without(made: Setting, lots: dict[int, str]) -> Setting:
    """The same problem with some lots barred, each with its reason."""
    fields = {name: getattr(made.problem, name) for name in Problem.__struct_fields__}
    fields["lots"] = tuple(
        Lot(**{**{n: getattr(lot, n) for n in Lot.__struct_fields__}, "barred": True})
        if index in lots
        else lot
        for index, lot in enumerate(made.problem.lots)
    )
    return Setting(
        problem=Problem(**fields),
        barred={**made.barred, **lots},
        assumed=made.assumed,
        idle=made.idle,
    )


def told(out: dict[str, Any], brief: Brief, teller: Teller, bench: Bench) -> None:
    """Put the check into the answer; the more careful of the two verdicts holds."""
    report = check_lines(out["tray"] or out.get("set_aside", []), brief, bench)
    out["check"] = {
        "verdict": report.verdict,
        "findings": [
            {"kind": f.kind, "severity": f.severity, "text": f.text, "fix": f.fix, "rule": f.rule}
            for f in report.findings
        ],
    }
    if _VERDICTS.index(report.verdict) <= _VERDICTS.index(out["verdict"]):
        return
    out["verdict"] = report.verdict
    if report.verdict != "unfit":
        return
    faults = [f for f in report.findings if f.severity == "violation"]
    out["set_aside"], out["tray"], out["pieces"] = out["tray"], [], 0
    out["why"] = "The tray that comes nearest does not pass its check: " + " ".join(
        f.text for f in faults
    )
    first = []
    for fault in faults:
        for id_ in fault.steps[:1]:
            step = bench.reference.steps[id_]
            first.append(
                {
                    "step": id_,
                    "need": step.need,
                    "text": fault.text,
                    "obtain": teller.obtain(step),
                    "by_hand": teller.hands(step),
                }
            )
    steps = {gap["step"] for gap in first}
    out["gaps"] = first + [gap for gap in out["gaps"] if gap["step"] not in steps]
