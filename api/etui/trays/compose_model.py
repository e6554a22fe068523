"""A composing problem as a programme: what is drawn, serves, is lost, is in use, clashes."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise

from etui.trays.compose_problem import RANK, Duty, Problem
from etui.trays.compose_programme import Programme, Terms

IMPROVISED, ACCEPTABLE, PREFERRED = RANK["improvised"], RANK["acceptable"], RANK["preferred"]


class Model:
    """The programme of one problem, with the names of its variables."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.p = Programme()
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
        for worst in (PREFERRED, ACCEPTABLE, IMPROVISED):
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
            for assembly in self._at_worst(duty, ACCEPTABLE):
                ready = self.ready[assembly]
                if ready is not None:
                    terms[ready] = terms.get(ready, 0.0) + 1.0
            for variable, weight in active.items():
                terms[variable] = terms.get(variable, 0.0) - weight
            self.p.row(terms, low=constant)

    def _loss(self, index: int, duty: Duty) -> None:
        active, constant = self._active(duty)
        free = duty.beside if duty.spare_asked else duty.free_grade
        for worst in (ACCEPTABLE, IMPROVISED):
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
        fair = any(RANK[w.grade] <= ACCEPTABLE for w in duty.ways)
        return ACCEPTABLE if fair else IMPROVISED

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
