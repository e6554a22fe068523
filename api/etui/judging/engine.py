"""Judging: how good is this candidate for this step?

The order is fixed: a stated technique; harm before inability; can it be put together; a stated
judgement, lowered by what the line, the manner or a harder state takes away; else a derived grade
from the rules, with graded neighbours beside them.  Unknown is never a pass: where the balance is
even, the answer is a question with the careful grade beside it.

The engine changes nothing and keeps no state but caches; the same question always has the same
answer.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property
from typing import NamedTuple

from msgspec.structs import replace

from etui.errors import BadInput, UnknownTerm
from etui.judging import manner as manners_
from etui.judging.evidence import Evidence, Means, gather, means
from etui.judging.model import Answer, Candidate, Circumstance, Ground, Piece
from etui.judging.neighbours import Task
from etui.judging.piece import PieceView
from etui.judging.rulebook import RuleBook, load_rulebook
from etui.judging.standins import Substitute, substitutes
from etui.judging.stated import Stated, StatedIndex, careful_of
from etui.judging.table import GradeTable, load_table
from etui.judging.task import TaskView
from etui.judging.units import Assembly, Units
from etui.judging.votes import VoteTable, load
from etui.judging.weigh import Weighed, balance, decide, sums
from etui.judging.wordings import ground, stated_ground
from etui.knowledge.model import GRADES, USABLE, Grade, Manner, Reference, Step
from etui.reading.model import Attributes

_PLAIN = Attributes()
_HERE = Circumstance()
_GRAVITY = {"lower": 1, "unable": 2, "unsafe": 3}
_BY_STRENGTH = frozenset(
    {"weak-by-one", "weak-by-more", "must-scale-narrow", "must-scale-missed"}
)


class Seen(NamedTuple):
    """One piece looked at in one task: how it comes to the action and what the rules found."""

    task: TaskView
    piece: PieceView
    way: Means
    evidence: list[Evidence]


class Judge:
    """Judges candidates against the steps of one reference; safe to share between threads.

    Args:
        reference: The graph as records.
        book: The rules; by default those that lie beside the graph.
    """

    def __init__(self, reference: Reference, book: RuleBook | None = None) -> None:
        self.reference = reference
        self.book = book if book is not None else load_rulebook()
        self.units = Units(reference)
        self.stated = StatedIndex(reference, self.book)
        self._pieces: dict[tuple[str, Attributes], PieceView] = {}
        self._tasks: dict[tuple[str, Circumstance, str], TaskView] = {}

    @cached_property
    def votes(self) -> VoteTable:
        """Votes of graded neighbours; worked out, or read from the cache, when first asked for."""
        return load(self)

    def judge(
        self, step_id: str, candidate: Candidate, circumstance: Circumstance = _HERE, *,
        told: bool = True,
    ) -> Answer:
        """Grade *candidate* for the step under *circumstance*.

        With ``told`` false the answer carries no reasons, which is faster; the grade is the same.

        Raises:
            UnknownTerm: The step, or a pattern of the candidate, is not in the reference.
            BadInput: The candidate names nothing at all.
        """
        step = self.step(step_id)
        technique = self._technique(step, candidate)
        if technique is not None:
            return technique
        if not candidate.pieces:
            return self._nothing_known(step, candidate)
        for piece in candidate.pieces:
            self._check_known(piece.id)
        hand = self._manoeuvre(step, candidate)
        if hand is not None:
            return hand
        return self._judge_pieces(step, candidate, circumstance, told=told)

    def substitutes(
        self, step_id: str, circumstance: Circumstance = _HERE,
        candidates: Iterable[Candidate] | None = None,
    ) -> tuple[Substitute, ...]:
        """What could stand in, best first, hand manoeuvres included; what harms comes last.

        ``candidates`` limits the choice (a tray, a stock); by default all that the graph knows.
        """
        return substitutes(self, step_id, circumstance, candidates)

    def grade_table(self) -> GradeTable:
        """Grades of all plain patterns for all steps, compiled once and kept."""
        return self._table

    @cached_property
    def _table(self) -> GradeTable:
        return load_table(self)

    # --- what the question says -------------------------------------------------------------

    def step(self, step_id: str) -> Step:
        """The step of that id, or the error that says there is none."""
        step = self.reference.steps.get(step_id)
        if step is None:
            raise UnknownTerm(f'There is no step "{step_id}".')
        return step

    def _check_known(self, id_: str) -> None:
        if id_ not in self.reference.patterns and id_ not in self.reference.manoeuvres:
            raise UnknownTerm(f'There is no pattern "{id_}".')

    def _technique(self, step: Step, candidate: Candidate) -> Answer | None:
        """A stated grade of this very way of doing the step; the worst where several match."""
        hit = [t for t in step.techniques if t.id in candidate.techniques]
        if not hit:
            return None
        worst = max(hit, key=lambda t: (GRADES.index(t.grade), t.id))
        grounds = tuple(
            Ground(
                demand=step.name, offer=t.technique, consequence=t.because or t.grade,
                source=t.source, how_known=t.how_known, rule="technique",
                level="against" if t.grade not in USABLE else "for",
            )
            for t in sorted(hit, key=lambda t: t.id)
        )
        hazards = tuple(sorted({t.hazard for t in hit if t.hazard}))
        return Answer(
            step=step.id, candidate=candidate.text or worst.technique, grade=worst.grade,
            stated=True, grounds=grounds, hazards=hazards,
            disputed=len({t.grade for t in hit}) > 1,
        )

    def _manoeuvre(self, step: Step, candidate: Candidate) -> Answer | None:
        """A hand manoeuvre is judged by what is stated of it; nothing is derived for a hand."""
        lead = candidate.pieces[0].id
        if lead in self.reference.patterns:
            return None
        name = self.reference.manoeuvres[lead].name
        stated = self.stated.of(step.id, lead)
        if stated is None:
            return Answer(
                step=step.id, candidate=candidate.text or name, grade=None,
                asks=f"Can this be done here by hand: {name}?", careful=careful_of(step),
                grounds=(Ground(
                    demand=step.name, offer=name, rule="no-evidence",
                    consequence="nothing is stated of this manoeuvre for this step",
                ),),
            )
        return self._answer_stated(step, candidate, name, stated)

    def _nothing_known(self, step: Step, candidate: Candidate) -> Answer:
        """An everyday thing of which the graph has no record."""
        words = candidate.improvised or candidate.text
        if not words:
            raise BadInput(
                "The candidate names nothing.", mend="Give a pattern, parts or a manoeuvre."
            )
        return Answer(
            step=step.id, candidate=words, grade=None, careful=careful_of(step),
            asks=f"What is it made of, how wide and strong is it, and is it sterile: {words}?",
            grounds=(Ground(
                demand=step.name, offer=words, rule="no-evidence",
                consequence="no record of this thing: neither a pass nor a refusal",
            ),),
        )

    # --- looking at pieces --------------------------------------------------------------------

    def piece(self, id_: str, attributes: Attributes = _PLAIN) -> PieceView:
        """The view of a pattern with the attributes of a line."""
        key = (id_, attributes)
        found = self._pieces.get(key)
        if found is None:
            found = PieceView(self.reference.patterns[id_], attributes, self.book)
            if len(self._pieces) > 20_000:
                self._pieces.clear()
            self._pieces[key] = found
        return found

    def task(self, step: Step, around: Circumstance, action: str) -> TaskView:
        """The view of a step, or of a side task of it, under given circumstances."""
        key = (step.id, around, action)
        found = self._tasks.get(key)
        if found is None:
            found = TaskView(self.reference, self.book, step, around, action)
            if len(self._tasks) > 5_000:
                self._tasks.clear()
            self._tasks[key] = found
        return found

    @staticmethod
    def main_task(step: Step) -> Task:
        """The step's own task, as opposed to its side tasks."""
        return Task(step.id, step.action)

    def task_of(self, task: Task) -> TaskView:
        """The view of a main or side task under no special circumstance."""
        step = self.reference.steps[task.step]
        side = task.action if task.action != step.action else None
        return self.task(step, Circumstance(side_task=side), task.action)

    def look(
        self, step: Step, piece: Piece, around: Circumstance, used: tuple[Manner, ...],
        action: str,
    ) -> Seen:
        """Everything that the rules find in one piece for one task."""
        view = self.piece(piece.id, piece.attributes)
        task = self.task(step, around, action)
        way = means(self.reference, self.book, view, task.action, self.units.of)
        if used:
            way = Means(way.kind, manners_.changed(way.offer, view, used, self.book), way.unit)
        return Seen(task, view, way, gather(task, view, way, self.book))

    # --- the order of judging -----------------------------------------------------------------

    def _judge_pieces(
        self, step: Step, candidate: Candidate, around: Circumstance, *, told: bool
    ) -> Answer:
        side = around.side_task
        wanted = side or step.action
        assembly = self.units.assemble(candidate, wanted)
        lead = assembly.lead
        used = manners_.known(self.reference, (*candidate.manners, *around.manners))
        stated = self._stated_for(step, candidate, lead, side)
        action = wanted
        if stated is not None and stated.action is not None:
            action = stated.action
        seen = self.look(step, lead, around, used, action)
        effect = manners_.effect(seen.task, seen.piece, seen.way.offer, used, self.book)
        if stated is not None:
            answer = self._answer_stated(step, candidate, seen.piece.name, stated)
        else:
            answer = self._derived(seen, candidate, told=told)
        if used or lead.attributes != _PLAIN or _narrowed(around):
            # Stated grades are for the plain pattern on the usual patient; the approach is the
            # only circumstance that they share with the question.
            usual = Circumstance(approach=around.approach, side_task=around.side_task)
            plain = self.look(step, Piece(id=lead.id), usual, (), action)
            answer = self._lowered(answer, seen, plain, used)
        answer = self._guard(answer, used)
        answer = self._capped(answer, effect)
        return self._assembled(answer, assembly, seen)

    def _stated_for(
        self, step: Step, candidate: Candidate, lead: Piece, side: str | None
    ) -> Stated | None:
        """What is stated on the leading piece, or on another part of the same unit."""
        found = self.stated.of(step.id, lead.id, side)
        if found is not None or side is not None:
            return found
        others = [
            other
            for piece in candidate.pieces
            if piece is not lead and self.units.best_unit(piece.id, step.action)
            and (other := self.stated.of(step.id, piece.id)) is not None
            and other.action is None
        ]
        # The most careful one, whatever the order in which the pieces are named.
        return max(
            others, key=lambda s: (GRADES.index(s.grade), s.judgements[0].subject), default=None
        )

    def _answer_stated(
        self, step: Step, candidate: Candidate, name: str, stated: Stated
    ) -> Answer:
        grounds = tuple(stated_ground(step, name, j) for j in stated.judgements)
        return Answer(
            step=step.id, candidate=candidate.text or name, grade=stated.grade, stated=True,
            grounds=grounds, hazards=stated.hazards, disputed=stated.disputed,
            role=stated.role,
        )

    def _lowered(
        self, answer: Answer, seen: Seen, plain: Seen, used: tuple[Manner, ...]
    ) -> Answer:
        """Take off what this piece lacks that the plain pattern, as it was graded, did not."""
        before: dict[str, tuple[int, float]] = {}
        for evidence in plain.evidence:
            key = evidence.source or evidence.demand
            before[key] = max(before.get(key, (0, 0.0)), self._gravity(evidence))
        worse = [
            e for e in seen.evidence
            if self.book.rules[e.rule].outcome in ("unsafe", "unable", "lower")
            and self._gravity(e) > before.get(e.source or e.demand, (0, 0.0))
        ]
        if not worse:
            return answer
        grade: Grade = answer.grade or "preferred"
        slightly = any(manner.strength_change < 0 for manner in used)
        hazards = set(answer.hazards)
        for evidence in worse:
            limit = self._worst(evidence, seen.task)
            if slightly and evidence.rule in _BY_STRENGTH:
                # A light hand costs a grade; it does not make a fit piece unfit.
                limit = "acceptable" if answer.grade == "preferred" else "improvised"
            if limit is None:
                continue
            grade = worse_of(grade, limit)
            if limit == "unsafe" and evidence.hazard:
                hazards.add(evidence.hazard)
        missed = sum(
            e.rule.startswith("must-") and e.rule.endswith("-missed")
            and not (slightly and e.rule in _BY_STRENGTH) for e in worse
        )
        if missed >= 3:
            grade = worse_of(grade, "unable")
        if sum(self.book.rules[e.rule].outcome == "lower" for e in worse) > 1 and not slightly:
            grade = worse_of(grade, "improvised")
        if grade == answer.grade or (answer.grade is None and grade in USABLE):
            return answer
        extra = tuple(ground(e, self.book, against=True) for e in worse)
        return replace(
            answer, grade=grade, asks=None, careful=None, grounds=extra + answer.grounds,
            hazards=tuple(sorted(hazards)), stated=False,
        )

    def _gravity(self, evidence: Evidence) -> tuple[int, float]:
        """How grave a finding is beside another on the same demand; the bits are rounded off."""
        rule = self.book.rules[evidence.rule]
        return (_GRAVITY.get(rule.outcome, 0), round(rule.weight * evidence.amount, 6))

    def _worst(self, evidence: Evidence, task: TaskView) -> Grade | None:
        """The best grade that one new shortfall leaves to a piece that was graded without it."""
        rule = self.book.rules[evidence.rule]
        if rule.outcome == "unsafe":
            return "unsafe"
        if rule.bars:
            return "unsafe" if task.vital and rule.hazard == "wrong_size" else "unable"
        if evidence.rule == "reach-short":
            if evidence.amount < self.book.value("reach-slight"):
                return None
            return "unable" if evidence.amount >= self.book.value("reach-gross") else "improvised"
        return "acceptable" if rule.outcome == "lower" else "improvised"

    def _derived(self, seen: Seen, candidate: Candidate, *, told: bool) -> Answer:
        """Steps 5 to 7: the rules, the neighbours beside them, and a question when it is even."""
        task, book = seen.task, self.book
        found = sums(seen.evidence, book)
        votes = self.votes.of(Task(task.step.id, task.action), seen.piece.id)
        total, harm, cost = balance(found, votes, book)
        result = decide(task, seen.evidence, total, harm, cost, book)
        answer = self._answer_derived(seen, candidate, result, told=told)
        described = self.stated.described(task.step.id, seen.piece.id)
        if answer.grade is None and described is not None and not task.side:
            # The tables describe this piece as unfit, though nobody judged it: where the rules
            # are undecided, the careful side is taken.
            extra = stated_ground(task.step, seen.piece.name, described)
            return replace(
                answer, grade=described.grade, asks=None, careful=None,
                grounds=(replace(extra, rule="described"), *answer.grounds),
                hazards=(described.hazard,) if described.hazard else (),
            )
        return answer

    def _answer_derived(
        self, seen: Seen, candidate: Candidate, result: Weighed, *, told: bool
    ) -> Answer:
        grounds = tuple(
            ground(e, self.book) for e in seen.evidence
            if self.book.rules[e.rule].outcome != "note" or e.rule == "must-met"
        ) if told else ()
        task = seen.task
        return Answer(
            step=task.step.id, candidate=candidate.text or seen.piece.name, grade=result.grade,
            stated=False, asks=result.asks, careful=result.careful, grounds=grounds,
            hazards=result.hazards, role=task.action if task.side else None,
            balance=round(result.balance, 4),
        )

    def _guard(self, answer: Answer, used: tuple[Manner, ...]) -> Answer:
        """A supplied guard lifts a stated "unsafe" to improvised if it removes that hazard."""
        if answer.grade != "unsafe" or not answer.stated or not answer.hazards:
            return answer
        guards = {m.id for m in used} & self.book.guard_manners
        gone = frozenset(
            h for id_ in guards for h in self.reference.manners[id_].hazards_remove
        )
        if not guards or not set(answer.hazards) <= gone:
            return answer
        extra = Ground(
            demand="a guard against " + ", ".join(answer.hazards).replace("_", " "),
            offer=", ".join(sorted(guards)).replace("_", " "),
            consequence="the guard takes the hazard away: at best improvised",
            rule="guard-supplied", level="for",
        )
        return replace(answer, grade="improvised", stated=False, grounds=(extra, *answer.grounds))

    def _capped(self, answer: Answer, effect: manners_.Effect) -> Answer:
        """The manner leaves no better grade than its cap."""
        cap = effect.cap
        if cap is None:
            return answer
        if answer.grade is None and cap in USABLE:
            return answer
        grade = cap if answer.grade is None else worse_of(answer.grade, cap)
        if grade == answer.grade:
            return answer
        extra = tuple(
            Ground(
                demand="used as the step needs", offer=rule.trigger.replace("_", " "),
                consequence=rule.note, rule="manner", level="against",
            )
            for rule in effect.rules
        )
        hazards = set(answer.hazards) | {r.hazard for r in effect.rules if r.hazard}
        return replace(
            answer, grade=grade, stated=False, asks=None, careful=None,
            grounds=extra + answer.grounds, hazards=tuple(sorted(hazards)),
        )

    def _assembled(self, answer: Answer, assembly: Assembly, seen: Seen) -> Answer:
        """Parts that are missing, misfit or replaced; harm stays harm."""
        if assembly.state == "complete":
            return answer
        if assembly.state in ("stand-in", "without") and assembly.cap is not None:
            without = assembly.state == "without"
            extra = Ground(
                demand=f"{assembly.part} of {assembly.unit}",
                offer=f"not there: {assembly.note}" if without else assembly.note,
                consequence=(
                    f"it can be done without, {assembly.cap} at best" if without
                    else f"the stand-in leaves {assembly.cap} at best"
                ),
                rule="part-not-needed" if without else "part-stand-in", level="against",
            )
            held = answer.grade
            if held is not None and GRADES.index(held) >= GRADES.index(assembly.cap):
                return replace(answer, grounds=(extra, *answer.grounds))
            return replace(
                answer, grade=assembly.cap, stated=False, asks=None, careful=None,
                grounds=(extra, *answer.grounds),
            )
        misfit = assembly.state == "misfit"
        extra = Ground(
            demand=f"{seen.piece.name} complete", offer=f"{assembly.part}: " + (
                "does not fit" if misfit else "missing"
            ),
            consequence=assembly.note or "without it the piece does nothing",
            rule="part-misfits" if misfit else "part-missing", level="against",
        )
        if answer.grade == "unsafe":
            return replace(answer, grounds=(*answer.grounds, extra))
        return replace(
            answer, grade="unable", stated=False, asks=None, careful=None,
            grounds=(extra, *answer.grounds),
        )


def worse_of(a: Grade, b: Grade) -> Grade:
    """The more careful of two grades; harm comes before inability."""
    if "unsafe" in (a, b):
        return "unsafe"
    return max(a, b, key=GRADES.index)


def _narrowed(around: Circumstance) -> bool:
    """Whether the question says more of the case than the stated grades reckon with."""
    return bool(around.states or around.patient or around.site or around.manners)
