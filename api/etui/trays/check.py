"""Check a tray: read, resolve, judge, allocate, state facts, let the shapes decide, report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from etui.knowledge.model import Reference
from etui.trays import derive_pieces, derive_steps, derive_tray, derive_units
from etui.trays.facts import Facts
from etui.trays.findings import findings_of, verdict_of
from etui.trays.grading import Judges
from etui.trays.model import (
    Busy,
    Covered,
    Finding,
    FindingKind,
    Report,
    Route,
    SinglePoint,
    Stock,
    Tray,
)
from etui.trays.policy import Policy, Result, evaluate, load_policy
from etui.trays.situation import Bench, ReadsTrays, Situation
from etui.trays.suggest import for_step
from etui.trays.why import way_lines

if TYPE_CHECKING:
    from rdflib import Graph


@dataclass(frozen=True)
class Checked:
    """A check with everything behind its report."""

    report: Report
    situation: Situation
    facts: Facts
    policy: Policy
    results: tuple[Result, ...]
    findings: dict[tuple[str, str], Finding]


_benches: dict[tuple[int, int, int], Bench] = {}


def bench_of(reference: Reference, reader: ReadsTrays, judge: Judges) -> Bench:
    """The bench of these three; made once and kept with what it has worked out."""
    key = (id(reference), id(reader), id(judge))
    bench = _benches.get(key)
    if bench is None or bench.reference is not reference or bench.reader is not reader:
        if len(_benches) > 8:
            _benches.clear()
        bench = _benches[key] = Bench(reference, reader, judge)
    return bench


def state_facts(situation: Situation, *, whole_tray: bool = True) -> Facts:
    """All derived facts of a tray.

    Args:
        whole_tray: Also state the tray as a whole with its items and units; only rules of a
            hospital's own look at those.
    """
    facts = Facts()
    if whole_tray:
        derive_tray.add_tray(situation, facts)
    derive_steps.add_covers(situation, facts)
    derive_units.add_assemblies(situation, facts)
    derive_pieces.add_reaches(situation, facts)
    derive_steps.add_musters(situation, facts)
    derive_steps.add_losses(situation, facts)
    derive_pieces.add_alikes(situation, facts)
    derive_pieces.add_uses(situation, facts)
    derive_pieces.add_readiness(situation, facts)
    derive_pieces.add_lines(situation, facts)
    return facts


def check_fully(
    tray: Tray,
    *,
    reference: Reference,
    reader: ReadsTrays,
    judge: Judges,
    stock: Stock | None = None,
    rules: Sequence[Path | str] = (),
    details: bool = True,
    whole_tray: bool = False,
) -> Checked:
    """Check a tray and keep what the report was made from.

    Args:
        details: Also work out reasons, suggestions and spares for each finding.
        whole_tray: State the tray's items and units as facts even without rules that use them.

    Raises:
        BadInput: The tray names no procedure, or a rule file is broken.
        UnknownTerm: A procedure is not in the reference; carries the nearest names.
    """
    policy = load_policy(rules)
    bench = bench_of(reference, reader, judge)
    situation = Situation(tray, bench, stock)
    facts = state_facts(situation, whole_tray=whole_tray or policy.has_local)
    results, checked = evaluate(policy, facts)
    if policy.beyond:
        results = _with_shacl(policy, facts, results, checked)
    found = findings_of(policy, facts, results, checked, details=details)
    report = _report(situation, found, checked, details=details)
    return Checked(
        report, situation, facts, policy, tuple(results),
        {(f.rule, focus): f for focus, f in found},
    )


def _with_shacl(
    policy: Policy, facts: Facts, results: list[Result], checked: dict[str, int]
) -> list[Result]:
    """Results of rules that use more of SHACL than is compiled, judged by pySHACL."""
    from etui.trays import shacl

    beyond = {r.id for r in policy.rules if r.beyond}
    judged = shacl.judge(policy, facts)
    further = [r for r in judged.results if r.rule in beyond]
    for rule in beyond:
        checked[rule] = max(checked.get(rule, 0), len({r.focus for r in further if r.rule == rule}))
    return results + further


def check(
    tray: Tray,
    *,
    reference: Reference,
    reader: ReadsTrays,
    judge: Judges,
    stock: Stock | None = None,
    rules: Sequence[Path | str] = (),
) -> Report:
    """Whether a tray, as written, does its procedures in these hands.

    Args:
        tray: Lines as written, procedures (ids or names), who operates, what is kept beside.
        stock: Where substitutes may be taken from.
        rules: Turtle files with a hospital's own shapes.

    Raises:
        BadInput: The tray names no procedure, or a rule file is broken.
        UnknownTerm: A procedure is not in the reference; carries the nearest names.
    """
    return check_fully(
        tray, reference=reference, reader=reader, judge=judge, stock=stock, rules=rules
    ).report


def check_graph(
    tray: Tray,
    *,
    reference: Reference,
    reader: ReadsTrays,
    judge: Judges,
    stock: Stock | None = None,
    rules: Sequence[Path | str] = (),
) -> Graph:
    """The same check judged by pySHACL: a SHACL validation report with our findings attached."""
    from etui.trays import shacl

    done = check_fully(
        tray, reference=reference, reader=reader, judge=judge, stock=stock, rules=rules,
        whole_tray=True,
    )
    judged = shacl.judge(done.policy, done.facts)
    return shacl.report_graph(done.policy, judged, done.findings, done.facts)


def _report(
    situation: Situation,
    found: list[tuple[str, Finding]],
    checked: dict[str, int],
    *,
    details: bool,
) -> Report:
    findings = tuple(f for _, f in found)
    return Report(
        title=situation.tray.title,
        verdict=verdict_of(findings),
        procedures=tuple(c.procedure.id for c in situation.courses),
        findings=findings,
        coverage=_coverage(situation, details),
        checked=dict(sorted(checked.items())),
        approaches={
            c.procedure.id: c.path.approach for c in situation.courses if c.path.approach
        },
        readings=situation.contents.lines,
        routes=_routes(situation),
        timeline=_timeline(situation),
        single_points=_single_points(situation) if details else (),
        rare_hands=situation.hands.rare,
    )


def _coverage(situation: Situation, details: bool) -> tuple[Covered, ...]:
    out = []
    for course in situation.courses:
        free = {m.step: m.free for m in course.moments}
        for step in course.steps:
            cover = course.covers[step.id]
            best = cover.main_ways[0] if cover.main_ways else cover.best
            hand = cover.hand
            by_hand = hand is not None and (best is None or hand.grade == "preferred" != best.grade)
            if best is not None and not by_hand:
                by: tuple[str, ...] = best.patterns
                why = way_lines(situation, cover, best) if details else ()
            else:
                by, why = ((hand.id,) if hand else ()), ()
            out.append(
                Covered(
                    step=step.id, need=step.need, grade=cover.grade, by=by,
                    pieces=free.get(step.id, 0) or _count(cover.ways),
                    beside=bool(best and best.lead.beside and not by_hand), why=why,
                )
            )
    return tuple(out)


def _count(ways: Sequence[object]) -> int:
    return len(ways)


def _routes(situation: Situation) -> tuple[Route, ...]:
    return tuple(
        Route(
            procedure=course.procedure.id, approach=way.approach, name=way.name,
            complete=way.complete, gaps=way.gaps,
            advised=way.approach == course.path.approach, because=way.because,
        )
        for course in situation.courses
        for way in course.ways
        if way.approach is not None
    )


def _timeline(situation: Situation) -> tuple[Busy, ...]:
    out = []
    for course in situation.courses:
        for moment in course.moments:
            own = next((names for step, names in moment.busy if step == moment.step), ())
            held = tuple((s, names) for s, names in moment.busy if s != moment.step)
            if own or held:
                out.append(Busy(step=moment.step, uses=own, held=held))
    return tuple(out)


def _single_points(situation: Situation) -> tuple[SinglePoint, ...]:
    out = []
    for course in situation.courses:
        for key, steps in course.allocator.losses(course.steps).items():
            out.append(
                SinglePoint(
                    piece=key[0], steps=steps,
                    drop_prone=any(situation.reference.steps[s].drop_prone for s in steps),
                    saved_by=for_step(situation, course.covers[steps[0]], more=True),
                )
            )
    return tuple(out)


KINDS: tuple[str, ...] = get_args(FindingKind)
