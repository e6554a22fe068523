"""How a manner changes a piece, and which grade it leaves.

A manner can add or take away a hazard, change strength, fineness and kind of trauma, and cap the
grade.  Whether a cap holds depends on what the piece is (edged, pointed, a locking jaw) and on
where it works (beside what must stay whole, in an open cavity): both are read off the records,
and the rules that join them are data in ``ontology/rules.ttl``.
"""

from __future__ import annotations

from typing import NamedTuple

from msgspec.structs import replace

from etui.judging.piece import PieceView
from etui.judging.rulebook import MannerRule, RuleBook
from etui.judging.task import TaskView
from etui.knowledge.model import GRADES, Grade, Manner, Offer, Reference

_ORGANS = frozenset({"skull", "lung", "eye", "globe", "brain"})
_DILATING = frozenset({"dilate", "puncture"})
_VESSELS = frozenset({"artery", "vein"})


class Effect(NamedTuple):
    """What the manners in use come to: the best grade left (None: no cap) and why."""

    cap: Grade | None
    rules: tuple[MannerRule, ...]
    removed: frozenset[str]


def known(reference: Reference, ids: tuple[str, ...]) -> tuple[Manner, ...]:
    """The manners named, in a fixed order; unknown ids are passed over."""
    return tuple(reference.manners[id_] for id_ in sorted(set(ids)) if id_ in reference.manners)


def changed(
    offer: Offer | None, piece: PieceView, manners: tuple[Manner, ...], book: RuleBook
) -> Offer | None:
    """The offer as it is when the piece is used in these manners."""
    if offer is None or not manners:
        return offer
    strength, trauma = offer.strength, offer.trauma
    facts = piece_facts(piece, offer)
    for manner in manners:
        # A manner can leave a piece weaker; that force makes it stronger is not reckoned with,
        # and how much of the end touches does not change what the end is.
        if manner.strength_change < 0 and strength is not None:
            strength = max(0, strength + manner.strength_change)
        for rule in book.manner_rules:
            if rule.trauma is None or rule.trigger != manner.id or not rule.when <= facts:
                continue
            now, then = book.rank("trauma", trauma), book.rank("trauma", rule.trauma)
            if now is None or then is None or then < now or manner.id in book.harsher_manners:
                trauma = rule.trauma
    return replace(offer, strength=strength, trauma=trauma)


def effect(
    task: TaskView, piece: PieceView, offer: Offer | None, manners: tuple[Manner, ...],
    book: RuleBook,
) -> Effect:
    """The cap that the manners put on the grade."""
    if not manners:
        return Effect(None, (), frozenset())
    removed = frozenset(h for manner in manners for h in manner.hazards_remove)
    facts = piece_facts(piece, offer) | task_facts(task, book)
    # What a piece is by itself (a drill that is driven, a tip that is hot) no manner adds to it.
    manners = tuple(m for m in manners if not _by_itself(m.id, offer))
    added = frozenset(
        h for m in manners if m.id not in book.hazards_by_rule for h in m.hazards_add
    ) - removed
    guarded = any(manner.id in book.guard_manners for manner in manners)
    triggers = added | {manner.id for manner in manners}
    hit = []
    for rule in book.manner_rules:
        if rule.cap is None or rule.trigger not in triggers or not rule.when <= facts:
            continue
        if rule.hazard is not None and rule.hazard in removed:
            continue
        if guarded and rule.hazard in ("cuts_unseen", "pierces_preserved", "plunges"):
            continue
        hit.append(rule)
    cap: Grade | None = None
    for rule in hit:
        if rule.cap is not None and (cap is None or _gravity(rule.cap) > _gravity(cap)):
            cap = rule.cap
    return Effect(cap, tuple(r for r in hit if r.cap == cap), removed)


def _gravity(grade: Grade) -> int:
    """Place of a grade among caps; harm comes before inability."""
    return len(GRADES) if grade == "unsafe" else GRADES.index(grade)


def _by_itself(manner: str, offer: Offer | None) -> bool:
    if manner == "powered":
        return True
    return manner == "heated" and offer is not None and offer.trauma == "thermal"


def piece_facts(piece: PieceView, offer: Offer | None) -> frozenset[str]:
    """What a piece is, in the words of the manner rules; used as made when it is not said how."""
    if offer is None and piece.offers:
        offer = piece.offers[0]
    facts = set()
    tip = offer.tip if offer is not None else None
    if piece.word("edge") not in (None, "none") or (offer and offer.trauma == "cutting"):
        facts.add("edged")
    if piece.word("point") not in (None, "none", "round") or tip == "sharp":
        facts.add("pointed")
    if offer is not None:
        if offer.lock not in (None, "none") and offer.trauma in ("crushing", "piercing"):
            facts.add("locking_jaw")
        ridged = ("transverse_full", "transverse_distal", "cross_hatched", "longitudinal")
        if offer.jaw_surface in ridged:
            facts.add("ridged_jaw")
        elif offer.jaw_surface in ("smooth",):
            facts.add("smooth_jaw")
        if offer.action in ("clip", "staple"):
            facts.add("clip")
    if not facts & {"edged", "pointed"} and tip not in ("sharp", "hook"):
        facts.add("blunt_end")
    return frozenset(facts)


def task_facts(task: TaskView, book: RuleBook) -> frozenset[str]:
    """What the place of a task is, in the words of the manner rules."""
    facts = set()
    if task.vital or task.spared or task.at_risk:
        facts.add("beside_vital")
    if task.guards - {"sight"}:
        facts.add("guard_required")
    if task.permitted and "crushing" not in task.permitted and task.step.fate == "preserve":
        facts.add("crush_not_permitted")
    if "friable" in task.states or "friable" in task.step.target_state:
        facts.add("friable")
    if task.limit_words.get("oxygen_or_alcohol_near") == "yes":
        facts.add("near_oxygen")
    if task.step.place == "deep_cavity":
        facts.add("open_cavity")
    if task.action in book.advancing:
        facts.add("advancing")
    if task.action in _DILATING:
        facts.add("dilates")
    facts.update(fact for fact, actions in book.action_facts.items() if task.action in actions)
    if task.step.target in _VESSELS:
        facts.add("in_vessel")
    if (task.spared | task.vital | task.works_on) & _ORGANS:
        facts.add("on_skull_or_lung_or_eye")
    return frozenset(facts)
