"""Which pieces of a tray are free while one step is done.

A clamp that holds the drain shut is not free for something else.  Every earlier step whose piece
stays in place until a later one takes the best piece of the tray for it; what several would do
equally well is taken where it is missed least.  That a hand could hold instead is left out here:
who asks for a stand-in needs the hand as well.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from etui.judging.model import Candidate, Piece
from etui.knowledge.model import GRADES, USABLE, Reference, Step

if TYPE_CHECKING:
    from etui.judging.engine import Judge


def holding_steps(reference: Reference, step: Step) -> tuple[Step, ...]:
    """Earlier essential steps whose piece is still in place while *step* is done."""
    procedure = reference.procedures.get(step.procedure)
    if procedure is None:
        return ()
    shared = set(step.approaches)
    out = []
    for id_ in procedure.steps:
        earlier = reference.steps[id_]
        if earlier.order >= step.order or earlier.need != "essential":
            continue
        if earlier.stays_in_until is None:
            continue
        if shared and earlier.approaches and not shared & set(earlier.approaches):
            continue
        end = reference.steps.get(earlier.stays_in_until)
        if end is None or step.order <= end.order:
            out.append(earlier)
    return tuple(sorted(out, key=lambda s: (s.order, s.id)))


def held_at(
    have: Mapping[str, int], step: Step, *, reference: Reference, judge: Judge
) -> Counter[str]:
    """Pieces (pattern id -> how many) that earlier steps hold while *step* is done.

    Args:
        have: What the tray holds: pattern id -> how many.
        step: The step of the moment; its own piece is not counted.
        reference: The loaded graph.
        judge: Grades candidates.
    """
    left = Counter(have)
    held: Counter[str] = Counter()

    def rank(at: Step, id_: str) -> int:
        grade = judge.judge(at.id, Candidate(pieces=(Piece(id=id_),))).grade
        return GRADES.index(grade) if grade in USABLE else len(GRADES)

    wanted_now = {id_: rank(step, id_) for id_ in have}
    for earlier in holding_steps(reference, step):
        ranks = {id_: rank(earlier, id_) for id_ in have}
        for _ in range(max(1, earlier.pieces_together)):
            able = [id_ for id_ in have if left[id_] > 0 and ranks[id_] < len(GRADES)]
            if not able:
                break
            # Best for the earlier step; then what serves now least; then what there is most of.
            chosen = min(able, key=lambda i: (ranks[i], -wanted_now[i], -left[i], i))
            left[chosen] -= 1
            held[chosen] += 1
    return held


def free_pieces(
    have: Mapping[str, int], step: Step, *, reference: Reference, judge: Judge
) -> dict[str, int]:
    """Pieces of the tray (pattern id -> how many) that are free while *step* is done."""
    held = held_at(have, step, reference=reference, judge=judge)
    return {id_: n - held[id_] for id_, n in sorted(have.items()) if n > held[id_]}


def counts(lines: Sequence[tuple[Sequence[Piece], int | None]]) -> Counter[str]:
    """Pieces of read lines, counted; a count beside the line holds for its first piece."""
    have: Counter[str] = Counter()
    for pieces, count in lines:
        for at, piece in enumerate(pieces):
            have[piece.id] += count if at == 0 and count is not None else max(piece.count, 1)
    return have
