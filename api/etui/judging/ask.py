"""Ask for a stand-in: from words to a graded answer, with everything unresolved said.

``replace`` takes procedure, step, missing piece and candidate as ids or as people say them and
gives the answer of the machine contract.  It never answers about something else: a procedure, a
step or a candidate that cannot be read is listed under ``unresolved`` with the best guesses, and
the grade stays open.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from msgspec.structs import replace as changed

from etui.errors import BadInput
from etui.judging.answer_json import AnswerJson
from etui.judging.candidate import CandidateReader, CandidateReading, Choice, Pieces, Reads
from etui.judging.circumstance import CircumstanceReader
from etui.judging.engine import Judge
from etui.judging.in_use import held_at
from etui.judging.model import Answer, Candidate, Circumstance
from etui.judging.procedure_match import ProcedureMatcher
from etui.judging.second_look import SecondLook, candidates_of, one_answer
from etui.judging.step_match import StepMatch, StepMatcher, best_guess_line
from etui.judging.substitutes import Substitutes, source_lines
from etui.knowledge.model import GRADES, USABLE, Record, Reference, Step

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
        self.look = SecondLook(reference, judge)
        self.json = AnswerJson(reference)
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
        reading = self.look.narrowed(step, reading)
        answers = [
            (candidate, self.judge.judge(step.id, candidate, around))
            for candidate in candidates_of(reading)
        ]
        answers = [
            (c, self.look.with_others(step, reading, c, self._as_part(step, asked, c, a), around))
            for c, a in answers
        ]
        if around.side_task is None:
            answers = [(c, self.look.as_described(step, c, a)) for c, a in answers]
        answer, note = one_answer(reading, answers)
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
        return self.json.graded(
            step, answer, used, unresolved=tuple(unresolved), note=note,
            better=self._better(step, asked, answer, used),
        )

    def _unless_other_step(
        self, asked: Asked, step: Step, answer: Answer, note: str | None
    ) -> tuple[Answer, str | None]:
        """A usable grade holds only if no step that may be meant as well calls it harmful."""
        for id_ in asked.match.near:
            other = self.reference.steps[id_]
            reading = self.candidates.read(other, asked.question.candidate)
            reading = self.look.narrowed(other, reading)
            there_used = candidates_of(reading)[0]
            there = self.judge.judge(id_, there_used, asked.around)
            there = self.look.as_described(other, there_used, there)
            lead = there_used.pieces[0].id if there_used.pieces else None
            known = any(j.subject == lead and j.grade == "unsafe" for j in other.judgements)
            if known and there.grade == "unsafe":
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

    def _as_part(self, step: Step, asked: Asked, candidate: Candidate, answer: Answer) -> Answer:
        if asked.around.side_task is not None:
            return answer
        return self.look.as_part(step, asked.missing, candidate, answer)

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
        out = self.json.head(step, Candidate(), asked.unresolved + found.unresolved)
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
            answer["candidate"]["resolved"] = [self.json.named(p.id) for p in found.pieces]
        return answer


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
