"""What else does this step: from the tray, the stock, the reference, the hands.

Best first; what each costs against the missing piece is said.  Pieces that are in use are not
free.  What must not be reached for, the look-alikes of the missing piece first, stands apart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Literal

from etui.errors import BadInput
from etui.judging.candidate import CandidateReader, Pieces
from etui.judging.engine import Judge
from etui.judging.likeness import resemblance
from etui.judging.model import Answer, Candidate, Circumstance, Piece
from etui.knowledge.model import GRADES, USABLE, Grade, Pattern, Record, Reference, Step

Origin = Literal["tray", "stock", "reference", "hand"]
_ORDER: dict[str, int] = {"tray": 0, "hand": 1, "stock": 2, "reference": 3}

LISTED = 12
"""How many substitutes and how many refused pieces from the reference are listed."""

_SCALES: dict[str, tuple[tuple[str, ...], str, str]] = {
    "weight": (("micro", "delicate", "medium", "heavy"), "lighter", "heavier"),
}
_FINENESS = ("coarse", "medium", "fine", "micro")
_TRAUMA = (
    "none", "atraumatic", "blunt", "low_crush", "crushing", "piercing", "cutting", "thermal",
)


class StatedRow(Record, frozen=True):
    """One stated grade of a step, for listing."""

    id: str
    name: str
    grade: Grade
    because: str | None = None
    hazard: str | None = None


class Substitute(Record, frozen=True):
    """One thing that could be used instead (or must not be), and what it costs."""

    id: str
    name: str
    grade: Grade
    origin: Origin
    costs: tuple[str, ...] = ()
    answer: Answer | None = None
    text: str | None = None
    free: int | None = None

    @property
    def stated(self) -> bool:
        """Whether somebody judged this piece for this step."""
        return self.answer is not None and self.answer.stated

    def out(self, reference: Reference) -> dict[str, Any]:
        """The entry as the machine contract has it."""
        row: dict[str, Any] = {
            "id": self.id,
            "name": self.name,
            "grade": self.grade,
            "from": "reference" if self.origin == "hand" else self.origin,
            "stated": self.stated,
            "costs": list(self.costs),
            "reasons": [],
        }
        if self.origin == "hand":
            row["by_hand"] = True
        if self.text:
            row["text"] = self.text
        if self.free is not None:
            row["free"] = self.free
        for ground in self.answer.grounds[:4] if self.answer else ():
            source = reference.sources.get(ground.source or "")
            row["reasons"].append(
                {
                    "demand": ground.demand,
                    "offer": ground.offer,
                    "consequence": ground.consequence,
                    "source": source.title if source else ground.source,
                    "how_known": ground.how_known,
                }
            )
        if self.answer and self.answer.hazards:
            row["hazards"] = list(self.answer.hazards)
        return row


class Listing(Record, frozen=True):
    """Substitutes of a step, usable and refused, and lines that could not be read."""

    usable: tuple[Substitute, ...] = ()
    refused: tuple[Substitute, ...] = ()
    unresolved: tuple[str, ...] = ()


class Substitutes:
    """Lists what can stand in for a missing piece at a step."""

    def __init__(self, reference: Reference, candidates: CandidateReader, judge: Judge) -> None:
        self.reference = reference
        self.candidates = candidates
        self.judge = judge
        self._stated: dict[tuple[str, str | None], tuple[StatedRow, ...]] = {}

    def stated(self, step: Step, side_task: str | None = None) -> tuple[StatedRow, ...]:
        """What the step states, best first, hands included."""
        key = (step.id, side_task)
        if key not in self._stated:
            self._stated[key] = self._stated_rows(step, side_task)
        return self._stated[key]

    def _stated_rows(self, step: Step, side_task: str | None) -> tuple[StatedRow, ...]:
        rows = []
        for subject in self.judge.stated.subjects(step.id):
            found = self.judge.stated.of(step.id, subject, side_task)
            if found is None or (side_task is None and found.action is not None):
                continue
            known = self.reference.patterns.get(subject) or self.reference.manoeuvres.get(subject)
            if known is None:
                continue
            first = found.judgements[0]
            rows.append(
                StatedRow(
                    id=subject,
                    name=known.name,
                    grade=found.grade,
                    because=first.because,
                    hazard=first.hazard,
                )
            )
        return tuple(sorted(rows, key=lambda r: (GRADES.index(r.grade), r.name.lower(), r.id)))

    def listing(
        self,
        step: Step,
        around: Circumstance,
        *,
        missing: Pieces,
        lines: Sequence[tuple[str, Sequence[tuple[str, int | None]]]] = (),
        busy: Mapping[str, int] | None = None,
    ) -> Listing:
        """Everything that could be used for *step* in place of what is missing.

        Args:
            step: The step.
            around: States, patient, manner and side task of the question.
            missing: What is missing; it is not offered again from the reference.
            lines: (origin, lines) of the tray and the stock; with any, the reference is still
                listed after them.
            busy: Pieces of the tray (pattern id -> how many) that are in use and not free.
        """
        lost = {p.id for p in missing.pieces}
        lead = next(
            (self.reference.patterns[i] for i in lost if i in self.reference.patterns), None
        )
        taken_up = Counter(busy or {})
        found: dict[tuple[str, str], Substitute] = {}
        unresolved: list[str] = []
        for origin, rows in lines:
            for text, count in rows:
                read = self.candidates.pieces(text)
                unresolved += [f"{origin}: {t}" for t in read.unread]
                if not read.pieces:
                    continue
                have = count if count is not None else max(read.pieces[0].count, 1)
                taken = min(have, taken_up[read.pieces[0].id]) if origin == "tray" else 0
                taken_up[read.pieces[0].id] -= taken
                if have - taken <= 0:
                    continue
                item = self._judged(step, around, read.pieces, origin, lead, text, have - taken)
                kept = found.get((item.id, origin))
                if kept is None or GRADES.index(item.grade) < GRADES.index(kept.grade):
                    found[item.id, origin] = item
        known = {id_ for id_, _ in found}
        for id_ in self._from_reference(step, around):
            if id_ in known or id_ in lost:
                continue
            hand = self._is_hand(id_)
            item = self._judged(
                step, around, (Piece(id=id_),), "hand" if hand else "reference", lead, None, None
            )
            found[id_, item.origin] = item
        items = list(found.values())
        usable = [i for i in items if i.grade in USABLE]
        refused = [i for i in items if i.grade == "unsafe"]
        usable.sort(
            key=lambda i: (
                GRADES.index(i.grade), _ORDER[i.origin], not i.stated, i.name.lower(), i.id
            )
        )
        refused.sort(
            key=lambda i: (
                _ORDER[i.origin] > 0, self._unlike(i, lead), not i.stated, i.name.lower(), i.id
            )
        )
        return Listing(
            usable=_shortened(usable),
            refused=_shortened(refused),
            unresolved=tuple(dict.fromkeys(unresolved)),
        )

    def counted(self, in_use: Iterable[tuple[str, int | None]]) -> Counter[str]:
        """Pieces named in lines (pattern id -> how many)."""
        busy: Counter[str] = Counter()
        for text, count in in_use:
            for piece in self.candidates.pieces(text).pieces[:1]:
                busy[piece.id] += count if count is not None else max(piece.count, 1)
        return busy

    def _from_reference(self, step: Step, around: Circumstance) -> list[str]:
        """What the step states, then the pieces that the rules find; hands only as stated."""
        stated = [row.id for row in self.stated(step, around.side_task)]
        found = [s.id for s in self.judge.substitutes(step.id, around) if not self._is_hand(s.id)]
        return list(dict.fromkeys((*stated, *found)))

    def _judged(
        self,
        step: Step,
        around: Circumstance,
        pieces: tuple[Piece, ...],
        origin: str,
        lead: Pattern | None,
        text: str | None,
        free: int | None,
    ) -> Substitute:
        answer = self.judge.judge(step.id, Candidate(text=text or "", pieces=pieces), around)
        grade: Grade = answer.grade or answer.careful or "unable"
        known = self.reference.patterns.get(pieces[0].id) or self.reference.manoeuvres.get(
            pieces[0].id
        )
        return Substitute(
            id=pieces[0].id,
            name=known.name if known else pieces[0].id,
            grade=grade,
            origin=origin,  # type: ignore[arg-type]
            costs=self.costs(step, pieces[0], lead, answer),
            answer=answer,
            text=text,
            free=free,
        )

    def _is_hand(self, id_: str) -> bool:
        pattern = self.reference.patterns.get(id_)
        return pattern is None or "manoeuvre" in pattern.features.get("part", ())

    def _unlike(self, item: Substitute, lead: Pattern | None) -> int:
        pattern = self.reference.patterns.get(item.id)
        if lead is None or pattern is None:
            return 3
        named = item.id in lead.confused_with or lead.id in pattern.confused_with
        rank = {"high": 0, "medium": 1, "low": 2}[resemblance(lead, pattern)]
        return rank - int(named)

    def costs(
        self, step: Step, piece: Piece, lead: Pattern | None, answer: Answer
    ) -> tuple[str, ...]:
        """What using this instead of the missing piece costs, in a word or two each."""
        said: list[str] = []
        if self._is_hand(piece.id):
            said.append("ties up a hand")
        pattern = self.reference.patterns.get(piece.id)
        if pattern is None:
            return tuple(said)
        offer = next((o for o in pattern.offers if o.action == step.action), None)
        if offer is not None and offer.role == "makeshift":
            said.append("makeshift")
        if "no" in pattern.features.get("sterile", ()) or pattern.care in ("not_sterile",):
            said.append("not sterile")
        if lead is not None:
            said += self._against(step, piece, pattern, lead)
        for ground in answer.grounds:
            if ground.rule == "stated" and answer.grade != "preferred":
                said.append(ground.consequence)
        return tuple(dict.fromkeys(said))

    @staticmethod
    def _against(step: Step, piece: Piece, pattern: Pattern, lead: Pattern) -> list[str]:
        said: list[str] = []
        mine, other = pattern.length_mm, lead.length_mm
        if mine and other:
            have = piece.attributes.length_mm or (mine.low + mine.high) / 2
            want = (other.low + other.high) / 2
            if have < 0.8 * want:
                said.append("shorter")
            elif have > 1.25 * want:
                said.append("longer")
        for key, (scale, less, more) in _SCALES.items():
            ranks = [
                [scale.index(w) for w in p.features.get(key, ()) if w in scale]
                for p in (pattern, lead)
            ]
            if ranks[0] and ranks[1] and max(ranks[0]) < min(ranks[1]):
                said.append(less)
            elif ranks[0] and ranks[1] and min(ranks[0]) > max(ranks[1]):
                said.append(more)
        offers = [
            next((o for o in p.offers if o.action == step.action), None) for p in (pattern, lead)
        ]
        if offers[0] is not None and offers[1] is not None:
            fine = [o.fineness for o in offers if o is not None]
            if fine[0] in _FINENESS and fine[1] in _FINENESS:
                steps = _FINENESS.index(fine[0]) - _FINENESS.index(fine[1])
                said += ["coarser"] if steps < 0 else ["finer"] if steps > 0 else []
            harm = [o.trauma for o in offers if o is not None]
            if harm[0] in _TRAUMA and harm[1] in _TRAUMA and harm[0] != harm[1]:
                rougher = _TRAUMA.index(harm[0]) > _TRAUMA.index(harm[1])
                said += ["rougher on tissue"] if rougher else []
            strong = [o.strength for o in offers if o is not None]
            if strong[0] is not None and strong[1] is not None and strong[0] < strong[1]:
                said.append("weaker")
        return said


def _shortened(items: Sequence[Substitute]) -> tuple[Substitute, ...]:
    """Everything at hand, and the first of what only the reference knows."""
    out: list[Substitute] = []
    far = 0
    for item in items:
        if item.origin in ("reference", "hand"):
            far += 1
            if far > LISTED:
                continue
        out.append(item)
    return tuple(out)


def source_lines(value: Any, name: str) -> list[tuple[str, int | None]]:
    """Lines of a tray or stock as given in a question: text, or objects with text and count.

    Raises:
        BadInput: If the value is no list of lines.
    """
    if value is None:
        return []
    if isinstance(value, str):
        return [(line.strip(), None) for line in value.splitlines() if line.strip()]
    if not isinstance(value, (list, tuple)):
        raise BadInput(
            f"{name} is no list of lines.", where="question", mend=f"Give {name} as a list."
        )
    out: list[tuple[str, int | None]] = []
    for at, row in enumerate(value, 1):
        if isinstance(row, str):
            if row.strip():
                out.append((row.strip(), None))
            continue
        text = row.get("text") or row.get("name") if isinstance(row, dict) else None
        if not isinstance(text, str) or not text.strip():
            raise BadInput(
                f"{name} has an entry without text.",
                where=f"question, {name} {at}",
                mend='Write a line as text or as {"name", "count"}.',
            )
        count = row.get("count", row.get("qty"))
        if count is not None and (isinstance(count, bool) or not isinstance(count, int)):
            raise BadInput(
                f"the count of {text} is no whole number.",
                where=f"question, {name} {at}",
                mend="Give a whole number or leave it out.",
            )
        if count == 0:
            continue
        out.append((text.strip(), count))
    return out
