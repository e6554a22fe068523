"""Choose the tray: a lexicographic mixed-integer programme, solved exactly with HiGHS.

The aims, most important first (see docs/explanation/composition.md):

1. every essential step is served, by something acceptable rather than by an expedient;
2. the approach nearest to the standard one is taken;
3. essential steps get their first-line instrument;
4. nothing on the tray is reached for, or taken for something else, with harm;
5. essential steps survive the loss of a piece and simultaneous use;
6. conditional steps, then closing steps, are served;
7. fewest pieces;
8. best grades, least likely to be confused (for unpractised hands in the other order).

Each aim is solved to optimality and then held while the next one is solved.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from etui.trays.compose_model import IMPROVISED, PREFERRED, Model
from etui.trays.compose_problem import LevelProof, Plan, Problem
from etui.trays.compose_programme import Terms
from etui.trays.compose_served import served


class _Aimed(Model):
    """The programme with its aims and with its answer read back."""

    # -- aims ----------------------------------------------------------------------------------

    def _missing(self, need: tuple[str, ...], weights: dict[int, float]) -> Terms:
        terms: Terms = {}
        for (index, worst), variable in self.miss.items():
            if self.problem.duties[index].need in need and worst in weights:
                terms[variable] = weights[worst]
        return terms

    def _reserve(self, need: tuple[str, ...]) -> Terms:
        """No reserve after a loss, and too few pieces at once."""
        terms: Terms = {}
        for (index, worst), variable in self.lost.items():
            duty = self.problem.duties[index]
            if duty.need in need:
                weight = 1.0 + duty.spare_asked + duty.drop_prone
                terms[variable] = weight * (2.0 if worst == IMPROVISED else 1.0)
        for index, variable in self.short.items():
            duty = self.problem.duties[index]
            if duty.need in need and not duty.hands_help:
                terms[variable] = 2.0
        return terms

    def _by_hand_only(self, need: tuple[str, ...]) -> Terms:
        """Steps left to hands although there is a first-line instrument for them."""
        return {
            variable: 2.0 if self.problem.duties[index].need == "essential" else 1.0
            for index, variable in self.bare.items()
            if self.problem.duties[index].need in need
        }

    def _second_best(self) -> Terms:
        """Essential steps without their first line; where hands are as good, they do not count."""
        return {
            variable: 1.0
            for (index, worst), variable in self.miss.items()
            if worst == PREFERRED and self.problem.duties[index].need == "essential"
        }

    def _approach_rank(self) -> Terms:
        return {
            variable: float(cost)
            for (procedure, approach), variable in self.approach.items()
            if (cost := self.problem.approach_cost.get(f"{procedure}/{approach}", 0))
        }

    def _danger(self) -> Terms:
        """Pieces that would be reached for and harm, and pairs taken for one another with harm."""
        terms: Terms = dict(self.clash)
        for index, lot in enumerate(self.problem.lots):
            if lot.danger and self.draw[index]:
                terms[self.draw[index][0]] = float(lot.danger)
        return terms

    def aims(self) -> list[tuple[str, Terms]]:
        """(name, terms to minimise), most important first."""
        lots = self.problem.lots
        pieces: Terms = {}
        for index in range(len(lots)):
            pieces |= self.pieces(index)
        grades: Terms = {}
        for need, weight in (("essential", 6.0), ("conditional", 2.0), ("closing", 1.0)):
            for variable, cost in self._missing((need,), {0: 1.0, 1: 2.0}).items():
                grades[variable] = weight * cost
        confusion: Terms = dict.fromkeys(self.like, 3.0)
        for index, lot in enumerate(lots):
            if (lot.burden or lot.harm) and self.draw[index]:
                confusion[self.draw[index][0]] = float(lot.burden + lot.harm)
        last = [("best grades", grades), ("least confusion", confusion)]
        if self.problem.careful_hands:
            last.reverse()
        order: Terms = {}
        for index, levels in enumerate(self.draw):
            order |= dict.fromkeys(levels, float(index + 1))
        return [
            ("essential steps served", self._missing(("essential",), {2: 4.0, 1: 1.0})),
            ("standard approach", self._approach_rank()),
            ("first line for essential steps", self._second_best()),
            ("nothing that harms when reached for", self._danger()),
            ("reserve for essential steps", self._reserve(("essential",))),
            (
                "conditional steps served",
                {
                    **self._missing(("conditional",), {2: 4.0, 1: 2.0}),
                    **self._by_hand_only(("essential", "conditional")),
                    **self._reserve(("conditional",)),
                },
            ),
            (
                "closing steps served",
                {
                    **self._missing(("closing",), {2: 4.0, 1: 2.0}),
                    **self._by_hand_only(("closing",)),
                },
            ),
            ("fewest pieces", pieces),
            *last,
            ("stock order", order),
        ]

    # -- reading the answer --------------------------------------------------------------------

    def plan(self, values: NDArray[np.float64], levels: list[LevelProof]) -> Plan:
        pieces = tuple(
            round(sum(size * round(values[v]) for v, size in self.pieces(lot).items()))
            for lot in range(len(self.problem.lots))
        )
        approaches = {
            procedure: approach
            for (procedure, approach), v in self.approach.items()
            if values[v] > 0.5
        }
        return Plan(
            pieces=pieces,
            approaches=approaches,
            served=served(self.problem, pieces, approaches),
            levels=tuple(levels),
        )


def solve(problem: Problem, *, seconds: float = 20.0) -> Plan:
    """Choose the tray.

    Args:
        problem: what is in stock and what is to be served.
        seconds: limit for each aim; when it is hit the plan carries the bound proven so far.

    Returns:
        The plan; ``feasible`` is False when the hard wishes (required, barred, ceiling) cannot be
        met together.
    """
    model = _Aimed(problem)
    levels: list[LevelProof] = []
    values: NDArray[np.float64] | None = None
    for aim, terms in model.aims():
        if not terms:
            levels.append(LevelProof(aim=aim, value=0.0, bound=0.0, optimal=True))
            continue
        found, value, bound, proven = model.p.solve(terms, seconds)
        if found is None:
            if values is None:
                return Plan(
                    pieces=tuple(0 for _ in problem.lots),
                    approaches={},
                    served=(),
                    levels=(LevelProof(aim=aim, value=value, bound=bound, optimal=proven),),
                    feasible=False,
                )
            levels.append(LevelProof(aim=aim, value=value, bound=bound, optimal=False))
            continue
        values = found
        levels.append(
            LevelProof(aim=aim, value=round(value, 6), bound=round(bound, 6), optimal=proven)
        )
        model.p.hold(terms, value)
    if values is None:
        nothing = tuple(0 for _ in problem.lots)
        return Plan(
            pieces=nothing, approaches={}, served=served(problem, nothing, {}), levels=tuple(levels)
        )
    return model.plan(values, levels)
