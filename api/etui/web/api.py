"""The JSON interface: the machine contract over HTTP, read-only."""

from __future__ import annotations

import re
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, File, Path, Query, Request, Response, UploadFile
from fastapi.responses import JSONResponse

from etui import __version__
from etui.drawing import draw
from etui.errors import UnknownTerm
from etui.trays.model import Stock, Tray
from etui.web import models, turtle
from etui.web.desk import Desk
from etui.web.problems import responses
from etui.web.words import LIMITS

router = APIRouter(prefix="/api")


def desk_of(request: Request) -> Desk:
    """The desk of this application."""
    desk: Desk = request.app.state.desk
    return desk


TheDesk = Annotated[Desk, Depends(desk_of)]
Id = Annotated[str, Path(max_length=120, description="Short id, e.g. haemostat-crile.")]
Format = Annotated[
    Literal["json", "ttl"] | None,
    Query(description="Form of the answer; overrules the Accept header."),
]
TURTLE_TOO: dict[int | str, dict[str, Any]] = {
    200: {
        "content": {turtle.MEDIA_TYPE: {"schema": {"type": "string"}}},
        "description": "JSON, or Turtle when asked for.",
    },
}


# -- questions --------------------------------------------------------------------------------
@router.post(
    "/read", response_model=models.ReadAnswer, tags=["questions"], responses=responses(413, 422)
)
def read(asked: models.ReadAsked, desk: TheDesk) -> dict[str, Any]:
    """Say what one line of a count sheet names."""
    return desk.read(asked.text)


@router.post(
    "/replace",
    response_model=models.ReplaceAnswer,
    tags=["questions"],
    responses=responses(413, 422),
)
def replace(asked: models.ReplaceAsked, desk: TheDesk) -> dict[str, Any]:
    """Grade a stand-in for one step, or list what can stand in when no candidate is named."""
    return desk.replace(asked.model_dump(exclude_none=True))


@router.post(
    "/check",
    response_model=models.CheckAnswer,
    tags=["questions"],
    responses=TURTLE_TOO | responses(404, 413, 422),
)
def check(
    request: Request, asked: models.CheckAsked, desk: TheDesk, format: Format = None
) -> Response:
    """Say whether a tray, as it is written, does its procedures.

    As Turtle the answer is a SHACL validation report.
    """
    from etui.exchange import stock_from, tray_from

    data = asked.model_dump(exclude_none=True)
    stock = stock_from(data, file="request") if asked.stock else None
    tray = desk.with_procedures(tray_from(data, file="request"), "request")
    return _checked(request, desk, tray, stock, format)


@router.post(
    "/check/file",
    response_model=models.CheckAnswer,
    tags=["questions"],
    responses=TURTLE_TOO | responses(404, 413, 422),
)
def check_file(
    request: Request,
    desk: TheDesk,
    file: Annotated[UploadFile, File(description="CSV, TSV, XLSX, ODS, text, JSON or Turtle.")],
    procedures: Annotated[list[models.Words], Query(max_length=30)] = [],  # noqa: B006
    operator: Annotated[models.Words | None, Query()] = None,
    format: Format = None,
) -> Response:
    """Say whether the tray in a file does its procedures."""
    from msgspec import structs

    name = (file.filename or "upload").replace("\\", "/").rsplit("/", 1)[-1][:120]
    tray, taken = desk.open_tray(file.file.read(), name, procedures)
    if operator:
        tray = structs.replace(tray, operator=operator)
    tray = desk.with_procedures(tray, name)
    return _checked(request, desk, tray, None, format, read=list(taken.how()))


def _checked(
    request: Request,
    desk: Desk,
    tray: Tray,
    stock: Stock | None,
    format_: str | None,
    **more: Any,
) -> Response:
    if turtle.wanted(request, format_):
        body = desk.check_graph(tray, stock).serialize(format="turtle")
        return Response(body, media_type=turtle.MEDIA_TYPE, headers={"Vary": "Accept"})
    answer = desk.report_json(desk.check(tray, stock)) | more
    checked = models.CheckAnswer.model_validate(answer).model_dump(by_alias=True)
    return JSONResponse(checked, headers={"Vary": "Accept"})


@router.post(
    "/compose",
    response_model=models.ComposeAnswer,
    tags=["questions"],
    responses=responses(404, 413, 422),
)
def compose(asked: models.ComposeAsked, desk: TheDesk) -> dict[str, Any]:
    """Choose the shortest fit tray from a stock, or say what to obtain first."""
    return desk.compose(asked.model_dump(exclude_none=True))


@router.post(
    "/compare",
    response_model=models.CompareAnswer,
    tags=["questions"],
    responses=responses(404, 413, 422),
)
def compare(asked: models.CompareAsked, desk: TheDesk) -> dict[str, Any]:
    """Tell two instruments apart, and say what happens if they are swapped."""
    return desk.compare(asked.a, asked.b)


# -- browsing ---------------------------------------------------------------------------------
@router.get("", response_model=models.About, tags=["browse"])
def about(desk: TheDesk) -> dict[str, Any]:
    """What this server holds, its version and its limits."""
    reference = desk.reference
    return {
        "name": "Etui",
        "version": __version__,
        "reference": reference.version,
        "instruments": len(reference.patterns),
        "procedures": len(reference.procedures),
        "steps": len(reference.steps),
        "limits": LIMITS,
        "openapi": "/api/openapi.json",
    }


@router.get(
    "/instruments",
    response_model=models.InstrumentList,
    tags=["browse"],
    responses=responses(404, 422),
)
def instruments(
    desk: TheDesk,
    q: Annotated[models.Words, Query(description="Part of a name; every word must occur.")] = "",
    family: Annotated[models.Words | None, Query(description="Id of a family.")] = None,
    limit: Annotated[int, Query(ge=1, le=1000)] = 100,
    offset: Annotated[int, Query(ge=0, le=100_000)] = 0,
) -> dict[str, Any]:
    """List instruments by name."""
    families = desk.reference.terms.get("family", {})
    if family is not None and family not in families:
        raise UnknownTerm(
            f'There is no family "{family[:80]}".',
            nearest=tuple((t.id, t.name) for t in list(families.values())[:4]),
        )
    found = search(desk, q, family)
    rows = [
        {
            "id": p.id,
            "name": p.name,
            "definition": p.definition,
            "family": {
                "id": p.family,
                "name": families[p.family].name if p.family in families else p.family,
            },
        }
        for p in found[offset : offset + limit]
    ]
    return {"total": len(found), "offset": offset, "items": rows}


def search(desk: Desk, q: str, family: str | None = None) -> list[Any]:
    """Patterns whose names or id hold every word of *q*, by name."""
    words = [w for w in re.split(r"[\s,;]+", q.casefold()) if w]

    def matches(pattern: Any) -> bool:
        text = " ".join(
            [pattern.id.replace("-", " "), pattern.id, *(n.text for n in pattern.names)]
        ).casefold()
        return all(w in text for w in words)

    return sorted(
        (
            p
            for p in desk.reference.patterns.values()
            if (family is None or p.family == family) and matches(p)
        ),
        key=lambda p: (p.name.casefold(), p.id),
    )


@router.get(
    "/instruments/{id}",
    response_model=models.Card,
    tags=["browse"],
    responses=TURTLE_TOO | responses(404, 422),
)
def instrument(request: Request, id: Id, desk: TheDesk, format: Format = None) -> Response:
    """Everything stated about one instrument, as JSON or Turtle."""
    from etui.commands.cards import pattern_card

    pattern = desk.pattern(id)
    return _formed(request, format, pattern.id, lambda: pattern_card(desk.reference, pattern))


@router.get(
    "/instruments/{id}/drawing",
    tags=["browse"],
    response_class=Response,
    responses={
        200: {"content": {"image/svg+xml": {"schema": {"type": "string"}}}},
        **responses(404, 422),
    },
)
def drawing(
    id: Id,
    desk: TheDesk,
    length_mm: Annotated[float | None, Query(ge=5, le=3000, allow_inf_nan=False)] = None,
) -> Response:
    """The line drawing to scale, made from the features."""
    svg = draw(desk.pattern(id), length_mm=length_mm)
    if not svg:
        raise UnknownTerm(f'"{id}" is done by hand; there is nothing to draw.')
    return Response(svg, media_type="image/svg+xml")


@router.get("/procedures", response_model=models.ProcedureList, tags=["browse"])
def procedures(desk: TheDesk) -> dict[str, Any]:
    """List all procedures."""
    rows = sorted(desk.reference.procedures.values(), key=lambda p: (p.name.casefold(), p.id))
    items = [
        {"id": p.id, "name": p.name, "purpose": p.purpose, "steps": len(p.steps)} for p in rows
    ]
    return {"total": len(items), "items": items}


@router.get(
    "/procedures/{id}",
    response_model=models.Card,
    tags=["browse"],
    responses=TURTLE_TOO | responses(404, 422),
)
def procedure(request: Request, id: Id, desk: TheDesk, format: Format = None) -> Response:
    """One procedure: its steps in order with what serves each, as JSON or Turtle."""
    from etui.commands.cards import procedure_card

    one = desk.procedure(id)
    return _formed(request, format, one.id, lambda: procedure_card(desk.reference, one))


@router.get(
    "/steps/{procedure}/{step}",
    response_model=models.Card,
    tags=["browse"],
    responses=TURTLE_TOO | responses(404, 422),
)
def step(
    request: Request, procedure: Id, step: Id, desk: TheDesk, format: Format = None
) -> Response:
    """One step: what it asks, what is stated to serve it and what must not be used."""
    from etui.commands.cards import step_card

    one = desk.step(f"{procedure}/{step}")
    return _formed(request, format, one.id, lambda: step_card(desk.reference, one))


@router.get(
    "/sources/{id}", response_model=models.Card, tags=["browse"], responses=responses(404, 422)
)
def source(id: Id, desk: TheDesk) -> dict[str, Any]:
    """One source and what rests on it."""
    from etui.commands.cards import source_card

    if id not in desk.reference.sources:
        raise UnknownTerm(f'There is no source "{id[:80]}".')
    return source_card(desk.reference, id)


def _formed(request: Request, format_: str | None, id_: str, card: Any) -> Response:
    """JSON unless Turtle is asked for; either way caches must look at Accept."""
    headers = {"Vary": "Accept"}
    if turtle.wanted(request, format_):
        return Response(turtle.about(id_), media_type=turtle.MEDIA_TYPE, headers=headers)
    return JSONResponse(card(), headers=headers)


__all__ = ["TheDesk", "desk_of", "router", "search"]
