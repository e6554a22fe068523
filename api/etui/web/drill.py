"""Practice in telling look-alikes apart: two drawings without names, one question."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse

from etui.drawing import figures
from etui.web import views
from etui.web.api import TheDesk
from etui.web.desk import Desk
from etui.web.render import render

router = APIRouter()

_SPREAD = 2654435761
"""A large odd number: neighbouring questions get pairs that lie far apart."""


def askable(desk: Desk) -> list[tuple[str, str]]:
    """Pairs that are stated to be confused, look alike, and whose drawings differ."""
    from etui.judging.likeness import resemblance

    reference = desk.reference
    pairs = []
    for a, _, b, _ in views.known_pairs(reference):
        one, other = reference.patterns[a], reference.patterns[b]
        if not (desk.is_drawn(a) and desk.is_drawn(b)) or resemblance(one, other) == "low":
            continue
        # Without names, so that only what is drawn can make the difference.
        left, right = (figures(p, nameless="piece", key="k") for p in (one, other))
        if left and right and (left.whole, left.tip) != (right.whole, right.tip):
            pairs.append((a, b))
    return pairs


@router.get("/drill")
def drill(
    request: Request,
    desk: TheDesk,
    n: Annotated[int, Query(ge=1, le=1_000_000)] = 1,
    answer: Annotated[Literal["first", "second"] | None, Query()] = None,
) -> HTMLResponse:
    """One question; the same number is always the same question, so it can be shared."""
    pairs = desk.once("drill-pairs", lambda: askable(desk))
    seed = n * _SPREAD
    a, b = pairs[(seed >> 8) % len(pairs)]
    if seed >> 5 & 1:
        a, b = b, a
    right_side: Literal["first", "second"] = "first" if seed >> 6 & 1 else "second"
    reference = desk.reference
    one, other = reference.patterns[a], reference.patterns[b]
    named = answer is not None
    sides: list[dict[str, Any]] = []
    for side, pattern, beside in (("first", one, other), ("second", other, one)):
        sides.append(
            {
                "side": side,
                "name": pattern.name,
                "id": pattern.id,
                "figure": figures(
                    pattern,
                    beside=beside,
                    key=side,
                    nameless=None if named else f"The {side} drawing",
                ),
            }
        )
    asked = one if right_side == "first" else other
    told = desk.compare(a, b) if named else None
    return render(
        request,
        "drill.html",
        {
            "n": n,
            "asked": asked.name,
            "sides": sides,
            "answer": answer,
            "right_side": right_side,
            "told": told,
            "count": len(pairs),
        },
    )
