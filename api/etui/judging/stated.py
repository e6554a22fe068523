"""Stated judgements, looked up by step and subject, with the side task that each one means."""

from __future__ import annotations

from collections import defaultdict

from etui.judging.rulebook import RuleBook
from etui.knowledge.model import GRADES, USABLE, Grade, Judgement, Pattern, Record, Reference, Step

_UNIT_ROLES = frozenset({"blade", "handle"})


class Stated(Record, frozen=True):
    """What is stated of one subject in one step: the grade that holds and where it comes from.

    ``action``: the side task that it means, None for the step's main action.  ``disputed``: the
    judgements differ; ``grade`` is the more careful one.
    """

    grade: Grade
    judgements: tuple[Judgement, ...]
    hazards: tuple[str, ...] = ()
    disputed: bool = False
    role: str | None = None
    action: str | None = None


class StatedIndex:
    """All judgements that are evidence; descriptions that nobody judged are left out."""

    def __init__(self, reference: Reference, book: RuleBook) -> None:
        self.reference = reference
        self.book = book
        grouped: dict[tuple[str, str], list[Judgement]] = defaultdict(list)
        self._described: dict[tuple[str, str], Judgement] = {}
        for step in reference.steps.values():
            for judgement in step.judgements:
                if is_evidence(judgement):
                    grouped[step.id, judgement.subject].append(judgement)
                elif judgement.grade not in USABLE and not judgement.role and (
                    judgement.condition is None and not judgement.as_action
                ):
                    self._described[step.id, judgement.subject] = judgement
        self._by_pair: dict[tuple[str, str], dict[str | None, Stated]] = {}
        for (step_id, subject), found in grouped.items():
            step = reference.steps[step_id]
            self._by_pair[step_id, subject] = self._sorted(step, found)

    def _sorted(self, step: Step, found: list[Judgement]) -> dict[str | None, Stated]:
        """By side task; the key None holds what is stated for the step's main action."""
        by_task: dict[str | None, list[Judgement]] = defaultdict(list)
        for judgement in found:
            by_task[self.side_action(step, judgement)].append(judgement)
        return {action: _joined(action, group) for action, group in by_task.items()}

    def side_action(self, step: Step, judgement: Judgement) -> str | None:
        """The action by which an entry is judged, None when it is the step's own."""
        if judgement.as_action is not None:
            return judgement.as_action
        role = judgement.role
        if role is None or role in _UNIT_ROLES:
            return None
        named = self.book.side_actions.get(role, ())
        if named:
            return step.action if step.action in named else named[0]
        pattern = self.reference.patterns.get(judgement.subject)
        return side_task_of(step, pattern) if pattern is not None else None

    def of(self, step_id: str, subject: str, side: str | None = None) -> Stated | None:
        """What is stated; for the side task *side* when one is asked for."""
        by_task = self._by_pair.get((step_id, subject))
        if by_task is None:
            return None
        if side is not None and side != self.reference.steps[step_id].action:
            return by_task.get(side)
        main = by_task.get(None)
        if main is not None:
            return main
        # Only side tasks are stated: the more careful of them speaks for the piece.
        return max(by_task.values(), key=lambda s: (GRADES.index(s.grade), s.action or ""))

    def described(self, step_id: str, subject: str) -> Judgement | None:
        """An entry that describes the piece as unfit for the step although nobody judged it."""
        return self._described.get((step_id, subject))

    def subjects(self, step_id: str) -> tuple[str, ...]:
        """Every subject with a stated grade in the step."""
        return tuple(sorted(subject for step, subject in self._by_pair if step == step_id))


def is_evidence(judgement: Judgement) -> bool:
    """Whether somebody judged the piece for the step (and the entry holds without a condition)."""
    described = judgement.features_only and judgement.how_known == "practice"
    return not described and judgement.condition is None


def side_task_of(step: Step, pattern: Pattern) -> str | None:
    """The side task that a helping piece does: one that the limits name, else its main offer."""
    offered = [offer.action for offer in pattern.offers]
    for limit in step.limits:
        for _, action in limit.side_tasks:
            if action in offered:
                return action
    main = [o.action for o in pattern.offers if o.role == "main" and o.action != step.action]
    return main[0] if main else (offered[0] if offered else None)


def _joined(action: str | None, group: list[Judgement]) -> Stated:
    worst = max(group, key=lambda j: (GRADES.index(j.grade), j.id))
    roles = sorted({j.role or j.as_action or "" for j in group} - {""})
    return Stated(
        grade=worst.grade,
        judgements=tuple(sorted(group, key=lambda j: (-GRADES.index(j.grade), j.id))),
        hazards=tuple(sorted({j.hazard for j in group if j.hazard and j.grade == worst.grade})),
        disputed=len({j.grade for j in group}) > 1,
        role=roles[0] if roles else None,
        action=action,
    )


def careful_of(step: Step) -> Grade:
    """The careful grade where nothing is known: harm is reckoned with beside what must live."""
    harms = any(d.level == "never" for d in step.demands) or any(
        set(limit.vital_near) - {"none"} for limit in step.limits
    )
    return "unsafe" if harms else "unable"
