"""How a given selection serves the steps, worked out without the solver."""

from __future__ import annotations

from etui.knowledge.model import Grade
from etui.trays.compose_problem import RANK, Problem, Served

_ACCEPTABLE = RANK["acceptable"]


def served(
    problem: Problem, pieces: tuple[int, ...], approaches: dict[str, str]
) -> tuple[Served, ...]:
    """How a given selection serves the duties of the given approaches.

    Independent of the solver, so that it also proves the solver's answer.
    """
    whole = [all(pieces[lot] >= n for lot, n in assembly.needs) for assembly in problem.assemblies]

    def stands(assembly: int, lot: int) -> bool:
        return whole[assembly] and all(
            pieces[k] - (1 if k == lot else 0) >= n for k, n in problem.assemblies[assembly].needs
        )

    out = []
    for index, duty in enumerate(problem.duties):
        chosen = approaches.get(duty.procedure)
        if duty.approaches and chosen is not None and chosen not in duty.approaches:
            continue
        if duty.only_with is not None and not any(pieces[lot] for lot in duty.only_with):
            continue
        ways = sorted(
            (w for w in duty.ways if whole[w.assembly]), key=lambda w: (RANK[w.grade], w.assembly)
        )
        grade: Grade | None = ways[0].grade if ways else None
        free = duty.free_grade
        by_hand = free is not None and (grade is None or RANK[free] < RANK[grade])
        best = tuple(w.assembly for w in ways if w.grade == grade)
        fair = [w.assembly for w in ways if RANK[w.grade] <= _ACCEPTABLE]
        reserve = duty.beside if duty.spare_asked else free
        safe = reserve is not None and RANK[reserve] <= _ACCEPTABLE
        lots = {lot for a in fair for lot in problem.assemblies[a].lots}
        lossy = (
            duty.hinge
            and not safe
            and (not fair or any(not any(stands(a, lot) for a in fair) for lot in lots))
        )
        out.append(
            Served(
                duty=index,
                grade=free if by_hand else grade,
                by=best,
                by_hand=by_hand,
                no_spare=bool(ways) and lossy,
            )
        )
    return tuple(out)
