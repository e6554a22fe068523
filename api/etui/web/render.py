"""Templates: one environment, the words and marks that all pages share."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fastapi import Request
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from markupsafe import Markup
from starlette.responses import HTMLResponse

from etui import __version__
from etui.web import words

HERE = Path(__file__).parent

environment = Environment(
    loader=FileSystemLoader(HERE / "templates"),
    autoescape=select_autoescape(["html"]),
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
environment.filters["plain"] = words.plain
environment.filters["first_up"] = words.first_up
environment.filters["known"] = words.known
environment.filters["size"] = words.size
environment.filters["svg"] = Markup
environment.globals["GRADES"] = words.GRADE_WORDS
environment.globals["LIMITS"] = words.LIMITS
environment.globals["NEEDS"] = words.NEED_WORDS
environment.globals["version"] = __version__


def render(
    request: Request, template: str, context: dict[str, Any], status: int = 200
) -> HTMLResponse:
    """One page."""
    page = environment.get_template(template).render(path=request.url.path, **context)
    return HTMLResponse(page, status_code=status)
