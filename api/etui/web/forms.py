"""Pages that ask and answer: a stand-in, a tray, a composition."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, File, Form, Query, Request, UploadFile
from starlette.responses import HTMLResponse

from etui.errors import BadInput, EtuiError
from etui.web import views
from etui.web.api import TheDesk
from etui.web.desk import Desk
from etui.web.render import render
from etui.web.report import check_view, compose_view

router = APIRouter()
Field_ = Annotated[str, Query(max_length=500)]
MAX_TEXT = 200_000
"""Longest pasted list (characters)."""


def _choices(desk: Desk) -> list[tuple[str, str]]:
    return sorted(
        ((p.id, p.name) for p in desk.reference.procedures.values()), key=lambda c: c[1].casefold()
    )


@router.get("/")
def ask(
    request: Request,
    desk: TheDesk,
    procedure: Field_ = "",
    step: Field_ = "",
    missing: Field_ = "",
    candidate: Field_ = "",
) -> HTMLResponse:
    """Ask for a stand-in; the question is in the address, so that an answer can be kept or sent."""
    asked = {
        "procedure": procedure.strip(),
        "step": step.strip(),
        "missing": missing.strip(),
        "candidate": candidate.strip(),
    }
    context: dict[str, Any] = {
        "asked": asked,
        "answer": None,
        "problem": None,
        "procedures": _choices(desk),
        "steps": _steps_of(desk, asked["procedure"]),
        "step_page": None,
    }
    status = 200
    if asked["step"] or asked["candidate"] or asked["missing"]:
        try:
            answer = desk.replace({k: v for k, v in asked.items() if v})
            context["answer"] = answer
            context["unresolved"] = views.unresolved(desk, answer["unresolved"])
            found = desk.reference.steps.get(answer["step"]["id"] or "")
            if found is not None:
                context["step_page"] = (
                    f"/procedures/{found.procedure}/steps/{found.id.partition('/')[2]}",
                    desk.reference.procedures[found.procedure].name,
                )
            context["known_ids"] = desk.reference.patterns
            context["hazards"] = {
                t.name: t.definition for t in desk.reference.terms.get("hazard", {}).values()
            }
        except EtuiError as error:
            context["problem"], status = views.told(error), error.status
    elif asked["procedure"]:
        context["problem"] = {"detail": "Say which step, e.g. “close the skin”.", "nearest": ()}
    return render(request, "ask.html", context, status)


def _steps_of(desk: Desk, text: str) -> list[str]:
    """Names of the steps of a procedure, offered while typing."""
    reference = desk.reference
    for procedure in reference.procedures.values():
        if text and text.casefold() in (procedure.id, procedure.name.casefold()):
            return [reference.steps[s].name for s in procedure.steps]
    return []


@router.get("/check")
def check_form(request: Request, desk: TheDesk, procedure: Field_ = "") -> HTMLResponse:
    """The form to check a tray."""
    return render(
        request,
        "check.html",
        {
            "procedures": _choices(desk),
            "chosen": [procedure] if procedure else [],
            "text": "",
            "operator": "",
            "alongside": "",
            "report": None,
            "problem": None,
            "title": "",
        },
    )


@router.post("/check")
def check(
    request: Request,
    desk: TheDesk,
    text: Annotated[str, Form(max_length=MAX_TEXT)] = "",
    title: Annotated[str, Form(max_length=300)] = "",
    procedure: Annotated[list[str] | None, Form(max_length=30)] = None,
    operator: Annotated[str, Form(max_length=300)] = "",
    alongside: Annotated[str, Form(max_length=20_000)] = "",
    file: Annotated[UploadFile | None, File()] = None,
) -> HTMLResponse:
    """Check a pasted or uploaded list."""
    chosen = [p for p in procedure or [] if p]
    context: dict[str, Any] = {
        "procedures": _choices(desk),
        "chosen": chosen,
        "text": text,
        "operator": operator,
        "alongside": alongside,
        "report": None,
        "problem": None,
        "title": title,
    }
    status = 200
    try:
        content, name = text.encode(), "pasted list"
        if file is not None and file.filename:
            content, name = file.file.read(), file.filename.rsplit("/", 1)[-1][:120]
        elif not text.strip():
            raise BadInput("There is no list.", mend="Paste one, or choose a file.")
        context["report"] = check_view(
            desk, content, name, chosen, title=title, operator=operator, alongside=alongside
        )
    except EtuiError as error:
        context["problem"], status = views.told(error), error.status
    return render(request, "check.html", context, status)


@router.get("/compose")
def compose_form(request: Request, desk: TheDesk) -> HTMLResponse:
    """The form to compose a tray."""
    return render(
        request,
        "compose.html",
        {
            "procedures": _choices(desk),
            "chosen": [],
            "stock": "",
            "operator": "",
            "constraints": "",
            "result": None,
            "problem": None,
        },
    )


@router.post("/compose")
def compose(
    request: Request,
    desk: TheDesk,
    stock: Annotated[str, Form(max_length=MAX_TEXT)] = "",
    procedure: Annotated[list[str] | None, Form(max_length=10)] = None,
    operator: Annotated[str, Form(max_length=300)] = "",
    constraints: Annotated[str, Form(max_length=1000)] = "",
    file: Annotated[UploadFile | None, File()] = None,
) -> HTMLResponse:
    """Compose a tray from a pasted or uploaded stock."""
    chosen = [p for p in procedure or [] if p]
    context: dict[str, Any] = {
        "procedures": _choices(desk),
        "chosen": chosen,
        "stock": stock,
        "operator": operator,
        "constraints": constraints,
        "result": None,
        "problem": None,
    }
    status = 200
    try:
        content, name = stock.encode(), "pasted stock"
        if file is not None and file.filename:
            content, name = file.file.read(), file.filename.rsplit("/", 1)[-1][:120]
        elif not stock.strip():
            raise BadInput("There is no stock.", mend="Paste one, or choose a file.")
        if not chosen:
            raise BadInput("No procedure is chosen.", mend="Choose at least one.")
        context["result"] = compose_view(
            desk, content, name, chosen, operator=operator, constraints=constraints
        )
    except EtuiError as error:
        context["problem"], status = views.told(error), error.status
    return render(request, "compose.html", context, status)
