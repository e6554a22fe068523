"""Which patterns can lead a step, by what is stated of them and by what they offer.

A pattern leads a step ("main") when it offers the step's action, or when a judgement names it
usable there for an action that reaches the same end.  A piece that only helps, drives or guards
does not cover a step, and one that reaches the end another way ("other") covers it with a remark.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from typing import Literal

from etui.knowledge.model import USABLE, Judgement, Reference, Step
from etui.trays.lore import Lore

Duty = Literal["main", "other", "side"]

BARE_HANDS = 1
"""Strength of a target (0..5) up to which a makeshift by hand serves: thin membranes, film."""
_HELPS = frozenset({"assist", "partner", "guard", "driver", "handle"})


@dataclass(frozen=True, slots=True)
class Hand:
    """A manoeuvre that a step can be done by."""

    id: str
    name: str
    grade: str
    because: str
    other_way: bool
    needs: tuple[str, ...] = ()

    def can(self, present: Container[str]) -> bool:
        """Whether one of the things it is done with or to is there (none named: a bare hand)."""
        return not self.needs or any(pattern in present for pattern in self.needs)


@dataclass(frozen=True, slots=True)
class StepDuty:
    """What can serve one step.

    ``duties``: pattern -> main, other or side.  ``stated``: pattern -> its judgement.
    ``first_line``: patterns stated preferred that lead the step, in the order stated; ``good``:
    also the acceptable ones.  ``hands``: manoeuvres, best first; ``helping_hand``: a hand is
    stated to help.  ``by_hand``: the manoeuvres that do the step themselves, best first; a
    makeshift only where no strength is needed.
    """

    step: Step
    duties: dict[str, Duty]
    stated: dict[str, Judgement]
    first_line: tuple[str, ...]
    good: tuple[str, ...]
    hands: tuple[Hand, ...]
    helping_hand: bool = False
    by_hand: tuple[Hand, ...] = ()


class Duties:
    """The duties of all steps, worked out when first asked for."""

    def __init__(self, reference: Reference, lore: Lore) -> None:
        self.reference = reference
        self.lore = lore
        self._done: dict[str, StepDuty] = {}
        self._offering: dict[str, frozenset[str]] = {}
        for pattern in reference.patterns.values():
            for offer in pattern.offers:
                held = self._offering.get(offer.action, frozenset())
                self._offering[offer.action] = held | {pattern.id}

    def offering(self, action: str) -> frozenset[str]:
        """Patterns that offer an action."""
        return self._offering.get(action, frozenset())

    def of(self, step_id: str) -> StepDuty:
        """The duties of one step."""
        if step_id not in self._done:
            self._done[step_id] = self._work_out(self.reference.steps[step_id])
        return self._done[step_id]

    def _work_out(self, step: Step) -> StepDuty:
        known = self.reference.patterns
        hand_like = self._hand_like()
        stated: dict[str, Judgement] = {}
        hands: list[Hand] = []
        helping = False
        for judgement in step.judgements:
            subject = judgement.subject
            if subject in known and subject not in hand_like:
                first = stated.get(subject)
                if first is None or _careful(judgement, first):
                    stated[subject] = judgement
            elif judgement.grade in USABLE:
                able = judgement.grade != "improvised" and judgement.role != "alternative"
                helping = helping or able
                if judgement.role not in _HELPS:
                    hands.append(self._hand(judgement))
        offering = self.offering(step.action)
        same = self.lore.same_end.get(step.action, frozenset())
        nobody_offers = not any(
            p in offering and j.grade in USABLE for p, j in stated.items()
        )
        duties: dict[str, Duty] = {}
        for pattern in known:
            if pattern in hand_like:
                continue
            duty = self._duty(step, pattern, stated.get(pattern), offering, same, nobody_offers)
            if duty:
                duties[pattern] = duty
        order = {"preferred": 0, "acceptable": 1, "improvised": 2}
        lead = [p for p in stated if duties.get(p) == "main"]
        hands_in_order = tuple(sorted(hands, key=lambda h: (order[h.grade], h.id)))
        return StepDuty(
            step=step, duties=duties, stated=stated,
            first_line=tuple(p for p in lead if stated[p].grade == "preferred"),
            good=tuple(
                sorted(
                    (p for p in lead if stated[p].grade in {"preferred", "acceptable"}),
                    key=lambda p: order[stated[p].grade],
                )
            ),
            hands=hands_in_order, helping_hand=helping,
            by_hand=_itself(hands_in_order, step.strength or 0),
        )

    def _hand_like(self) -> frozenset[str]:
        """Patterns that are manoeuvres of a bare hand."""
        return frozenset(
            p.id
            for p in self.reference.patterns.values()
            if "manoeuvre" in p.features.get("part", ())
        )

    def _hand(self, judgement: Judgement) -> Hand:
        subject = judgement.subject
        known = self.reference.manoeuvres.get(subject) or self.reference.patterns.get(subject)
        name = known.name if known else subject
        return Hand(
            subject, name, judgement.grade, judgement.because or "",
            judgement.role == "alternative", judgement.with_partner,
        )

    def _duty(
        self,
        step: Step,
        pattern: str,
        judgement: Judgement | None,
        offering: frozenset[str],
        same: frozenset[str],
        nobody_offers: bool,
    ) -> Duty | None:
        if judgement is None:
            return "main" if pattern in offering else None
        if judgement.role in _HELPS:
            return "side"
        if judgement.role == "alternative":
            return "other"
        acts = judgement.as_action
        if acts and acts != step.action:
            return "main" if acts in same and judgement.grade in USABLE else "side"
        if pattern in offering:
            return "main"
        if judgement.grade not in USABLE:
            return "main"
        offers = {o.action for o in self.reference.patterns[pattern].offers}
        if nobody_offers or offers & same:
            return "main"
        return "side"


def _itself(hands: tuple[Hand, ...], strength: int) -> tuple[Hand, ...]:
    """The manoeuvres that do a step themselves, best first."""
    grades = {"preferred", "acceptable"} | ({"improvised"} if strength <= BARE_HANDS else set())
    return tuple(h for h in hands if h.grade in grades and not h.other_way)


def _careful(new: Judgement, old: Judgement) -> bool:
    """Of two judgements on one pair, the one without a side role leads; then the worse grade."""
    order = ("preferred", "acceptable", "improvised", "unable", "unsafe")
    if (new.role is None) != (old.role is None):
        return new.role is None
    return order.index(new.grade) > order.index(old.grade)
