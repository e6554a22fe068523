"""What speaks against a first answer: other pieces in hand, older ids, parts, descriptions.

The judge grades one candidate for one step.  A question in words says more: which part is
missing, what else is in hand, what the tables describe without having judged it.  Nothing here
raises a grade that the judge gave on evidence; it only takes the more careful of two.
"""

from __future__ import annotations

import re

from msgspec.structs import replace as changed

from etui.judging.candidate import CandidateReading
from etui.judging.engine import Judge
from etui.judging.model import Answer, Candidate, Circumstance, Ground, Piece
from etui.judging.pieces import Choice, Pieces
from etui.judging.units import part_is
from etui.judging.wording import words
from etui.knowledge.model import GRADES, USABLE, Grade, Reference, StandIn, Step, Unit
from etui.reading.model import Alternative

_BORE = re.compile(
    r"\b(?:size|no\.?|number)\s*(\d{1,2}(?:\.\d)?)\b|\b(\d{1,2}\.\d)\b(?!\s*(?:in|cm|ml|l)\b)",
    re.IGNORECASE,
)
"""The bore of a tube as it is said: "size 8", "7.5"."""


class SecondLook:
    """Holds answers against what else is known of the pieces in the question."""

    def __init__(self, reference: Reference, judge: Judge) -> None:
        self.reference = reference
        self.judge = judge

    def narrowed(self, step: Step, reading: CandidateReading) -> CandidateReading:
        """A name that several patterns share is read as the one the step speaks of.

        With none spoken of, those count that offer what the step does.
        """
        choice = reading.choice
        if choice is None:
            return self._meant_here(step, reading)
        if self._other_size(choice):
            text = reading.candidate.text
            said = f"{choice.text}: a size that none of the reference has"
            return changed(
                reading, choice=None, unresolved=(*reading.unresolved, said),
                candidate=changed(reading.candidate, pieces=(), improvised=text),
            )
        choice = changed(choice, options=_of_size(choice.text, choice.options))
        stated = [o for o in choice.options if self.judge.stated.of(step.id, o.id) is not None]
        able = stated or [
            o
            for o in choice.options
            if (p := self.reference.patterns.get(o.id)) is not None
            and any(offer.action == step.action for offer in p.offers)
        ]
        kept = _of_size(choice.text, tuple(able or choice.options))
        if len(kept) > 1:
            return changed(reading, choice=changed(choice, options=kept))
        pieces = (Piece(id=kept[0].id), *reading.candidate.pieces)
        return changed(
            reading,
            candidate=changed(reading.candidate, pieces=pieces, improvised=None),
            choice=None,
        )

    def _other_size(self, choice: Choice) -> bool:
        """Whether the words state a bore that no option has, while some options state theirs."""
        said = {float(a or b) for a, b in _BORE.findall(choice.text)}
        bores = [
            bore
            for option in choice.options
            if (pattern := self.reference.patterns.get(option.id)) is not None
            and (bore := pattern.measures.get("id_mm")) is not None
        ]
        return bool(said and bores) and not any(
            bore.low <= size <= bore.high for bore in bores for size in said
        )

    def _meant_here(self, step: Step, reading: CandidateReading) -> CandidateReading:
        """A loose name of a piece that the step does not speak of, read as one that it does."""
        lead = reading.candidate.pieces[:1]
        if not lead or reading.by_hand or self.judge.stated.of(step.id, lead[0].id) is not None:
            return reading
        spoken = tuple(
            o for o in reading.nearly if self.judge.stated.of(step.id, o.id) is not None
        )
        if not spoken:
            return reading
        rest = changed(reading.candidate, pieces=reading.candidate.pieces[1:])
        if len(spoken) > 1:
            choice = Choice(text=reading.candidate.text, options=spoken)
            return changed(reading, candidate=rest, choice=choice)
        piece = changed(lead[0], id=spoken[0].id)
        return changed(reading, candidate=changed(rest, pieces=(piece, *rest.pieces)))

    def with_others(
        self, step: Step, reading: CandidateReading, used: Candidate, answer: Answer,
        around: Circumstance,
    ) -> Answer:
        """The worst of all pieces in hand, and of what was stated under a piece's older id."""
        if not used.pieces:
            return answer
        lead = used.pieces[0]
        older = [
            p.id for p in self.reference.patterns.values()
            if p.replaced_by == lead.id and self.judge.stated.of(step.id, p.id) is not None
        ]
        others = [id_ for id_ in reading.others if self._does(id_, step)]
        worst = self._harm_first(step, used, answer)
        for id_ in dict.fromkeys((*older, *others)):
            pieces = (changed(lead, id=id_), *used.pieces[1:])
            other = self.judge.judge(step.id, changed(used, pieces=pieces), around)
            if other.grade is None:
                continue
            if id_ in older and not worst.stated:
                worst = other
            elif other.grade not in USABLE and worst.grade in USABLE:
                grounds = (*other.grounds, *answer.grounds)
                worst = changed(other, grounds=grounds, disputed=id_ in older)
        return worst

    def _harm_first(self, step: Step, used: Candidate, answer: Answer) -> Answer:
        """A stated harm of the leading piece holds whatever the whole can or cannot do."""
        if answer.grade == "unsafe" or answer.stated or used.manners or used.techniques:
            return answer
        lead = used.pieces[0].id
        stated = self.judge.stated.of(step.id, lead)
        if stated is None or stated.action is not None or stated.grade != "unsafe":
            return answer
        alone = self.judge.judge(step.id, Candidate(text=used.text, pieces=used.pieces[:1]))
        return changed(alone, grounds=(*alone.grounds, *answer.grounds))

    def as_described(self, step: Step, used: Candidate, answer: Answer) -> Answer:
        """A derived grade, held to what the tables describe of the pair where that is worse.

        Such a description restates features and nobody judged the pair, so it is never a pass and
        raises nothing; but a piece described as harming or unable is not called usable by rules.
        """
        if answer.stated or not used.pieces or used.techniques:
            return answer
        lead = used.pieces[0].id
        found = [
            j for j in step.judgements
            if j.subject == lead and j.features_only and j.how_known == "practice"
            and not j.role and not j.as_action and j.condition is None
        ]
        if not found:
            return answer
        worst = max(found, key=lambda j: GRADES.index(j.grade))
        held = answer.grade
        if worst.grade in USABLE and held is None:
            return answer
        if held is not None and (GRADES.index(held) >= GRADES.index(worst.grade)):
            return answer
        known = self.reference.patterns.get(lead)
        name = known.name if known else lead
        ground = Ground(
            demand=step.name, offer=name, consequence=worst.because or worst.grade,
            source=worst.source, how_known=worst.how_known, rule="description",
            level="against",
        )
        hazards = tuple(sorted({*answer.hazards, *([worst.hazard] if worst.hazard else [])}))
        return changed(
            answer, grade=worst.grade, asks=None, careful=None, hazards=hazards,
            grounds=(ground, *answer.grounds),
        )

    def _does(self, id_: str, step: Step) -> bool:
        pattern = self.reference.patterns.get(id_)
        return pattern is not None and any(o.action == step.action for o in pattern.offers)

    def as_part(
        self, step: Step, missing: Pieces, candidate: Candidate, answer: Answer
    ) -> Answer:
        """What the graph says of the candidate as a stand-in for the missing part of a unit.

        It has a grade of its own; where the step's differs, the more careful one holds.
        """
        if not candidate.pieces:
            return answer
        lead = candidate.pieces[0].id
        for lost in missing.pieces:
            for unit_id in self.judge.units.of.get(lost.id, ()):
                unit = self.reference.units[unit_id]
                if step.action not in unit.actions:
                    continue
                slot = next((s for s in unit.slots if lost.id in s.alternatives), None)
                for stand in unit.stand_ins:
                    if stand.subject != lead or slot is None or not part_is(
                        stand.part, slot, short=False
                    ):
                        continue
                    return _more_careful(answer, stand, unit)
        return answer


def _of_size(text: str, options: tuple[Alternative, ...]) -> tuple[Alternative, ...]:
    """Those options whose name has the number that the text has, when some do."""
    said = {w for w in words(text) if w[0].isdigit()}
    fitting = tuple(o for o in options if said & set(words(o.name)))
    return fitting if said and fitting else options


def candidates_of(reading: CandidateReading) -> list[Candidate]:
    """The candidate, or one for each pattern that its leading words may mean."""
    if reading.choice is None:
        return [reading.candidate]
    return [
        changed(
            reading.candidate,
            pieces=(Piece(id=option.id), *reading.candidate.pieces),
            improvised=None,
        )
        for option in reading.choice.options[:12]
    ] or [reading.candidate]


def one_answer(
    reading: CandidateReading, answers: list[tuple[Candidate, Answer]]
) -> tuple[Answer, str | None]:
    """One answer for all readings: the common grade, else a question.

    Grades on the same side of the safety line are answered with the most careful of them.
    """
    if len(answers) == 1:
        return answers[0][1], None
    held: list[tuple[Grade, Answer]] = [
        (answer.grade or answer.careful or "unsafe", answer) for _, answer in answers
    ]
    worst = max(held, key=lambda r: GRADES.index(r[0]))
    sides = {grade in USABLE for grade, _ in held}
    if len(sides) == 1 and all(answer.grade is not None for _, answer in answers):
        return worst[1], None
    names = ", ".join(o.name for o in reading.choice.options[:5]) if reading.choice else ""
    ask = (reading.choice.ask if reading.choice else None) or f"Which is meant: {names}?"
    return changed(worst[1], grade=None, stated=False, asks=ask, careful=worst[0]), ask


def _more_careful(answer: Answer, stand: StandIn, unit: Unit) -> Answer:
    """The worse of an answer and of a stated stand-in for a part, with both reasons."""
    held = answer.grade
    if held is not None and GRADES.index(held) >= GRADES.index(stand.grade):
        return answer
    if stand.grade in USABLE and held is not None:
        return answer  # a fair stand-in for the part does not speak against the step's own grade
    ground = Ground(
        demand=f"{stand.part} of {unit.name}",
        offer=stand.text,
        consequence=stand.note or f"as a stand-in for this part: {stand.grade}",
        how_known=unit.how_known,
        rule="part-stand-in",
        level="for" if stand.grade in USABLE else "against",
    )
    return changed(
        answer, grade=stand.grade, stated=True, asks=None, careful=None,
        grounds=(ground, *answer.grounds), disputed=held is not None,
    )
