"""Choose the tray: a lexicographic mixed-integer programme, solved exactly with HiGHS.

The aims, most important first (see docs/explanation/composition.md):

1. every essential step is served, by something acceptable rather than by an expedient;
2. the approach nearest to the standard one is taken;
3. essential steps get their first-line instrument;
4. nothing on the tray is taken for something else with harm;
5. essential steps survive the loss of a piece and simultaneous use;
6. conditional steps, then closing steps, are served;
7. fewest pieces;
8. best grades, least likely to be confused (for unpractised hands in the other order).

Each aim is solved to optimality and then held while the next one is solved.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from etui.knowledge.model import Grade
from etui.trays.compose_problem import (
    RANK,
    Duty,
    LevelProof,
    Plan,
    Problem,
    Served,
)

Terms = dict[int, float]

_IMPROVISED, _ACCEPTABLE, _PREFERRED = RANK["improvised"], RANK["acceptable"], RANK["preferred"]


class _Programme:
    """Variables and rows of the programme as they are laid down."""

    def __init__(self) -> None:
        self.upper: list[float] = []
        self.integer: list[int] = []
        self.rows: list[tuple[Terms, float, float]] = []

    def variable(self, *, upper: float = 1.0, integer: bool = False) -> int:
        self.upper.append(upper)
        self.integer.append(1 if integer else 0)
        return len(self.upper) - 1

    def row(self, terms: Terms, low: float = -np.inf, high: float = np.inf) -> None:
        self.rows.append((terms, low, high))

    def hold(self, aim: Terms, value: float) -> None:
        """Keep *aim* at the value reached; at nought each of its variables is shut."""
        if value < 0.5 and all(weight > 0 for weight in aim.values()):
            for variable in aim:
                self.upper[variable] = 0.0
        else:
            # weights are whole numbers, so that this slack never lets a worse value in
            self.row(dict(aim), high=value + 1e-3)

    def solve(
        self, aim: Terms, seconds: float
    ) -> tuple[NDArray[np.float64] | None, float, float, bool]:
        """Minimise *aim*; returns (values or None, value, bound, proven)."""
        width = len(self.upper)
        cost = np.zeros(width)
        for index, weight in aim.items():
            cost[index] = weight
        data, cols, ptr = [], [], [0]
        for terms, _, _ in self.rows:
            for index in sorted(terms):
                cols.append(index)
                data.append(terms[index])
            ptr.append(len(cols))
        matrix = csr_array(
            (np.array(data, dtype=float), np.array(cols, dtype=np.int32), np.array(ptr)),
            shape=(len(self.rows), width),
        )
        result = milp(
            cost,
            integrality=np.array(self.integer),
            bounds=Bounds(np.zeros(width), np.array(self.upper)),
            constraints=LinearConstraint(
                matrix, [low for _, low, _ in self.rows], [high for _, _, high in self.rows]
            ),
            options={"time_limit": seconds, "mip_rel_gap": 0.0},
        )
        if result.x is None:
            return None, math.inf, math.inf, result.status == 2
        bound = result.mip_dual_bound
        return (
            result.x,
            float(result.fun),
            float(bound if bound is not None else result.fun),
            (result.status == 0),
        )


class _Model:
    """The programme of one problem, with the names of its variables."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.p = _Programme()
        self._lots()
        self._assemblies()
        self._approaches()
        self.miss: dict[tuple[int, int], int] = {}
        self.lost: dict[tuple[int, int], int] = {}
        self.short: dict[int, int] = {}
        self.bare: dict[int, int] = {}
        for index, duty in enumerate(problem.duties):
            self._coverage(index, duty)
            if duty.hinge:
                self._loss(index, duty)
        self._simultaneous()
        self._pairs()
        self._limits()

    # -- what is drawn -------------------------------------------------------------------------

    def _lots(self) -> None:
        need = [0] * len(self.problem.lots)
        for duty in self.problem.duties:
            for way in duty.ways:
                for lot, n in self.problem.assemblies[way.assembly].needs:
                    need[lot] = max(need[lot], n * duty.together + 1)
        for moment in self.problem.moments:
            total = [0] * len(self.problem.lots)
            for index in moment:
                duty = self.problem.duties[index]
                most: dict[int, int] = {}
                for way in duty.ways:
                    for lot, n in self.problem.assemblies[way.assembly].needs:
                        most[lot] = max(most.get(lot, 0), n * duty.together)
                for lot, n in most.items():
                    total[lot] += n
            need = [max(a, b) for a, b in zip(need, total, strict=True)]
        self.draw: list[list[int]] = []
        for item, uses in zip(self.problem.lots, need, strict=True):
            wanted = min(item.count, max(uses, item.required))
            steps = 0 if item.barred else math.ceil(wanted / item.pack)
            levels = [self.p.variable(integer=True) for _ in range(steps)]
            for lower, higher in pairwise(levels):
                self.p.row({higher: 1.0, lower: -1.0}, high=0.0)
            self.draw.append(levels)

    def _size(self, lot: int, level: int) -> int:
        """Pieces that the level-th pack of a lot adds (the last pack may be short)."""
        item = self.problem.lots[lot]
        return min(item.pack, item.count - level * item.pack)

    def pieces(self, lot: int) -> Terms:
        """Pieces drawn of one lot."""
        return {v: float(self._size(lot, i)) for i, v in enumerate(self.draw[lot])}

    def _at_least(self, lot: int, n: int) -> int | None:
        """The variable that is 1 when at least *n* pieces of *lot* are drawn, or None."""
        level = math.ceil(n / self.problem.lots[lot].pack) - 1
        if n > self.problem.lots[lot].count or level >= len(self.draw[lot]):
            return None
        return self.draw[lot][level]

    def _assemblies(self) -> None:
        self.ready: list[int | None] = []
        for assembly in self.problem.assemblies:
            gates = [self._at_least(lot, n) for lot, n in assembly.needs]
            if any(gate is None for gate in gates):
                self.ready.append(None)
                continue
            if len(gates) == 1:
                self.ready.append(gates[0])
                continue
            ready = self.p.variable()
            for gate in gates:
                if gate is not None:
                    self.p.row({ready: 1.0, gate: -1.0}, high=0.0)
            self.ready.append(ready)

    def _spared(self, assembly: int, lot: int) -> int | None:
        """The variable that is 1 when *assembly* still stands after losing a piece of *lot*."""
        key = (assembly, lot)
        if key not in self._spare:
            item = self.problem.assemblies[assembly]
            gate, ready = self._at_least(lot, item.needed(lot) + 1), self.ready[assembly]
            if gate is None or ready is None:
                self._spare[key] = None
            elif len(item.needs) == 1:
                self._spare[key] = gate
            else:
                spare = self.p.variable()
                self.p.row({spare: 1.0, gate: -1.0}, high=0.0)
                self.p.row({spare: 1.0, ready: -1.0}, high=0.0)
                self._spare[key] = spare
        return self._spare[key]

    _spare: dict[tuple[int, int], int | None]

    def _approaches(self) -> None:
        self._spare = {}
        self.approach: dict[tuple[str, str], int] = {}
        for procedure, ids in sorted(self.problem.approaches.items()):
            if not ids:
                continue
            chosen = [self.p.variable(integer=True) for _ in ids]
            self.approach.update({(procedure, id_): v for id_, v in zip(ids, chosen, strict=True)})
            self.p.row(dict.fromkeys(chosen, 1.0), 1.0, 1.0)

    def _active(self, duty: Duty) -> tuple[Terms, float]:
        """Whether the chosen approach has this duty and it arises: (terms, constant)."""
        ids = [self.approach.get((duty.procedure, a)) for a in duty.approaches]
        found: Terms = {v: 1.0 for v in ids if v is not None}
        if duty.only_with is None:
            return (found, 0.0) if found else ({}, 1.0)
        arises = self.p.variable()
        for lot in duty.only_with:
            if self.draw[lot]:
                terms: Terms = {arises: 1.0, self.draw[lot][0]: -1.0}
                for variable in found:
                    terms[variable] = -1.0
                self.p.row(terms, low=-1.0 if found else 0.0)
        return {arises: 1.0}, 0.0

    # -- what is served ------------------------------------------------------------------------

    def _at_worst(self, duty: Duty, worst: int) -> Iterable[int]:
        """Assemblies (that can be put together) serving *duty* at this grade or better."""
        seen = {w.assembly for w in duty.ways if RANK[w.grade] <= worst}
        return sorted(a for a in seen if self.ready[a] is not None)

    def _coverage(self, index: int, duty: Duty) -> None:
        active, constant = self._active(duty)
        for worst in (_PREFERRED, _ACCEPTABLE, _IMPROVISED):
            free = duty.free_grade
            if free is not None and RANK[free] <= worst:
                continue
            miss = self.p.variable()
            self.miss[index, worst] = miss
            terms: Terms = {miss: 1.0}
            for assembly in self._at_worst(duty, worst):
                ready = self.ready[assembly]
                if ready is not None:
                    terms[ready] = terms.get(ready, 0.0) + 1.0
            for variable, weight in active.items():
                terms[variable] = terms.get(variable, 0.0) - weight
            self.p.row(terms, low=constant)
        if duty.tool_wanted:
            self.bare[index] = self.p.variable()
            terms = {self.bare[index]: 1.0}
            for assembly in self._at_worst(duty, _ACCEPTABLE):
                ready = self.ready[assembly]
                if ready is not None:
                    terms[ready] = terms.get(ready, 0.0) + 1.0
            for variable, weight in active.items():
                terms[variable] = terms.get(variable, 0.0) - weight
            self.p.row(terms, low=constant)

    def _loss(self, index: int, duty: Duty) -> None:
        active, constant = self._active(duty)
        free = duty.beside if duty.spare_asked else duty.free_grade
        for worst in (_ACCEPTABLE, _IMPROVISED):
            if free is not None and RANK[free] <= worst:
                continue
            assemblies = list(self._at_worst(duty, worst))
            lots = sorted({lot for a in assemblies for lot in self.problem.assemblies[a].lots})
            if not lots:
                continue
            lost = self.p.variable()
            self.lost[index, worst] = lost
            for lot in lots:
                terms: Terms = {lost: 1.0}
                for a in assemblies:
                    whole = lot not in self.problem.assemblies[a].lots
                    gate = self.ready[a] if whole else self._spared(a, lot)
                    if gate is not None:
                        terms[gate] = terms.get(gate, 0.0) + 1.0
                for variable, weight in active.items():
                    terms[variable] = terms.get(variable, 0.0) - weight
                self.p.row(terms, low=constant)

    def _simultaneous(self) -> None:
        """Pieces in use at the same moment come from different pieces: assignment in each moment.

        Only lots that two duties of a moment could both use, and duties that take several pieces,
        need an assignment; for all others coverage says it already.
        """
        duties = self.problem.duties
        leads = {i: set(self._at_worst(d, self._floor(d))) for i, d in enumerate(duties)}
        usable = {
            i: sorted(leads[i] | {a for a in d.helpers if self.ready[a] is not None})
            for i, d in enumerate(duties)
        }
        reach = {
            i: {lot for a in usable[i] for lot in self.problem.assemblies[a].lots} for i in usable
        }
        moments = set(self.problem.moments)
        moments |= {(i,) for i, d in enumerate(duties) if d.together > 1}
        use: dict[int, dict[int, int]] = {}

        def assigned(index: int) -> dict[int, int]:
            if index not in use:
                duty = duties[index]
                active, constant = self._active(duty)
                own = {
                    a: self.p.variable(upper=float(duty.together), integer=self._mixed(a))
                    for a in usable[index]
                }
                short = self.p.variable(upper=float(duty.together))
                self.short[index] = short
                terms: Terms = {short: 1.0, **dict.fromkeys(own.values(), 1.0)}
                for variable, weight in active.items():
                    terms[variable] = terms.get(variable, 0.0) - weight * duty.together
                self.p.row(terms, low=constant * duty.together)
                if duty.helpers:
                    # helpers never do the step alone
                    terms = {v: float(a in leads[index]) for a, v in own.items()}
                    terms[short] = 1.0
                    for variable, weight in active.items():
                        terms[variable] = terms.get(variable, 0.0) - weight
                    self.p.row(terms, low=constant)
                use[index] = own
            return use[index]

        for moment in sorted(moments):
            shared = self._contested(moment, reach)
            busy = [i for i in moment if reach[i] & shared]
            for lot in sorted(shared):
                terms = {v: -n for v, n in self.pieces(lot).items()}
                for index in busy:
                    for a, variable in assigned(index).items():
                        n = self.problem.assemblies[a].needed(lot)
                        if n:
                            terms[variable] = terms.get(variable, 0.0) + n
                self.p.row(terms, high=0.0)
            for index in busy:
                # an assigned assembly draws on its uncontested lots too
                for a, variable in assigned(index).items():
                    for lot, n in self.problem.assemblies[a].needs:
                        if lot not in shared:
                            self.p.row(
                                {
                                    variable: float(n),
                                    **{v: -s for v, s in self.pieces(lot).items()},
                                },
                                high=0.0,
                            )

    def _mixed(self, assembly: int) -> bool:
        """Whether an assembly takes more than one piece: only then can an assignment be split."""
        return sum(n for _, n in self.problem.assemblies[assembly].needs) > 1

    def _contested(self, moment: tuple[int, ...], reach: dict[int, set[int]]) -> set[int]:
        shared: set[int] = set()
        seen: set[int] = set()
        for index in moment:
            shared |= reach[index] & seen
            seen |= reach[index]
            if self.problem.duties[index].together > 1:
                shared |= reach[index]
        return shared

    def _floor(self, duty: Duty) -> int:
        """Worst grade that counts for simultaneous use: acceptable where there is such a thing."""
        fair = any(RANK[w.grade] <= _ACCEPTABLE for w in duty.ways)
        return _ACCEPTABLE if fair else _IMPROVISED

    # -- what must not be together, ceilings -----------------------------------------------------

    def _pairs(self) -> None:
        self.clash: list[tuple[int, int]] = []
        self.like: list[int] = []
        pairs = [(a, b, weight) for a, b, weight in self.problem.clashes]
        pairs += [(a, b, 0) for a, b in self.problem.likenesses]
        for a, b, weight in pairs:
            if not self.draw[a] or not self.draw[b]:
                continue
            both = self.p.variable()
            self.p.row({self.draw[a][0]: 1.0, self.draw[b][0]: 1.0, both: -1.0}, high=1.0)
            if weight:
                self.clash.append((both, weight))
            else:
                self.like.append(both)

    def _limits(self) -> None:
        lots = self.problem.lots
        if self.problem.ceiling is not None:
            counted: Terms = {}
            for index, lot in enumerate(lots):
                if lot.counted:
                    counted |= self.pieces(index)
            self.p.row(counted, high=float(self.problem.ceiling))
        for index, lot in enumerate(lots):
            if not lot.required:
                continue
            gate = self._at_least(index, lot.required)
            self.p.row({gate: 1.0} if gate is not None else {}, low=1.0)
            whole = [
                ready
                for a, ready in enumerate(self.ready)
                if ready is not None and index in self.problem.assemblies[a].lots
            ]
            if whole:
                self.p.row(dict.fromkeys(set(whole), 1.0), low=1.0)
        for selection in self.problem.excluded:
            self._forbid(selection)

    def _forbid(self, selection: tuple[tuple[int, int], ...]) -> None:
        """Cut off one selection: at least one pack more of something, or one less."""
        terms: Terms = {}
        constant = 0.0
        chosen = dict(selection)
        for lot, levels in enumerate(self.draw):
            packs = math.ceil(chosen.get(lot, 0) / self.problem.lots[lot].pack)
            if packs:
                terms[levels[packs - 1]] = -1.0
                constant += 1.0
            if packs < len(levels):
                terms[levels[packs]] = 1.0
        self.p.row(terms, low=1.0 - constant)

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
            if self.problem.duties[index].need in need:
                asked = self.problem.duties[index].spare_asked
                terms[variable] = (2.0 if asked else 1.0) * (2.0 if worst == _IMPROVISED else 1.0)
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
            if worst == _PREFERRED and self.problem.duties[index].need == "essential"
        }

    def _approach_rank(self) -> Terms:
        return {
            variable: float(cost)
            for (procedure, approach), variable in self.approach.items()
            if (cost := self.problem.approach_cost.get(f"{procedure}/{approach}", 0))
        }

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
            ("no dangerous look-alike", dict(self.clash)),
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


def solve(problem: Problem, *, seconds: float = 20.0) -> Plan:
    """Choose the tray.

    Args:
        problem: what is in stock and what is to be served.
        seconds: limit for each aim; when it is hit the plan carries the bound proven so far.

    Returns:
        The plan; ``feasible`` is False when the hard wishes (required, barred, ceiling) cannot be
        met together.
    """
    model = _Model(problem)
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
