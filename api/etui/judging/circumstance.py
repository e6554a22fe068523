"""What a sentence says of tissue, patient, place and manner.

States (tense, slack, bleeding ...), patients and manners are read by the words that the graph
gives for them; a site or an approach counts only when the step itself makes a difference by it.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property

from etui.judging.condition import Conditions
from etui.judging.model import Circumstance
from etui.judging.wording import Phrases, all_stems, spans
from etui.knowledge.model import Record, Reference, Step

PATIENTS = ("adult", "child", "newborn")

TOWARD_VITAL = "toward_vital"
"""The manner of what is turned on or toward what must stay whole."""

_TOWARD = frozenset(("on", "onto", "into", "against", "toward", "towards", "at", "across"))
_AWAY = frozenset(("not", "never", "away", "kept"))
_SMALL = frozenset(("the", "a", "an", "his", "her", "its", "their"))


class Said(Record, frozen=True):
    """What was found in a text and where, so that it can be cut out of it."""

    ids: tuple[str, ...] = ()
    places: tuple[tuple[int, int], ...] = ()


class CircumstanceReader:
    """Reads states, patients, sites, approaches and manners; built once for a reference."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self._owned: dict[str, frozenset[str]] = {}

    @cached_property
    def _states(self) -> Phrases:
        known = {s for step in self.reference.steps.values() for s in step.target_state}
        values = self.reference.terms.get("value", {})
        rows = [
            (text, id_)
            for id_ in sorted(known | set(PATIENTS))
            if (term := values.get(id_)) is not None
            for text in (term.name, *term.aliases)
        ]
        return Phrases(rows)

    @cached_property
    def _manners(self) -> Phrases:
        """Only spoken forms: the bare name of a manner may mean something else in a line."""
        spoken = [
            (name.text, manner.id)
            for manner in self.reference.manners.values()
            for name in manner.names
            if name.kind == "trade"
        ]
        return Phrases(spoken, exact=True)

    def states(self, text: str) -> tuple[str, ...]:
        """States of the tissue that the text names."""
        return tuple(
            sorted({id_ for id_, _, _ in self._states.find(text) if id_ not in PATIENTS})
        )

    def patient(self, *texts: str) -> str | None:
        """The patient that a text names; None when none does."""
        found = {id_ for text in texts for id_, _, _ in self._states.find(text)} & set(PATIENTS)
        for patient in ("newborn", "child", "adult"):
            if patient in found:
                return patient
        return None

    @cached_property
    def _conditions(self) -> Conditions:
        return Conditions(self.reference.manners.values())

    def manners(self, text: str) -> Said:
        """How the thing is used, and in what state it is, as said."""
        hits = (*self._manners.find(text), *self._conditions.find(text))
        return Said(
            ids=tuple(sorted({id_ for id_, _, _ in hits})),
            places=_merged((start, end) for _, start, end in hits),
        )

    def toward_vital(self, step: Step, text: str) -> bool:
        """Whether *text* turns the piece on or toward what *step* must leave whole."""
        near = {t for limit in step.limits for t in limit.vital_near} - {step.target}
        row = spans(text)
        ends = {span.end: at for at, span in enumerate(row)}
        starts = {span.start: at for at, span in enumerate(row)}
        for tissue, start, end in self._tissues.find(text):
            if tissue not in near or ends[end] < 1:
                continue
            at = starts[start] - 1
            while at > 0 and row[at].word in _SMALL:
                at -= 1
            if row[at].word in _TOWARD and not (at and row[at - 1].word in _AWAY):
                return True
        return False

    @cached_property
    def _tissues(self) -> Phrases:
        terms = self.reference.terms.get("tissue", {}).values()
        return Phrases((text, t.id) for t in terms for text in (t.name, *t.aliases))

    def read(
        self,
        step: Step,
        text: str,
        *,
        procedure_text: str = "",
        patient: str | None = None,
        side_task: str | None = None,
    ) -> Circumstance:
        """Everything that the sentence *text* says about doing *step*."""
        row = frozenset(all_stems(text))
        return Circumstance(
            states=self.states(text),
            patient=patient or self.patient(text, procedure_text),
            site=None if self._is_name(step, text) else self._site(step, row),
            approach=self._approach(step, f"{procedure_text} {text}"),
            manners=tuple(
                m for m in self.manners(text).ids
                if m not in self._own(step) and not self.reference.manners[m].about_piece
            ),
            side_task=side_task,
        )

    @staticmethod
    def _is_name(step: Step, text: str) -> bool:
        """Whether the text is a name of the step: "forceps hand" speaks of no hand wound."""
        level = all_stems(text)
        return any(all_stems(t) == level for t in (step.name, *(n.text for n in step.names)))

    def _own(self, step: Step) -> frozenset[str]:
        """Manners that the step's own names speak of: its grades reckon with them already."""
        found = self._owned.get(step.id)
        if found is None:
            spoken = (step.name, *(n.text for n in step.names))
            found = frozenset(m for text in spoken for m in self.manners(text).ids)
            self._owned[step.id] = found
        return found

    @staticmethod
    def _site(step: Step, row: frozenset[str]) -> str | None:
        """The site of a limit row that the text names ("elbow" of "elbow, knee, wrist")."""
        for limit in step.limits:
            for part in (limit.site or "").split(","):
                named = frozenset(all_stems(part))
                if named and named <= row:
                    return limit.site
        return None

    def _approach(self, step: Step, text: str) -> str | None:
        """The approach whose own word the text names; None when none or several are named."""
        procedure = self.reference.procedures.get(step.procedure)
        if procedure is None or len(procedure.approaches) < 2:
            return None
        row = frozenset(all_stems(text))
        open_to = step.approaches or tuple(a.id for a in procedure.approaches)
        named = [
            a.id
            for a in procedure.approaches
            if a.id in open_to and frozenset(all_stems(a.id)) <= row
        ]
        return named[0] if len(named) == 1 else None


def _merged(places: Iterable[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """Places in order, those that overlap as one, so that each can be cut out once."""
    out: list[tuple[int, int]] = []
    for start, end in sorted(set(places)):
        if out and start < out[-1][1]:
            out[-1] = (out[-1][0], max(end, out[-1][1]))
        else:
            out.append((start, end))
    return tuple(out)
