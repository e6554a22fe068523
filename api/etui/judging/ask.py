"""Ask for a stand-in: from words to a graded answer, with everything unresolved said.

``replace`` takes procedure, step, missing piece and candidate as ids or as people say them and
gives the answer of the machine contract.  It never answers about something else: a procedure, a
step or a candidate that cannot be read is listed under ``unresolved`` with the best guesses, and
the grade stays open.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from msgspec.structs import replace as changed

from etui.errors import BadInput
from etui.judging.candidate import CandidateReader, CandidateReading, Choice, Pieces, Reads
from etui.judging.circumstance import CircumstanceReader
from etui.judging.engine import Judge
from etui.judging.in_use import held_at
from etui.judging.model import Answer, Candidate, Circumstance, Ground, Piece
from etui.judging.procedure_match import ProcedureMatcher
from etui.judging.step_match import StepMatch, StepMatcher, best_guess_line
from etui.judging.substitutes import Substitutes, source_lines
from etui.judging.units import part_is
from etui.judging.wording import words
from etui.knowledge.model import GRADES, USABLE, Grade, Record, Reference, StandIn, Step, Unit
from etui.reading.model import Alternative

__all__ = ["Asker", "replace"]

KEYS = ("procedure", "step", "missing", "candidate")
BETTER = 6
"""How many better pieces are named beside a graded candidate."""


class Question(Record, frozen=True):
    """A question as asked, words stripped; empty text is the same as nothing."""

    procedure: str = ""
    step: str = ""
    missing: str = ""
    candidate: str = ""


class Asked(Record, frozen=True):
    """A question with procedure, step and missing piece resolved as far as they go."""

    question: Question
    step: Step | None
    match: StepMatch
    missing: Pieces
    around: Circumstance = Circumstance()
    unresolved: tuple[str, ...] = ()


class Asker:
    """Answers questions about stand-ins; built once for a reference and safe to share.

    Args:
        reference: The loaded graph.
        reader: Reads instrument lines (:class:`etui.reading.Reader`).
        judge: Grades candidates (:class:`etui.judging.Judge`).
    """

    def __init__(self, reference: Reference, reader: Reads, judge: Judge) -> None:
        self.reference = reference
        self.judge = judge
        self.procedures = ProcedureMatcher(reference)
        self.steps = StepMatcher(reference)
        self.around = CircumstanceReader(reference)
        self.candidates = CandidateReader(reference, reader, judge.units)
        self.substitutes = Substitutes(reference, self.candidates, judge)

    def replace(self, query: Mapping[str, Any]) -> dict[str, Any]:
        """The answer to one question, as the machine contract has it.

        Raises:
            BadInput: If the query is no object, or a field has the wrong kind of value.
        """
        question = _question(query)
        asked = self.resolve(question)
        if asked.step is None:
            return self._open(asked)
        if not question.candidate:
            return self._listed(asked, asked.step, query)
        return self._graded(asked, asked.step)

    # -- resolving -------------------------------------------------------------------------

    def resolve(self, question: Question) -> Asked:
        """Procedure, step, circumstances and missing piece of a question."""
        missing = self.candidates.pieces(question.missing)
        unresolved = [f"missing: {text}" for text in missing.unread]
        match = self._step(question, missing, unresolved)
        if match.step is None:
            return Asked(
                question=question, step=None, match=match, missing=missing,
                unresolved=tuple(unresolved),
            )
        step = self.reference.steps[match.step]
        around = self.around.read(
            step, question.step, procedure_text=question.procedure,
            side_task=self._side_task(step, missing),
        )
        return Asked(
            question=question, step=step, match=match, missing=missing, around=around,
            unresolved=tuple(unresolved),
        )

    def _step(self, question: Question, missing: Pieces, unresolved: list[str]) -> StepMatch:
        if not question.step:
            unresolved.append("step: none is named")
            return StepMatch(step=None, score=0.0)
        pools: list[str | None] = [None]
        if question.procedure:
            found = self.procedures.match(question.procedure)
            if found.procedure is not None:
                pools = [found.procedure]
            elif question.step in self.reference.steps:
                pools = [self.reference.steps[question.step].procedure]
            else:
                nearest = "; ".join(f"{name} ({id_})" for id_, name, _ in found.nearest)
                unresolved.append(_near(f"procedure: {question.procedure}", nearest))
                return StepMatch(step=None, score=0.0)
        lost = [p.id for p in missing.pieces] + _options(missing.choice)
        given = self.candidates.pieces(question.candidate) if question.candidate else Pieces()
        hints = [p.id for p in given.pieces] + _options(given.choice)
        states = self.around.states(question.step)
        matches = [
            self.steps.match(
                pool, question.step, missing=lost, candidate=hints, states=states
            )
            for pool in pools
        ]
        best = max(matches, key=lambda m: (m.step is not None, m.score))
        if best.step is None:
            guesses = best_guess_line(best.guesses)
            unresolved.append(_near(f"step: {question.step}", guesses))
        return best

    def _side_task(self, step: Step, missing: Pieces) -> str | None:
        """The side task that the missing piece had in the step, None when it did the step."""
        tasks: list[str | None] = []
        for id_ in [p.id for p in missing.pieces] or _options(missing.choice):
            entries = [j for j in step.judgements if j.subject == id_]
            if entries:
                found = {self.judge.stated.side_action(step, j) for j in entries}
                tasks.append(None if None in found else sorted(filter(None, found))[0])
                continue
            pattern = self.reference.patterns.get(id_)
            offered = {o.action for o in pattern.offers} if pattern else set()
            if not offered or step.action in offered:
                tasks.append(None)
                continue
            sides = [a for limit in step.limits for _, a in limit.side_tasks if a in offered]
            tasks.append(sides[0] if sides else None)
        distinct = set(tasks)
        return tasks[0] if len(distinct) == 1 else None

    # -- answers ---------------------------------------------------------------------------

    def _graded(self, asked: Asked, step: Step) -> dict[str, Any]:
        reading = self.candidates.read(step, asked.question.candidate)
        around = self._around(asked, reading)
        reading = self._narrowed(step, reading)
        answers = [
            (candidate, self.judge.judge(step.id, candidate, around))
            for candidate in _candidates(reading)
        ]
        answers = [
            (c, self._with_others(step, reading, c, self._as_part(step, asked, c, a), around))
            for c, a in answers
        ]
        if around.side_task is None:
            answers = [(c, self._as_described(step, c, a)) for c, a in answers]
        answer, note = _joined(reading, answers)
        if asked.match.near and answer.grade in USABLE:
            answer, note = self._unless_other_step(asked, step, answer, note)
        used = answers[0][0] if reading.choice is None else reading.candidate
        unresolved = [*asked.unresolved]
        unresolved += [f"candidate: {text}" for text in reading.unresolved]
        if reading.choice is not None:
            options = "; ".join(f"{o.name} ({o.id})" for o in reading.choice.options[:5])
            unresolved.append(f"candidate: {reading.choice.text} may be: {options}")
        elif not used.pieces and not used.techniques and not reading.unresolved:
            unresolved.append(f"candidate: {asked.question.candidate}: not in the reference")
        return self._out(
            step, answer, used, unresolved=tuple(unresolved), note=note,
            better=self._better(step, asked, answer, used),
        )

    def _narrowed(self, step: Step, reading: CandidateReading) -> CandidateReading:
        """A name that several patterns share is read as the one the step speaks of.

        With none spoken of, those count that offer what the step does.
        """
        choice = reading.choice
        if choice is None:
            return self._meant_here(step, reading)
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

    def _unless_other_step(
        self, asked: Asked, step: Step, answer: Answer, note: str | None
    ) -> tuple[Answer, str | None]:
        """A usable grade holds only if no step that may be meant as well calls it harmful."""
        for id_ in asked.match.near:
            other = self.reference.steps[id_]
            reading = self._narrowed(other, self.candidates.read(other, asked.question.candidate))
            there = self.judge.judge(id_, _candidates(reading)[0], asked.around)
            if there.stated and there.grade == "unsafe":
                ask = f'Which step is meant: "{step.name}" or "{other.name}"?'
                grounds = (*answer.grounds, *there.grounds)
                return (
                    changed(
                        answer, grade=None, stated=False, asks=ask, careful="unsafe",
                        grounds=grounds, hazards=there.hazards,
                    ),
                    ask,
                )
        return answer, note

    def _with_others(
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

    def _as_described(self, step: Step, used: Candidate, answer: Answer) -> Answer:
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
        name = self._named(lead)["name"]
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

    def _as_part(
        self, step: Step, asked: Asked, candidate: Candidate, answer: Answer
    ) -> Answer:
        """What the graph says of the candidate as a stand-in for the missing part of a unit.

        It has a grade of its own; where the step's differs, the more careful one holds.
        """
        if not candidate.pieces or asked.around.side_task is not None:
            return answer
        lead = candidate.pieces[0].id
        for lost in asked.missing.pieces:
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

    def _around(self, asked: Asked, reading: CandidateReading) -> Circumstance:
        """Circumstances of the step; a candidate that does the step itself is no side task."""
        asked = self._overcome(asked, reading)
        side = asked.around.side_task
        if side is None or asked.step is None:
            return asked.around
        for piece in reading.candidate.pieces[:1]:
            stated = self.judge.stated.of(asked.step.id, piece.id)
            if stated is not None and stated.action is None:
                break  # what is stated of the piece for the step itself holds, side task or not
            pattern = self.reference.patterns.get(piece.id)
            if pattern is None or any(o.action == side for o in pattern.offers):
                return asked.around
        return Circumstance(
            states=asked.around.states, patient=asked.around.patient, site=asked.around.site,
            approach=asked.around.approach, manners=asked.around.manners,
        )

    def _overcome(self, asked: Asked, reading: CandidateReading) -> Asked:
        """A fold that is held up already can be raised: the sac is not too tight for it."""
        lifted = "lifted" in reading.candidate.manners
        if not lifted or asked.step is None or asked.step.action not in ("lift", "grasp", "hold"):
            return asked
        states = tuple(s for s in asked.around.states if s != "tense")
        return changed(asked, around=changed(asked.around, states=states))

    def _better(
        self, step: Step, asked: Asked, answer: Answer, used: Candidate
    ) -> list[dict[str, Any]]:
        held = answer.grade or answer.careful
        limit = GRADES.index(held) if held else len(GRADES)
        lost = {p.id for p in asked.missing.pieces}
        skip = lost | {p.id for p in used.pieces}
        rows = [
            row
            for row in self.substitutes.stated(step, asked.around.side_task)
            if row.grade in USABLE and GRADES.index(row.grade) < limit and row.id not in skip
        ]
        return [{"id": r.id, "name": r.name, "grade": r.grade} for r in rows[:BETTER]]

    def _listed(self, asked: Asked, step: Step, query: Mapping[str, Any]) -> dict[str, Any]:
        lists = [
            (origin, source_lines(query.get(origin), origin)) for origin in ("tray", "stock")
        ]
        busy = self.substitutes.counted(source_lines(query.get("in_use"), "in_use"))
        if lists[0][1] and query.get("in_use") is None:
            have = self.substitutes.counted(lists[0][1])
            busy = held_at(have, step, reference=self.reference, judge=self.judge)
        found = self.substitutes.listing(
            step, asked.around, missing=asked.missing,
            lines=[(origin, lines) for origin, lines in lists if lines], busy=busy,
        )
        out = self._head(step, Candidate(), asked.unresolved + found.unresolved)
        out["substitutes"] = [s.out(self.reference) for s in found.usable]
        out["do_not_use"] = [s.out(self.reference) for s in found.refused]
        return out

    def _open(self, asked: Asked) -> dict[str, Any]:
        """No step could be found: nothing is graded."""
        what = "procedure" if any(u.startswith("procedure") for u in asked.unresolved) else "step"
        answer: dict[str, Any] = {
            "step": {"id": None, "name": None},
            "candidate": {"resolved": [], "manner": []},
            "grade": None,
            "stated": False,
            "asks": f"Which {what} is meant?",
            "careful": None,
            "reasons": [],
            "hazards": [],
            "better": [],
            "unresolved": list(asked.unresolved),
        }
        if asked.question.candidate:
            found = self.candidates.pieces(asked.question.candidate)
            answer["candidate"]["resolved"] = [self._named(p.id) for p in found.pieces]
        return answer

    def _head(
        self, step: Step, used: Candidate, unresolved: Iterable[str]
    ) -> dict[str, Any]:
        return {
            "step": {"id": step.id, "name": step.name},
            "candidate": {
                "resolved": [self._named(p.id) for p in used.pieces],
                "manner": [self._manner(m) for m in used.manners],
            },
            "grade": None,
            "stated": False,
            "asks": None,
            "careful": None,
            "reasons": [],
            "hazards": [],
            "better": [],
            "unresolved": list(unresolved),
        }

    def _out(
        self,
        step: Step,
        answer: Answer,
        used: Candidate,
        *,
        unresolved: tuple[str, ...],
        note: str | None,
        better: list[dict[str, Any]],
    ) -> dict[str, Any]:
        out = self._head(step, used, unresolved)
        out.update(
            grade=answer.grade,
            stated=answer.stated,
            asks=answer.asks or note if answer.grade is None else None,
            careful=answer.careful if answer.grade is None else None,
            reasons=[self._reason(g) for g in answer.grounds],
            hazards=[self._term("hazard", h) for h in answer.hazards],
            better=better,
        )
        if answer.disputed:
            out["disputed"] = True
        return out

    def _reason(self, ground: Ground) -> dict[str, Any]:
        source = self.reference.sources.get(ground.source or "")
        return {
            "demand": ground.demand,
            "offer": ground.offer,
            "consequence": ground.consequence,
            "source": source.title if source else ground.source,
            "how_known": ground.how_known,
        }

    def _named(self, id_: str) -> dict[str, str]:
        known = self.reference.patterns.get(id_) or self.reference.manoeuvres.get(id_)
        return {"id": id_, "name": known.name if known else id_}

    def _manner(self, id_: str) -> str:
        known = self.reference.manners.get(id_)
        return known.name if known else id_

    def _term(self, group: str, id_: str) -> str:
        known = self.reference.terms.get(group, {}).get(id_)
        return known.name if known else id_


def _question(query: Mapping[str, Any]) -> Question:
    if not isinstance(query, Mapping):
        raise BadInput(
            "The question is not an object.",
            mend='Give {"procedure", "step", "missing", "candidate"}.',
        )
    words: dict[str, str] = {}
    for key in KEYS:
        value = query.get(key)
        if value is None:
            continue
        if not isinstance(value, str):
            raise BadInput(
                f"{key} is not text.", where="question", mend=f"Write {key} as words or an id."
            )
        words[key] = " ".join(value.split())
    return Question(**words)


def _near(text: str, nearest: str) -> str:
    return f"{text}; nearest: {nearest}" if nearest else text


def _options(choice: Choice | None) -> list[str]:
    return [o.id for o in choice.options] if choice is not None else []


def _of_size(text: str, options: tuple[Alternative, ...]) -> tuple[Alternative, ...]:
    """Those options whose name has the number that the text has, when some do."""
    said = {w for w in words(text) if w[0].isdigit()}
    fitting = tuple(o for o in options if said & set(words(o.name)))
    return fitting if said and fitting else options


def _candidates(reading: CandidateReading) -> list[Candidate]:
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


def _joined(
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


_askers: dict[tuple[int, int, int], Asker] = {}


def replace(
    query: Mapping[str, Any], reference: Reference, reader: Reads, judge: Judge
) -> dict[str, Any]:
    """Answer one question about a stand-in.

    Args:
        query: ``procedure``, ``step``, ``missing``, ``candidate`` in words or ids; without a
            candidate the substitutes are listed, from ``tray`` and ``stock`` if given.  What
            earlier steps still hold (or what is named as ``in_use``) is not offered.
        reference: The loaded graph.
        reader: Reads instrument lines.
        judge: Grades candidates.

    Raises:
        BadInput: If the query is no object, or a field has the wrong kind of value.
    """
    key = (id(reference), id(reader), id(judge))
    asker = _askers.get(key)
    if asker is None or asker.reference is not reference or asker.judge is not judge:
        if len(_askers) >= 4:
            _askers.clear()
        asker = _askers[key] = Asker(reference, reader, judge)
    return asker.replace(query)
