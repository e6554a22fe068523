"""The application: routers, errors, guard, static files."""

from __future__ import annotations

import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles

from etui import __version__
from etui.web import api, browse, drill, forms
from etui.web.desk import Desk
from etui.web.guard import MAX_BODY, Guard
from etui.web.problems import Problem, add_handlers
from etui.web.words import LIMITS


@asynccontextmanager
async def _warm(app: FastAPI) -> AsyncIterator[None]:
    """Make the engines beside the first requests, so that the first question does not wait."""
    threading.Thread(target=app.state.desk.warm, name="etui-warm", daemon=True).start()
    yield


def create_app(desk: Desk | None = None, *, max_body: int = MAX_BODY) -> FastAPI:
    """The server as an ASGI application.

    It keeps nothing of what it is sent: no session, no log of bodies, no file is written.

    Args:
        desk: The engines; a desk with the reference of the package when absent.
        max_body: Largest request body that is taken (bytes).
    """
    app = FastAPI(
        title="Etui",
        version=__version__,
        description=LIMITS,
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
        lifespan=_warm,
    )
    app.state.desk = desk or Desk()
    add_handlers(app)
    app.include_router(api.router)
    app.include_router(forms.router, include_in_schema=False)
    app.include_router(browse.router, include_in_schema=False)
    app.include_router(drill.router, include_in_schema=False)
    app.mount("/static", StaticFiles(directory=Path(__file__).parent / "static"), name="static")
    app.add_middleware(Guard, max_body=max_body)
    _declare(app)
    return app


def _declare(app: FastAPI) -> None:
    """Make OpenAPI say what is true: the problem body, for every error."""
    usual = app.openapi

    def openapi() -> dict[str, Any]:
        if app.openapi_schema is None:
            schema = usual()
            parts = schema["components"]["schemas"]
            parts.update(_problem_schemas())
            for path in schema["paths"].values():
                for operation in path.values():
                    for status, answer in operation["responses"].items():
                        if status.startswith(("4", "5")):
                            answer["content"] = {
                                "application/problem+json": {
                                    "schema": {"$ref": "#/components/schemas/Problem"}
                                }
                            }
            parts.pop("HTTPValidationError", None)
            parts.pop("ValidationError", None)
            app.openapi_schema = schema
        return app.openapi_schema

    app.openapi = openapi  # type: ignore[method-assign]


def _problem_schemas() -> dict[str, Any]:
    schema = Problem.model_json_schema(ref_template="#/components/schemas/{model}")
    return {**schema.pop("$defs", {}), "Problem": schema}
