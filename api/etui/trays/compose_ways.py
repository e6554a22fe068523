"""What the stock can do: assemblies, and the ways in which they serve each step.

Which pattern leads a step, which partners an action needs, and what a piece is worth there is the
same ground that a check stands on (:mod:`etui.trays.duty`, :mod:`etui.trays.units`); here every
choice of partners is kept, so that the solver can choose among them.
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterable
from itertools import product

from etui.judging.model import Piece
from etui.knowledge.model import USABLE, Grade, Reference, Step, Unit
from etui.reading.model import Attributes
from etui.trays.compose_problem import RANK, Assembly, Way
from etui.trays.compose_stock import Held
from etui.trays.duty import Hand, StepDuty
from etui.trays.grading import what_counts
from etui.trays.parts import Need, words_of
from etui.trays.situation import Bench

_MOST_COMBINATIONS = 64
"""Of one unit; beyond this the remaining fillers of a slot are alike enough not to matter."""

_DRIVEN = frozenset({"needle", "thread"})
"""Roles of pieces that a driver holds."""

Needs = tuple[tuple[int, int], ...]
Filler = tuple[tuple[tuple[int, int], ...], tuple[str, ...], Grade]
"""Pieces drawn, patterns that fill the slot, and the best grade that this leaves."""


def worst(grades: Iterable[Grade]) -> Grade:
    """The worst of usable grades; none at all leaves everything open."""
    return max(grades, key=RANK.__getitem__, default="preferred")


_BARE_HANDS = 1
"""Strength of a target (0..5) up to which a makeshift by hand serves: thin membranes, film."""


def first_hand(duty: StepDuty, present: Container[str], *grades: str) -> Hand | None:
    """The best manoeuvre of these grades that does the step itself with what is there.

    A makeshift by hand counts only where no strength is needed.
    """
    weak = (duty.step.strength or 0) <= _BARE_HANDS
    return next(
        (
            h
            for h in duty.hands
            if h.grade in grades
            and h.can(present)
            and not h.other_way
            and (weak or h.grade != "improvised")
        ),
        None,
    )


class Fitter:
    """Puts the stock together and asks what each assembly is good for.

    Args:
        bench: what checks share (reference, duties, units, grades).
        held: the stock lines.
        beside: patterns kept beside the tray; they fill slots and serve steps without being drawn.
        usual: procedure -> patterns that lie there anyway; used only where neither stock nor
            ``beside`` can.
        misfits: pairs of stock lines that are said not to go together.
    """

    def __init__(
        self,
        bench: Bench,
        held: tuple[Held, ...],
        *,
        beside: frozenset[str] = frozenset(),
        usual: dict[str, frozenset[str]] | None = None,
        absent: frozenset[str] = frozenset(),
        misfits: frozenset[tuple[int, int]] = frozenset(),
    ) -> None:
        self.bench = bench
        self.reference: Reference = bench.reference
        self.held = held
        self.beside = beside
        self.usual = usual or {}
        self.absent = absent
        self.misfits = misfits
        self.lots_of: dict[str, list[int]] = {}
        for index, line in enumerate(held):
            if line.pattern is not None and line.count > 0:
                self.lots_of.setdefault(line.pattern, []).append(index)
        self.unsure: dict[int, tuple[str, ...]] = {}
        """Lines that may or may not hold a part of theirs: lot -> the part."""
        self.assemblies: list[Assembly] = []
        self._index: dict[Needs, int] = {}

    @property
    def present(self) -> frozenset[str]:
        """Patterns in the stock or kept beside."""
        return self.beside | self.lots_of.keys()

    def duty(self, step: str) -> StepDuty:
        """What can serve a step, as a check sees it."""
        return self.bench.duties.of(step)

    def add(self, needs: Iterable[tuple[int, int]]) -> int:
        """Number of the assembly that draws these pieces."""
        total: dict[int, int] = {}
        for lot, n in needs:
            total[lot] = total.get(lot, 0) + n
        key = tuple(sorted(total.items()))
        if key not in self._index:
            self._index[key] = len(self.assemblies)
            self.assemblies.append(Assembly(needs=key))
        return self._index[key]

    def room(self, step: Step) -> frozenset[str]:
        """What lies there anyway when a step's procedure is done."""
        return self.usual.get(step.procedure, frozenset()) - self.absent

    # -- putting together --------------------------------------------------------------------------

    def put_together(
        self, pattern: str, action: str, lot: int | None, room: frozenset[str]
    ) -> list[Filler]:
        """Every complete way of putting a piece to work for an action.

        Args:
            lot: the stock line that the leading piece is drawn from; None = it lies beside.

        Returns:
            (pieces drawn, patterns of the partners, best grade left); empty when a partner that
            decides is nowhere to be had.
        """
        own: tuple[tuple[int, int], ...] = () if lot is None else ((lot, 1),)
        needs = self.bench.workshop.needs(pattern, action)
        if not needs:
            return [(own, (), "preferred")]
        return [f for need in needs for f in self._filled(need, pattern, lot, own, room)]

    def _filled(
        self,
        need: Need,
        pattern: str,
        lot: int | None,
        own: tuple[tuple[int, int], ...],
        room: frozenset[str],
    ) -> list[Filler]:
        unit = self.reference.units[need.unit]
        choices: list[list[Filler]] = []
        for group in need.groups:
            # what stands in for one part presupposes the others: where any part of several would
            # do, one of them must be there itself
            alone = len(group) == 1
            fillers = [
                f
                for slot in group
                for f in self._fillers(unit, slot, pattern, lot, room, stand_ins=alone)
            ]
            if not fillers:
                return []
            choices.append(fillers)
        out: list[Filler] = []
        for combination in list(product(*choices))[:_MOST_COMBINATIONS]:
            drawn = (*own, *(pair for filler in combination for pair in filler[0]))
            if not self._may_go_together(drawn):
                continue
            partners = tuple(p for filler in combination for p in filler[1])
            out.append((drawn, partners, worst(filler[2] for filler in combination)))
        return out

    def _may_go_together(self, drawn: Needs) -> bool:
        total: dict[int, int] = {}
        for lot, n in drawn:
            total[lot] = total.get(lot, 0) + n
        if any(n > self.held[lot].count for lot, n in total.items()):
            return False
        return not any(a in total and b in total for a, b in self.misfits)

    def _fillers(
        self,
        unit: Unit,
        index: int,
        pattern: str,
        lot: int | None,
        room: frozenset[str],
        *,
        stand_ins: bool = True,
    ) -> list[Filler]:
        slot = unit.slots[index]
        patterns = self._expanded(slot.alternatives)
        count = slot.count - (1 if pattern in slot.alternatives and slot.count > 1 else 0)
        if patterns & self.beside:
            return [((), (min(patterns & self.beside),), "preferred")]
        comes = self.bench.lore.comes.get((unit.id, index))
        if comes and not (lot is not None and self._said_absent(unit, index, lot)):
            return [((), (), "preferred")]
        out: list[Filler] = [
            (((other, count),), (id_,) * count, "preferred")
            for id_ in sorted(patterns)
            for other in self.lots_of.get(id_, [])
            if self.held[other].count >= count + (1 if other == lot else 0)
        ]
        if stand_ins and not out:
            out += self._stand_ins(unit, index, count, lot)
        if (not out or lot is None) and patterns & room:
            out.append(((), (min(patterns & room),), "preferred"))
        if not out and lot is not None and self._may_hold(unit, index, pattern):
            self.unsure[lot] = unit.slots[index].alternatives
            return [((), (), "preferred")]
        return out

    def _may_hold(self, unit: Unit, index: int, pattern: str) -> bool:
        """Whether a pattern comes with and without the part, by its own name: to be looked at."""
        found = re.search(r"\bwith or without (\w+)", self.reference.patterns[pattern].name)
        return found is not None and bool(
            words_of(found[1])
            & (
                self.bench.workshop.slot_words(unit, index)
                | words_of(unit.slots[index].alternatives[0])
            )
        )

    def _stand_ins(self, unit: Unit, index: int, count: int, lot: int | None) -> list[Filler]:
        names = self.bench.workshop.slot_words(unit, index)
        out: list[Filler] = []
        for stand_in in unit.stand_ins:
            if stand_in.subject is None or stand_in.grade not in USABLE:
                continue
            if not words_of(stand_in.part) & names or stand_in.count < count:
                continue
            for other in self.lots_of.get(stand_in.subject, []):
                if self.held[other].count >= count + (1 if other == lot else 0):
                    out.append((((other, count),), (stand_in.subject,) * count, stand_in.grade))
        return out

    def _expanded(self, alternatives: Iterable[str]) -> frozenset[str]:
        """Patterns of a slot; a unit named there stands for what leads it."""
        out: set[str] = set()
        for alternative in alternatives:
            unit = self.reference.units.get(alternative)
            out.update(unit.slots[-1].alternatives if unit else (alternative,))
        return frozenset(out)

    def _said_absent(self, unit: Unit, index: int, lot: int) -> bool:
        names = self.bench.workshop.slot_words(unit, index)
        said = [a for piece in self.held[lot].pieces for a in piece.attributes.absent]
        return any(words_of(text) & names for text in said)

    # -- ways ------------------------------------------------------------------------------

    def ways(self, step: Step) -> tuple[Way, ...]:
        """Every assembly that serves *step*, with its grade; the dominated ones left out."""
        best: dict[int, Grade] = {}
        for lot, line in enumerate(self.held):
            if line.count < 1:
                continue
            for drawn, grade in self._work(step, lot, line):
                index = self.add(drawn)
                if index not in best or RANK[grade] < RANK[best[index]]:
                    best[index] = grade
        return self._undominated(best)

    def _work(self, step: Step, lot: int, line: Held) -> list[tuple[Needs, Grade]]:
        out = []
        for place, piece in enumerate(line.pieces):
            if not self._leads(step, piece.id):
                continue
            mates = tuple(p.id for n, p in enumerate(line.pieces) if n != place)
            for drawn, partners, cap in self._put_to(step, piece, lot, mates):
                grade = self.grade(step.id, piece.id, piece.attributes, (*mates, *partners))
                if grade is not None:
                    out.append((drawn, worst((grade, cap))))
        return out

    def _put_to(self, step: Step, piece: Piece, lot: int, mates: tuple[str, ...]) -> list[Filler]:
        if mates:
            # a line that names several parts is one thing with all of them
            return [(((lot, 1),), (), "preferred")]
        judgement = self.duty(step.id).stated.get(piece.id)
        action = (judgement.as_action if judgement else None) or step.action
        whole = self.put_together(piece.id, action, lot, self.room(step))
        if judgement is not None and judgement.role in _DRIVEN:
            return self._driven(step, whole)
        return whole

    def _driven(self, step: Step, whole: list[Filler]) -> list[Filler]:
        """The same with a driver, where the step names drivers beside needle and thread."""
        drivers = {j.subject for j in step.judgements if j.role == "driver" and j.grade in USABLE}
        if not drivers or drivers & self.beside:
            return whole
        lots = [(lot, id_) for id_ in sorted(drivers) for lot in self.lots_of.get(id_, [])]
        return [
            ((*drawn, (lot, 1)), (*partners, id_), cap)
            for drawn, partners, cap in whole
            for lot, id_ in lots
            if self._may_go_together((*drawn, (lot, 1))) and id_ not in partners
        ] + [filler for filler in whole if drivers & set(filler[1])]

    def grade(
        self, step_id: str, pattern: str, attributes: Attributes, partners: tuple[str, ...]
    ) -> Grade | None:
        """The grade to reckon with when it is usable, lowered by what is stated of the parts."""
        duty = self.duty(step_id)
        stated = duty.stated
        counts = what_counts(stated.get(pattern), attributes)
        grade = self.bench.grader.grade(duty, pattern, counts, partners)
        if grade not in USABLE or self._harmful(step_id, pattern):
            return None
        unjudged = self._unjudged(duty, pattern)
        step = duty.step
        if unjudged == "improvised" and step.need == "essential" and step.fate != "equipment":
            # a makeshift that nobody has judged is no plan for what must be done to tissue
            return None
        grade = worst((grade, unjudged))
        if duty.duties.get(pattern) == "other":
            # it reaches the end another way: never the plan where the operation hinges on the step
            grade = worst((grade, "improvised" if duty.step.drop_prone else "acceptable"))
        for partner in partners:
            judgement = stated.get(partner)
            if judgement is None:
                continue
            if judgement.grade not in USABLE:
                return None
            grade = worst((grade, judgement.grade))
        return grade

    def _unjudged(self, duty: StepDuty, pattern: str) -> Grade:
        """The best that a piece can be which nobody has judged for the step.

        Made for the action and of a kind that serves there it may be acceptable, else a makeshift.
        """
        if pattern in duty.stated or not duty.good:
            return "preferred"
        patterns = self.reference.patterns
        record = patterns[pattern]
        made_for = any(o.action == duty.step.action and o.role == "main" for o in record.offers)
        kinds = {patterns[p].family for p in duty.good}
        return "acceptable" if made_for and record.family in kinds else "improvised"

    def _leads(self, step: Step, pattern: str) -> bool:
        """Whether a pattern can lead a step, or stands for the whole of a unit that leads it."""
        duty = self.duty(step.id)
        if duty.duties.get(pattern) in ("main", "other"):
            return True
        judgement = duty.stated.get(pattern)
        if judgement is None or judgement.grade not in USABLE or judgement.role is not None:
            return False
        return any(
            stand_in.subject == pattern
            and stand_in.part.startswith("whole")
            and stand_in.grade in USABLE
            and any(duty.duties.get(m) == "main" for s in unit.slots for m in s.alternatives)
            for unit in self.reference.units.values()
            for stand_in in unit.stand_ins
        )

    def _harmful(self, step: str, pattern: str) -> bool:
        """Whether a unit names the piece as a harmful stand-in for what the step calls for."""
        first = set(self.duty(step).first_line)
        action = self.reference.steps[step].action
        return any(
            stand_in.subject == pattern
            and stand_in.grade == "unsafe"
            and action in unit.actions
            and any(
                words_of(stand_in.part) & self.bench.workshop.slot_words(unit, index)
                and first & set(slot.alternatives)
                for index, slot in enumerate(unit.slots)
            )
            for unit in self.reference.units.values()
            for stand_in in unit.stand_ins
        )

    def _undominated(self, best: dict[int, Grade]) -> tuple[Way, ...]:
        out = []
        for index, grade in sorted(best.items()):
            needs = dict(self.assemblies[index].needs)
            beaten = any(
                other != index
                and RANK[rival] <= RANK[grade]
                and all(needs.get(lot, 0) >= n for lot, n in self.assemblies[other].needs)
                for other, rival in best.items()
            )
            if not beaten:
                out.append(Way(assembly=index, grade=grade))
        return tuple(out)

    def helpers(self, step: Step) -> tuple[int, ...]:
        """Assemblies of pieces that help in the step and may be held beside its lead."""
        out = set()
        for lot, line in enumerate(self.held):
            if line.count < 1 or line.pattern is None:
                continue
            if self.duty(step.id).duties.get(line.pattern) == "side" and not self.part(lot):
                out.add(self.add([(lot, 1)]))
        return tuple(sorted(out))

    def from_patterns(self, step: Step, patterns: frozenset[str]) -> dict[str, Grade]:
        """What things that are not drawn (kept beside, in the room) are worth at a step."""
        out: dict[str, Grade] = {}
        for id_ in sorted(patterns - self.absent):
            if not self._leads(step, id_):
                continue
            for drawn, partners, cap in self.put_together(id_, step.action, None, self.room(step)):
                if drawn:
                    continue
                grade = self.grade(step.id, id_, Attributes(), partners)
                if grade is not None:
                    grade = worst((grade, cap))
                    if id_ not in out or RANK[grade] < RANK[out[id_]]:
                        out[id_] = grade
        return out

    # -- parts -----------------------------------------------------------------------------

    def part(self, lot: int) -> bool:
        """Whether a stock line is a part that does nothing alone."""
        pattern = self.held[lot].pattern
        return pattern is not None and self.bench.workshop.dependent(
            self.reference.patterns[pattern]
        )

    def idle_parts(self) -> dict[int, tuple[str, ...]]:
        """Parts in stock that find no partner: lot -> the patterns that are lacking."""
        out = {}
        for lot, line in enumerate(self.held):
            if line.pattern is None or line.count < 1 or not self.part(lot):
                continue
            record = self.reference.patterns[line.pattern]
            actions = [o.action for o in record.offers]
            room = frozenset().union(*self.usual.values()) - self.absent
            if any(self.put_together(line.pattern, a, lot, room) for a in actions):
                continue
            lacking: set[str] = set()
            for need in self.bench.workshop.needs(line.pattern, actions[0] if actions else ""):
                unit = self.reference.units[need.unit]
                for group in need.groups:
                    if not any(self._fillers(unit, s, line.pattern, lot, room) for s in group):
                        lacking.add(unit.slots[group[0]].alternatives[0])
            out[lot] = tuple(sorted(lacking))
        return out
