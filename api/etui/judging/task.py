"""What a step asks of a piece under given circumstances, gathered once and then compared often.

A :class:`TaskView` merges the step's own record with the limit rows that hold for the approach,
patient and site, drops demands whose condition is not met, and turns to the side task when the
piece in question does not do the step's main action.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from etui.judging.model import Circumstance
from etui.judging.words import bag
from etui.knowledge.model import Demand, Limit, Range, Reference, Step

if TYPE_CHECKING:
    from etui.judging.rulebook import RuleBook


class TaskView:
    """One task: a step (or a side task of it) with the limits that hold here."""

    __slots__ = (
        "action", "already_open", "at_risk", "coarsest", "conditional", "finest", "force",
        "guards", "hard", "key", "limit_words", "longest", "musts", "narrowest", "nevers",
        "patient", "permitted", "permitted_coarse", "reach", "room", "shoulds", "side",
        "spared", "states", "step", "stiffness", "strength", "strength_counts", "vital",
        "widest", "words", "works_on",
    )

    def __init__(
        self, reference: Reference, book: RuleBook, step: Step, around: Circumstance,
        action: str | None = None,
    ) -> None:
        self.step = step
        self.side = action is not None and action != step.action
        self.action = action or step.action
        self.key = f"{step.id} {self.action}" if self.side else step.id
        self.patient = around.patient or _usual_patient(step)
        self.states = tuple(sorted(set(around.states)))
        rows = _rows(step.limits, around, self.patient)
        measures = _merged(rows)
        words = _merged_words(rows, book)
        self.limit_words = words
        self.permitted = frozenset(kind for row in rows for kind in row.permitted_trauma)
        self.permitted_coarse = frozenset(step.permitted_trauma)
        self.vital = frozenset(t for row in rows for t in row.vital_near) - {"none"}
        self.guards = frozenset(g for row in rows for g in row.guard_required) - {"none"}
        self.widest = measures.get("widest_working_end_mm")
        self.narrowest = measures.get("narrowest_working_end_mm")
        self.longest = measures.get("longest_blade_mm")
        self.reach = measures.get("reach_mm")
        self.force = words.get("force_needed")
        self.stiffness = words.get("stiffness_needed")
        self.already_open = words.get("already_open")
        self.hard = words.get("hard_state") or ""
        self.room = step.room_mm
        self.works_on = frozenset(step.works_on)
        self.spared = frozenset(step.must_spare)
        self.at_risk = frozenset(risk.tissue for risk in step.at_risk)
        self.strength = step.strength
        term = reference.terms.get("action", {}).get(self.action)
        self.strength_counts = term is not None and term.strength_counts
        self.coarsest, self.finest = step.coarsest, step.finest
        self.words = _words(step)
        held = conditions(around, self.patient)
        active = [d for d in step.demands if d.condition is None or d.condition in held]
        self.conditional = tuple(d for d in step.demands if d not in active)
        active = [d for d in active if d.about != "conduct"]
        self.musts = _of(active, "must")
        self.shoulds = _of(active, "should")
        self.nevers = _of(active, "never")
        tissue = reference.terms.get("tissue", {}).get(step.target)
        for state in self.states:
            harder = tissue.numbers.get(f"strength:{state}") if tissue is not None else None
            if harder is not None and self.strength is not None:
                self.strength = max(self.strength, int(harder))
        if self.side:
            # A side task is done to something else than the step's target (a needle, a thread, a
            # swab), so the target's limits do not hold; what must be spared still does.
            self.musts = self.shoulds = ()
            self.permitted = self.permitted_coarse = frozenset()
            self.widest = self.narrowest = self.longest = None
            self.strength = self.coarsest = self.finest = None
            self.force = self.stiffness = self.already_open = None
            self.works_on = frozenset()
            self.nevers = ()


def _words(step: Step) -> frozenset[str]:
    """The words of a step: its names, target, and what it works on or must spare."""
    risks = (f"{risk.tissue} {risk.how}" for risk in step.at_risk)
    return bag(" ".join((
        step.name, *(name.text for name in step.names), step.target, step.action,
        step.when or "", *step.works_on, *step.must_spare, *risks, step.other_is or "",
    )))


def _usual_patient(step: Step) -> str:
    """The patient to reckon with when nothing is said: the step's own, else an adult."""
    return step.patient if step.patient in ("child", "newborn") else "adult"


def conditions(around: Circumstance, patient: str) -> frozenset[str]:
    """Words under which a conditional demand holds here: manners, states, patient, site."""
    words = {*around.manners, *around.states, patient}
    if around.site:
        words.add(around.site)
    if around.patient is None:
        words.discard(patient)
    return frozenset(words)


def _rows(rows: Iterable[Limit], around: Circumstance, patient: str) -> list[Limit]:
    """The limit rows that hold: the most specific one, or all of them where none is chosen."""
    fitting = [
        row for row in rows
        if (not row.approaches or around.approach is None or around.approach in row.approaches)
        and row.patient in (None, patient)
        and (row.site is None or row.site == around.site)
    ]
    if not fitting:
        fitting = [row for row in rows if row.site is None] or list(rows)
    best = max((_specific(row, around) for row in fitting), default=0)
    return [row for row in fitting if _specific(row, around) == best]


def _specific(row: Limit, around: Circumstance) -> int:
    chosen = around.approach is not None and around.approach in row.approaches
    return 4 * (row.site is not None) + 2 * (row.patient is not None) + int(chosen)


def _merged(rows: list[Limit]) -> dict[str, Range]:
    """Sizes of all rows as one range each: any approach may be the one that is taken."""
    merged: dict[str, Range] = {}
    for row in rows:
        for key, value in row.measures.items():
            known = merged.get(key)
            merged[key] = value if known is None else Range(
                low=min(known.low, value.low), high=max(known.high, value.high)
            )
    if len(rows) > 1:
        # A limit that one approach does not state is no limit of the step as a whole.
        for key in ("widest_working_end_mm", "longest_blade_mm"):
            if any(key not in row.measures for row in rows):
                merged.pop(key, None)
    return merged


def _merged_words(rows: list[Limit], book: RuleBook) -> dict[str, str]:
    """Words of all rows; where they differ on a scale the easier one, else the word is open."""
    merged: dict[str, str] = {}
    for row in rows:
        for key, word in row.words.items():
            known = merged.get(key)
            if known is None or known == word:
                merged[key] = word
                continue
            scale = {"force_needed": "force", "already_open": "already_open"}.get(key)
            if scale is not None:
                merged[key] = min(known, word, key=lambda w: book.rank(scale, w) or 0.0)
            elif key == "stiffness_needed":
                merged[key] = "any"
    return merged


def _of(demands: Iterable[Demand], level: str) -> tuple[Demand, ...]:
    return tuple(d for d in demands if d.level == level)
