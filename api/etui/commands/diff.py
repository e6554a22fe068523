"""``etui diff``: what a change of a tray does to its readiness."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import click

from etui.commands import common
from etui.commands.cards import name_of
from etui.commands.page import Page
from etui.knowledge.model import GRADES, Reference

if TYPE_CHECKING:
    from etui.trays.model import Finding, Line, Report

ORDER = ("fit", "fit-with-remarks", "unfit")


@click.command("diff")
@click.argument("old", metavar="OLD")
@click.argument("new", metavar="NEW")
@click.option("--procedure", "-p", "procedures", multiple=True, metavar="NAME",
              help="What both are for; overrules what they say.")
@click.option("--operator", default=None, metavar="WHO", help="In whose hands.")
@click.option("--rules", multiple=True, metavar="FILE", help="A hospital's own shapes.")
@common.column_option
@common.json_option
def command(
    old: str, new: str, procedures: tuple[str, ...], operator: str | None,
    rules: tuple[str, ...], columns: tuple[str, ...], sheet: str | None, as_json: bool,
) -> int:
    """Say what the change from OLD to NEW does: verdict, steps, findings, pieces.

    Exit code 0: nothing is worse; 1: something is worse; 2: could not run.
    """
    from etui.trays import check

    shapes = common.rule_files(rules)
    reports = []
    for file in (old, new):
        tray, _ = common.tray_from_file(file, columns=columns, sheet=sheet,
                                        procedures=procedures, operator=operator)
        reports.append(check(
            common.with_procedures(tray, file), reference=common.reference(),
            reader=common.reader(), judge=common.judge(), rules=shapes))
    data = difference(reports[0], reports[1], common.reference())
    if as_json:
        common.out(common.to_json(data))
    else:
        _show(data)
    return 1 if data["worse"] else 0


def difference(old: Report, new: Report, reference: Reference) -> dict[str, Any]:
    """What *new* does that *old* did not, and the other way round; sorted, in plain data."""
    steps = []
    before = {c.step: c for c in old.coverage}
    after = {c.step: c for c in new.coverage}
    for step in dict.fromkeys([*before, *after]):
        was = before[step].grade if step in before else None
        now = after[step].grade if step in after else None
        if was != now and step in before and step in after:
            steps.append({"step": step, "name": name_of(reference, step),
                          "need": after[step].need, "was": was, "now": now,
                          "worse": _rank(now) > _rank(was)})
    gone = _only(old.findings, new.findings)
    come = _only(new.findings, old.findings)
    pieces_before, pieces_after = _pieces(old.readings), _pieces(new.readings)
    pieces = [
        {"id": i, "name": name_of(reference, i), "was": pieces_before[i], "now": pieces_after[i]}
        for i in sorted(set(pieces_before) | set(pieces_after))
        if pieces_before[i] != pieces_after[i]
    ]
    return {
        "was": old.verdict, "now": new.verdict, "pieces": pieces, "steps": steps,
        "mended": [_told(f) for f in gone], "new_findings": [_told(f) for f in come],
        "worse": ORDER.index(new.verdict) > ORDER.index(old.verdict)
        or any(s["worse"] for s in steps)
        or any(f.severity != "info" for f in come),
    }


def _rank(grade: str | None) -> int:
    return len(GRADES) if grade is None else GRADES.index(grade)


def _only(some: tuple[Finding, ...], others: tuple[Finding, ...]) -> list[Finding]:
    known = {(f.rule, f.items, f.steps) for f in others}
    return [f for f in some if (f.rule, f.items, f.steps) not in known]


def _told(finding: Finding) -> dict[str, Any]:
    return {"severity": finding.severity, "kind": finding.kind, "text": finding.text,
            "rule": finding.rule}


def _pieces(lines: tuple[Line, ...]) -> Counter[str]:
    found: Counter[str] = Counter()
    for line in lines:
        items = [i for i in line.reading.items if i.pattern] if line.reading else []
        for item in items:
            counted = line.qty if line.qty is not None and len(items) == 1 else item.quantity
            found[str(item.pattern)] += 1 if counted is None else counted
    return found


def _show(data: dict[str, Any]) -> None:
    page = Page()
    page.title(f"{data['was']} -> {data['now']}")
    if not (data["pieces"] or data["steps"] or data["mended"] or data["new_findings"]):
        page.text("The change makes no difference that the reference knows of.")
    if data["pieces"]:
        page.heading("Pieces")
        for one in data["pieces"]:
            page.item(f"{one['name']}: {one['was']} -> {one['now']}")
    for heading, worse in (("Steps that are done worse", True),
                           ("Steps that are done better", False)):
        chosen = [s for s in data["steps"] if s["worse"] is worse]
        if chosen:
            page.heading(heading)
            for step in chosen:
                page.item(f"{step['name']} ({step['need']}): {step['was'] or 'nothing'} -> "
                          f"{step['now'] or 'nothing'}")
    for heading, key in (("New findings", "new_findings"), ("Findings that are gone", "mended")):
        if data[key]:
            page.heading(heading)
            for one in data[key]:
                page.item(one["text"])
    page.show()
