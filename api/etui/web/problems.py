"""One body for every error: RFC 9457 problem details.

Programs get ``application/problem+json``; a browser that asks for a page gets the same words as a
page.  No error shows a traceback.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, Response
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from etui.errors import EtuiError, UnknownTerm
from etui.web.guard import HEADERS

log = logging.getLogger("etui.web")

MEDIA_TYPE = "application/problem+json"

KINDS: dict[int, tuple[str, str]] = {
    400: ("bad-request", "The request could not be carried out"),
    404: ("not-in-the-reference", "Not in the reference"),
    405: ("method-not-allowed", "This address does not take that method"),
    406: ("not-acceptable", "This address does not have that form"),
    413: ("too-large", "The request is too large"),
    415: ("unsupported-media-type", "This kind of content is not taken"),
    422: ("input-not-taken", "The input could not be taken"),
    500: ("internal-error", "The server failed"),
    503: ("not-ready", "The server is not ready for this"),
}
"""Status -> (code, title) of a problem."""


class Nearest(BaseModel):
    """A thing that may have been meant."""

    id: str
    name: str


class Fault(BaseModel):
    """One place of the input that cannot be taken."""

    where: str = Field(description="Path in the body, or name of the parameter.")
    what: str


class Problem(BaseModel):
    """The one body that every error answer has (RFC 9457)."""

    type: str = Field(description="Address of the explanation of this kind of problem.")
    title: str
    status: int
    detail: str = Field(description="What is wrong, where, and how to mend it, in one line.")
    instance: str = Field(description="The address that was asked.")
    nearest: list[Nearest] = Field(default=[], description="For 404: what may have been meant.")
    errors: list[Fault] = Field(default=[], description="For 422: each place that is wrong.")


def problem_of(
    request: Request,
    status: int,
    detail: str,
    *,
    title: str | None = None,
    nearest: Sequence[tuple[str, str]] = (),
    errors: Sequence[tuple[str, str]] = (),
) -> Problem:
    """The problem body for one request."""
    code, usual = KINDS.get(status, (f"status-{status}", HTTPStatus(status).phrase))
    return Problem(
        type=f"/problems#{code}",
        title=title or usual,
        status=status,
        detail=detail,
        instance=request.url.path,
        nearest=[Nearest(id=i, name=n) for i, n in nearest],
        errors=[Fault(where=w, what=t) for w, t in errors],
    )


def answer(request: Request, problem: Problem, headers: dict[str, str] | None = None) -> Response:
    """The problem as JSON, or as a page for a browser that asked for a page."""
    path = request.url.path
    if not path.startswith("/api"):
        # Pages say the same as a page or as JSON, whichever is asked for.
        headers = {**(headers or {}), "Vary": "Accept"}
    accepts = request.headers.get("accept", "")
    if not path.startswith("/api") and "text/html" in accepts:
        from etui.web.render import render

        page = render(request, "problem.html", {"problem": problem}).body
        return HTMLResponse(bytes(page), status_code=problem.status, headers=headers)
    return JSONResponse(
        problem.model_dump(), status_code=problem.status, media_type=MEDIA_TYPE, headers=headers
    )


def of_error(request: Request, error: EtuiError) -> Problem:
    """The problem body of one of Etui's own errors."""
    nearest = error.nearest if isinstance(error, UnknownTerm) else ()
    return problem_of(request, error.status, error.line, title=error.title, nearest=nearest)


def add_handlers(app: FastAPI) -> None:
    """Answer every error with the one body."""

    @app.exception_handler(EtuiError)
    async def _etui(request: Request, error: EtuiError) -> Response:
        return answer(request, of_error(request, error))

    @app.exception_handler(RequestValidationError)
    async def _invalid(request: Request, error: RequestValidationError) -> Response:
        faults = [(_place(e), _sentence(e)) for e in error.errors()]
        first = f"{faults[0][0]}: {faults[0][1]}" if faults else "the input could not be taken"
        more = f" ({len(faults) - 1} further)" if len(faults) > 1 else ""
        return answer(request, problem_of(request, 422, first + more, errors=faults))

    @app.exception_handler(HTTPException)
    async def _http(request: Request, error: HTTPException) -> Response:
        detail, status = str(error.detail), error.status_code
        if status == 400:
            # The framework's word for a body that it cannot take apart (nested too deep, cut
            # off): to a caller the same as any other bad body.
            detail, status = f"body: it cannot be read ({detail[:1].lower()}{detail[1:]}).", 422
        elif status == 404 and detail == "Not Found":
            detail = "There is nothing at this address."
        elif status == 405:
            detail = f"{request.method} is not taken here; the server is read-only."
        headers = dict(error.headers) if error.headers else None
        return answer(request, problem_of(request, status, detail), headers)

    @app.exception_handler(Exception)
    async def _failed(request: Request, error: Exception) -> Response:
        log.exception("request failed: %s", request.url.path, exc_info=error)
        # This answer is made outside all middleware, so it brings the safe headers itself.
        return answer(
            request,
            problem_of(request, 500, "An error inside the server; it was logged there."),
            dict(HEADERS),
        )


def _place(error: Any) -> str:
    parts = [str(p) for p in error.get("loc", ())]
    return ".".join(parts) or "request"


def _sentence(error: Any) -> str:
    text = str(error.get("msg", "cannot be taken")).removeprefix("Value error, ")
    return text[:1].lower() + text[1:]


def responses(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """The declaration of error answers for OpenAPI."""
    return {
        status: {
            "model": Problem,
            "description": KINDS[status][1],
            "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
        }
        for status in statuses
    }
