"""Reason and source behind what is said, line by line."""

from __future__ import annotations

from etui.judging.model import Ground
from etui.knowledge.model import Judgement, Reference
from etui.trays.situation import Situation
from etui.trays.ways import StepCover, Way

_KNOWN = {
    "read": "read",
    "memory": "from memory",
    "practice": "common practice",
    "derived": "worked out by rules",
}


def source_words(reference: Reference, source: str | None, how_known: str) -> str:
    """Where a statement comes from, in words."""
    known = reference.sources.get(source) if source else None
    words = _KNOWN.get(how_known, how_known)
    return f"{words}: {known.title}" if known else words


def ground_line(reference: Reference, ground: Ground) -> str:
    """One reason of an answer as one line."""
    said = f"{ground.demand}: {ground.offer}. {ground.consequence}"
    return f"{said} ({source_words(reference, ground.source, ground.how_known)})"


def judgement_line(reference: Reference, judgement: Judgement) -> str:
    """A stated judgement as one line."""
    known = reference.patterns.get(judgement.subject) or reference.manoeuvres.get(
        judgement.subject
    )
    name = known.name if known else judgement.subject
    because = f" ({judgement.because})" if judgement.because else ""
    source = source_words(reference, judgement.source, judgement.how_known)
    return f"{name}: {judgement.grade}{because}. Source: {source}"


def way_lines(situation: Situation, cover: StepCover, way: Way) -> tuple[str, ...]:
    """Why a way has its grade at a step."""
    partners = tuple(
        p.held[0].pattern for p in way.assembly.parts if p.held and p.fill != "lacking"
    )
    answer = situation.bench.grader.answer(
        cover.id, way.pattern, way.lead.attributes, partners
    )
    lines = [ground_line(situation.reference, g) for g in answer.grounds]
    for part in way.assembly.parts:
        judgement = cover.duty.stated.get(part.held[0].pattern) if part.held else None
        if judgement is not None:
            lines.append(judgement_line(situation.reference, judgement))
        if part.fill == "stand-in":
            lines.append(f"In place of the {part.slot}: {part.words} ({part.cap}).")
    return tuple(dict.fromkeys(lines))


def step_lines(situation: Situation, cover: StepCover) -> tuple[str, ...]:
    """What a step asks for, and what is stated of its first-line pieces and of hands."""
    step, reference = cover.duty.step, situation.reference
    lines = []
    if step.when:
        lines.append(f"When: {step.when.removeprefix('when ')}.")
    for demand in step.demands:
        if demand.level == "must" and demand.because:
            lines.append(
                f"Must: {demand.feature} {demand.compare} {', '.join(demand.values)}: "
                f"{demand.because}."
            )
    for pattern in cover.duty.first_line[:3]:
        lines.append(judgement_line(reference, cover.duty.stated[pattern]))
    for hand in cover.duty.hands[:2]:
        because = f" ({hand.because})" if hand.because else ""
        lines.append(f"By hand: {hand.name}: {hand.grade}{because}.")
    for citation in step.citations[:2]:
        lines.append("Step: " + source_words(reference, citation.source, citation.how_known) + ".")
    return tuple(dict.fromkeys(lines))
