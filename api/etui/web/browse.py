"""Pages to look things up: instruments, procedures, steps, sources, comparisons, limits."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response
from starlette.responses import HTMLResponse

from etui.commands.cards import name_of, named, pattern_card, procedure_card, source_card, step_card
from etui.drawing import draw, figures, icon
from etui.errors import EtuiError, UnknownTerm
from etui.knowledge.model import GRADES
from etui.web import views
from etui.web.api import TheDesk, search
from etui.web.problems import KINDS
from etui.web.render import render

router = APIRouter()
Query_ = Annotated[str, Query(max_length=200)]


@router.get("/instruments")
def instruments(
    request: Request, desk: TheDesk, q: Query_ = "", family: Query_ = ""
) -> HTMLResponse:
    """All instruments by family, or those that match a search."""
    families = desk.reference.terms.get("family", {})
    chosen = family if family in families else None
    found = search(desk, q, chosen)
    groups: dict[str, list[Any]] = {}
    for pattern in found:
        groups.setdefault(pattern.family, []).append(pattern)
    counts: dict[str, int] = {}
    for pattern in desk.reference.patterns.values():
        counts[pattern.family] = counts.get(pattern.family, 0) + 1
    listed = [
        (id_, name_of(desk.reference, id_), groups[id_])
        for id_ in sorted(groups, key=lambda f: name_of(desk.reference, f).casefold())
    ]
    choices = [
        (f, name_of(desk.reference, f), counts[f])
        for f in sorted(counts, key=lambda f: name_of(desk.reference, f).casefold())
    ]
    return render(
        request,
        "instruments.html",
        {
            "q": q,
            "family": chosen or "",
            "groups": listed,
            "choices": choices,
            "total": len(found),
            "browse": not q and chosen is None,
            "drawn": {p.id for p in found if (q or chosen) and desk.is_drawn(p.id)},
            "shown": {
                f: next((p.id for p in patterns if desk.is_drawn(p.id)), None)
                for f, patterns in groups.items()
            },
        },
    )


@router.get("/instruments/{id}")
def instrument(request: Request, id: str, desk: TheDesk) -> HTMLResponse:
    """One instrument: what it is for, by which feature, where it serves and where it harms."""
    pattern = desk.pattern(id)
    card = pattern_card(desk.reference, pattern)
    return render(
        request,
        "instrument.html",
        {
            "card": card,
            "figure": figures(pattern),
            "pattern": pattern,
            "features": views.features(desk.reference, pattern),
            "by_grade": views.steps_by_grade(card["steps"]),
            "alike": views.look_alikes(desk, pattern),
            "is_drawn": desk.is_drawn(pattern.id),
            "units": views.units_with(desk.reference, pattern.id),
        },
    )


@router.get("/drawings/{name}.svg")
def small_drawing(
    name: str, desk: TheDesk, w: Annotated[int, Query(ge=16, le=2000)] = 180
) -> Response:
    """One view without labels, for lists; ``w`` is the width in pixels at which it is shown."""
    return _svg(icon(desk.pattern(name), width_px=w), name)


@router.get("/drawings/{name}/full.svg")
def full_drawing(name: str, desk: TheDesk) -> Response:
    """The whole sheet as a file."""
    return _svg(draw(desk.pattern(name)), name)


def _svg(text: str, name: str) -> Response:
    if not text:
        raise UnknownTerm(f'"{name[:80]}" is done by hand; there is nothing to draw.')
    return Response(
        text,
        media_type="image/svg+xml",
        headers={
            "Cache-Control": "max-age=3600",
            # A drawing that is opened by itself carries its own colours.
            "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'",
        },
    )


@router.get("/procedures")
def procedures(request: Request, desk: TheDesk) -> HTMLResponse:
    """All procedures."""
    rows = sorted(desk.reference.procedures.values(), key=lambda p: p.name.casefold())
    return render(request, "procedures.html", {"procedures": rows})


@router.get("/procedures/{id}")
def procedure(request: Request, id: str, desk: TheDesk) -> HTMLResponse:
    """One procedure: its steps in order with what serves each."""
    one = desk.procedure(id)
    reference = desk.reference
    steps = []
    for step_id in one.steps:
        card = step_card(reference, reference.steps[step_id])
        steps.append({**card, "served": views.served(reference, reference.steps[step_id])})
    return render(
        request,
        "procedure.html",
        {
            "card": procedure_card(reference, one),
            "steps": steps,
            "redundancy": [(named(reference, [r.subject])[0], r.because) for r in one.redundancy],
            "approach_names": {a.id: a.name for a in one.approaches},
        },
    )


@router.get("/procedures/{procedure}/steps/{step}")
def step(request: Request, procedure: str, step: str, desk: TheDesk) -> HTMLResponse:
    """One step: what it asks, what serves it, what must not be used, and why."""
    one = desk.step(f"{procedure}/{step}")
    reference = desk.reference
    order = reference.procedures[one.procedure].steps
    at = order.index(one.id)
    return render(
        request,
        "step.html",
        {
            "card": step_card(reference, one),
            "served": views.served(reference, one),
            "demands": views.demands(reference, one),
            "limits": views.limits(reference, one),
            "before": reference.steps[order[at - 1]] if at else None,
            "after": reference.steps[order[at + 1]] if at + 1 < len(order) else None,
            "approach_names": {
                a.id: a.name for a in reference.procedures[one.procedure].approaches
            },
            "grades": GRADES,
        },
    )


@router.get("/sources/{id}")
def source(request: Request, id: str, desk: TheDesk) -> HTMLResponse:
    """One source and what rests on it."""
    if id not in desk.reference.sources:
        raise UnknownTerm(f'There is no source "{id[:80]}".')
    return render(request, "source.html", {"card": source_card(desk.reference, id)})


@router.get("/compare")
def compare(request: Request, desk: TheDesk, a: Query_ = "", b: Query_ = "") -> HTMLResponse:
    """Two instruments side by side at one scale."""
    context: dict[str, Any] = {
        "a": a,
        "b": b,
        "answer": None,
        "problem": None,
        "left": None,
        "right": None,
        "pairs": views.known_pairs(desk.reference),
    }
    status = 200
    if a.strip() and b.strip():
        try:
            answer = desk.compare(a, b)
            one, other = (desk.reference.patterns[answer[k]["id"]] for k in ("a", "b"))
            context |= {
                "answer": answer,
                "left": figures(one, beside=other, key="left"),
                "right": figures(other, beside=one, key="right"),
                "one": one,
                "other": other,
            }
        except EtuiError as error:
            context["problem"] = views.told(error)
            status = error.status
    elif a.strip() or b.strip():
        context["problem"] = {"detail": "Name both instruments.", "nearest": ()}
    return render(request, "compare.html", context, status)


@router.get("/about")
def about(request: Request, desk: TheDesk) -> HTMLResponse:
    """What this is, how it answers, and its limits."""
    reference = desk.reference
    known: dict[str, int] = {}
    for one in reference.steps.values():
        for judgement in one.judgements:
            known[judgement.how_known] = known.get(judgement.how_known, 0) + 1
    return render(
        request,
        "about.html",
        {
            "counts": (
                len(reference.patterns),
                len(reference.procedures),
                len(reference.steps),
                sum(known.values()),
            ),
            "known": sorted(known.items()),
            "reference_version": reference.version,
        },
    )


@router.get("/problems")
def problems(request: Request) -> HTMLResponse:
    """What each kind of error means."""
    return render(request, "problems.html", {"kinds": sorted(KINDS.items())})


@router.get("/favicon.ico")
def favicon() -> RedirectResponse:
    """Browsers ask for this by themselves."""
    return RedirectResponse("/static/mark.svg", status_code=308)
