"""Which pieces of a tray are free while one step is done.

A clamp that holds the drain shut is not free for something else.  When each step's piece is put
down again is worked out where trays are judged (:mod:`etui.trays`); here that timeline is asked
for one moment.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from etui.knowledge.model import Reference, Step

if TYPE_CHECKING:
    from etui.judging.engine import Judge


def held_at(
    lines: Sequence[tuple[str, int | None]],
    step: Step,
    *,
    reference: Reference,
    reader: Any,
    judge: Judge,
) -> Counter[str]:
    """Pieces (pattern id -> how many) that earlier steps still hold while *step* is done.

    Args:
        lines: (text, count) of the tray as written; a count of None is in the text.
        step: The step of the moment; its own piece is not counted.
        reference: The loaded graph.
        reader: The line reader, as trays use it.
        judge: Grades candidates.
    """
    from etui.trays import Line, Tray, check_fully

    tray = Tray(
        title="tray",
        procedures=(step.procedure,),
        contents=tuple(Line(text=text, qty=count) for text, count in lines),
    )
    report = check_fully(
        tray, reference=reference, reader=reader, judge=judge, details=False
    ).report
    held: Counter[str] = Counter()
    for moment in report.timeline:
        if moment.step == step.id:
            for _, pieces in moment.held:
                held.update(_pattern(key) for key in pieces)
    return held


def free_pieces(
    lines: Sequence[tuple[str, int | None]],
    step: Step,
    *,
    reference: Reference,
    reader: Any,
    judge: Judge,
) -> dict[str, int]:
    """Pieces of the tray (pattern id -> how many) that are free while *step* is done."""
    held = held_at(lines, step, reference=reference, reader=reader, judge=judge)
    have: Counter[str] = Counter()
    for text, count in lines:
        for at, item in enumerate(reader.read(text).items):
            if item.pattern is None or item.quantity == 0:
                continue
            stated = count if at == 0 and count is not None else item.quantity
            have[item.pattern] += stated if stated is not None else 1
    return {
        id_: count - held.get(id_, 0)
        for id_, count in sorted(have.items())
        if count > held.get(id_, 0)
    }


def _pattern(key: str) -> str:
    """The pattern of a piece's key; what the line says of the piece follows a tilde."""
    return key.partition("~")[0]
