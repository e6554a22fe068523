"""What serves each step: the ways that the pieces at hand make up, with their grades."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from etui.knowledge.model import USABLE, Grade, Reference
from etui.reading.model import Attributes
from etui.trays.duty import Duties, Duty, StepDuty
from etui.trays.grading import PLAIN, Grader, Judges, what_counts
from etui.trays.held import PLENTY, Contents, Held, Unread
from etui.trays.lore import Lore
from etui.trays.model import Place
from etui.trays.parts import ALONE, Assembly, rank, words_of, worse
from etui.trays.units import Inventory, Workshop
from etui.trays.ways import Origin, StepCover, Way

STEM = 6
"""Letters of a word that two forms of it share (drain, drainage; retractor, retractors)."""


class Coverer:
    """Works out :class:`StepCover` for steps, from one reference and one judge."""

    def __init__(self, reference: Reference, lore: Lore, grader: Grader) -> None:
        self.reference = reference
        self.lore = lore
        self.grader = grader
        self.workshop = Workshop(reference, lore)
        self.duties = Duties(reference, lore)
        self._quick: dict[str, dict[str, Grade]] = {}
        self._alone: dict[tuple[str, str, Attributes], Grade] = {}
        self._helps: dict[str, list[tuple[str, ...]]] = {}
        self._harms: dict[str, list[tuple[tuple[str, ...], tuple[str, ...]]]] = {}
        for unit in reference.units.values():
            for stand_in in unit.stand_ins:
                if stand_in.subject is None or stand_in.grade == "unable":
                    continue
                for index, slot in enumerate(unit.slots):
                    if not words_of(stand_in.part) & self.workshop.slot_words(unit, index):
                        continue
                    if stand_in.grade in USABLE:
                        self._helps.setdefault(stand_in.subject, []).append(slot.alternatives)
                    else:
                        self._harms.setdefault(stand_in.subject, []).append(
                            (unit.actions, slot.alternatives)
                        )
        self._everyday = tuple(_loose(p) for p in sorted(lore.everyday) if p in reference.patterns)

    def cover(
        self, step_id: str, inventory: Inventory, unwanted: dict[str, str]
    ) -> StepCover:
        """All ways to do one step with what is at hand."""
        duty = self.duties.of(step_id)
        usable: list[Way] = []
        faulty: list[Way] = []
        harmful: list[Way] = []
        helpers: list[Held] = []
        open_: list[Unread] = []
        duties, quick = duty.duties, self._quick.setdefault(step_id, {})
        for pattern, piece in inventory.leads:
            kind = duties.get(pattern)
            if kind is None:
                continue
            if kind == "side":
                helpers.append(piece)
                continue
            grade = quick.get(piece.key)
            if grade is not None:
                way = Way(
                    piece, pattern, ALONE, grade, kind, "beside" if piece.beside else "tray",
                    unwanted.get(pattern, ""),
                )
            else:
                way = self._way(duty, piece, kind, inventory, unwanted)
                if piece.sure and way.assembly is ALONE:
                    quick[piece.key] = way.grade
            if way.doubtful and not way.usable:
                open_.append(Unread(piece.said, piece.ask or "", (), piece.place, piece.row))
            if way.grade == "unsafe":
                harmful.append(way)
            elif way.usable:
                usable.append(way)
            elif way.assembly.lacking:
                faulty.append(way)
        return StepCover(
            duty=duty, ways=tuple(sorted(usable, key=_best_first)),
            faulty=tuple(sorted(faulty, key=_best_first)),
            harmful=tuple(sorted(harmful, key=_best_first)), helpers=tuple(helpers),
            asked=tuple(open_),
            hand=next((h for h in duty.by_hand if h.can(inventory.by_pattern)), None),
        )

    def _way(
        self,
        duty: StepDuty,
        piece: Held,
        kind: Duty,
        inventory: Inventory,
        unwanted: dict[str, str],
    ) -> Way:
        """What a piece does; where its words leave several patterns open, with care.

        The likeliest pattern leads and is acceptable at best.  A pattern that does less, harms or
        fails there makes the line one to ask about, not a fault.
        """
        if piece.sure:
            return self._one(duty, piece, piece.pattern, kind, inventory, unwanted)
        ways = [
            self._one(duty, piece, c, duty.duties[c], inventory, unwanted)
            for c in piece.choices
            if duty.duties.get(c) in {"main", "other"}
        ]
        leading = ways[0]
        if not leading.usable:
            if all(w.grade == "unsafe" for w in ways):
                return leading
            return replace(leading, grade="unable", doubtful=any(w.usable for w in ways))
        as_good = [w for w in ways if w.usable and rank(w.grade) >= min(rank(leading.grade), 3)]
        grade = worse("acceptable", leading.grade)
        return replace(leading, grade=grade, doubtful=len(as_good) < len(piece.choices))

    def _one(
        self, duty: StepDuty, piece: Held, pattern: str, kind: Duty, inventory: Inventory,
        unwanted: dict[str, str],
    ) -> Way:
        action = self._action(duty, pattern)
        if not self.workshop.needs(pattern, action):
            grade = self._grade_alone(duty, pattern, piece.attributes)
            return Way(
                piece, pattern, ALONE, grade, kind, "beside" if piece.beside else "tray",
                unwanted.get(pattern, ""),
            )
        judgement = duty.stated.get(pattern)
        assembly = self.workshop.assemble(piece, pattern, action, inventory)
        assembly = self._best_parts(duty, self._certain(duty, assembly))
        # a unit that lacks a part is graded as if it were whole: what it was meant to do
        partners = tuple(
            p.wanted[0] if p.fill == "lacking" else p.held[0].pattern
            for p in assembly.parts
            if (p.wanted if p.fill == "lacking" else p.held)
        )
        attributes = what_counts(judgement, piece.attributes)
        grade = self.grader.grade(duty, pattern, attributes, partners)
        grade = worse(grade, self._unjudged(duty, pattern))
        if self._harmful_stand_in(duty, pattern):
            grade = "unsafe"
        for part in assembly.parts:
            if part.held and part.fill == "held":
                grade = worse(grade, self._part_grade(duty, part.held[0].pattern))
        if any(
            p.held and p.fill == "held" and self._gets_round(duty, p.held[0].pattern)
            for p in assembly.parts
        ):
            kind = "other"
        return Way(
            lead=piece, pattern=pattern, assembly=assembly, grade=worse(grade, assembly.cap),
            duty=kind, origin="beside" if piece.beside else "tray",
            unwanted=unwanted.get(pattern, ""),
        )

    def _certain(self, duty: StepDuty, assembly: Assembly) -> Assembly:
        """The same unit with nothing presumed where the kind of part decides over harm."""
        unsafe = {p for p, j in duty.stated.items() if j.grade == "unsafe"}
        if not any(p.fill == "presumed" and unsafe & set(p.wanted) for p in assembly.parts):
            return assembly
        parts = tuple(
            replace(p, fill="lacking") if p.fill == "presumed" and unsafe & set(p.wanted) else p
            for p in assembly.parts
        )
        return Assembly(assembly.unit, parts)

    def _gets_round(self, duty: StepDuty, pattern: str) -> bool:
        """Whether the step states a part only as another way to its end."""
        judgement = duty.stated.get(pattern)
        return judgement is not None and judgement.role == "alternative"

    def _part_grade(self, duty: StepDuty, pattern: str) -> Grade:
        """What the step states of a part; nothing stated lowers nothing."""
        judgement = duty.stated.get(pattern)
        return judgement.grade if judgement is not None else "preferred"

    def _action(self, duty: StepDuty, pattern: str) -> str:
        """What a piece does at a step: the step's action, unless stated otherwise."""
        judgement = duty.stated.get(pattern)
        return (judgement.as_action if judgement else None) or duty.step.action

    def _grade_alone(self, duty: StepDuty, pattern: str, attributes: Attributes) -> Grade:
        """The grade of a piece that needs no partner; remembered."""
        key = (duty.step.id, pattern, attributes)
        grade = self._alone.get(key)
        if grade is None:
            grade = self.grader.grade(
                duty, pattern, what_counts(duty.stated.get(pattern), attributes)
            )
            grade = worse(grade, self._unjudged(duty, pattern))
            if self._harmful_stand_in(duty, pattern):
                grade = "unsafe"
            self._alone[key] = grade
        return grade

    def _stand_in(self, duty: StepDuty, pattern: str) -> bool:
        """Whether a unit names a piece as a usable stand-in for what the step calls for."""
        return any(
            set(duty.first_line) & set(slot) for slot in self._helps.get(pattern, ())
        )

    def _unjudged(self, duty: StepDuty, pattern: str) -> Grade:
        """The best that a piece can be which nobody has judged for the step.

        Made for the action and of a kind that serves there it may be acceptable; else it is a
        makeshift.
        """
        if pattern in duty.stated or not duty.good:
            return "preferred"
        patterns = self.reference.patterns
        record = patterns[pattern]
        made_for = any(o.action == duty.step.action and o.role == "main" for o in record.offers)
        kinds = {patterns[p].family for p in duty.good}
        return "acceptable" if made_for and record.family in kinds else "improvised"

    def _harmful_stand_in(self, duty: StepDuty, pattern: str) -> bool:
        """Whether a unit names this piece as a harmful stand-in for what the step calls for.

        Where a step grades the same piece better, the more careful of the two statements holds.
        """
        if not self._harms.get(pattern):
            return False
        return any(
            duty.step.action in actions and set(duty.first_line) & set(alternatives)
            for actions, alternatives in self._harms[pattern]
        )

    def _best_parts(self, duty: StepDuty, assembly: Assembly) -> Assembly:
        """The same unit with the best piece of each slot first."""
        if not any(len(p.held) > 1 for p in assembly.parts):
            return assembly
        parts = tuple(
            replace(
                part,
                held=tuple(
                    sorted(
                        part.held,
                        key=lambda h: (
                            -rank(self._part_grade(duty, h.pattern)), h.beside, h.key,
                        ),
                    )
                ),
            )
            for part in assembly.parts
        )
        return Assembly(assembly.unit, parts)

    def wider(self, inventory: Inventory, usual: tuple[Held, ...]) -> Inventory:
        """What is at hand with what usually lies beside and what every room has."""
        around = (*self._held(inventory), *usual, *self._everyday)
        return Inventory(Contents(around, (), inventory.denied, ()))

    def unlisted(
        self, cover: StepCover, usual: tuple[Held, ...], wider: Inventory
    ) -> tuple[Way, ...]:
        """Ways with things that are not listed but usually lie beside, or are in every room.

        Parts that are missing on the list may come from there as well.
        """
        duty = cover.duty
        found: list[Way] = []
        for origin, pieces in (("usual", usual), ("everyday", self._everyday)):
            leads = [*pieces, *(w.lead for w in cover.faulty)]
            for piece in leads:
                kind = duty.duties.get(piece.pattern)
                if kind not in {"main", "other"}:
                    continue
                if any(p in wider.denied for p in piece.choices):
                    continue
                way = self._way(duty, piece, kind, wider, {})
                if way.usable and rank(way.grade) >= 3:
                    found.append(
                        Way(
                            way.lead, way.pattern, way.assembly, way.grade, way.duty,
                            "usual" if origin == "usual" else "everyday",
                        )
                    )
            if found:
                break
        return tuple(sorted(found, key=_best_first))

    def asked(self, cover: StepCover, unread: tuple[Unread, ...]) -> tuple[Unread, ...]:
        """Lines that leave open whether they do the step, and lines not understood at all whose
        words belong to what the step calls for.

        A "seal drainage set" may hold the seal, a "Heiss retractor" may hold the wound open.
        """
        words: set[str] = set()
        for pattern in cover.duty.good:
            words |= words_of(pattern) | words_of(self.reference.patterns[pattern].name)
            for unit, _ in self.workshop.places.get(pattern, []):
                words |= words_of(unit.name)
        stems = {w[:STEM] for w in words if len(w) >= STEM - 1}
        return cover.asked + tuple(
            u
            for u in unread
            if not any(c in cover.duty.good for c in u.choices)
            and any(w[:STEM] in stems for w in words_of(u.text) if len(w) >= STEM - 1)
        )

    def stopgap(self, cover: StepCover) -> tuple[str, ...]:
        """What is left to improvise with on tissue where nobody has judged any of it."""
        step = cover.duty.step
        if cover.served_well or cover.unlisted or not cover.ways or step.fate == "equipment":
            return ()
        judged = (w.pattern in cover.duty.stated or self._stand_in(cover.duty, w.pattern)
                  for w in cover.ways)
        if cover.hand is not None or any(judged):
            return ()
        return tuple(dict.fromkeys(w.pattern for w in cover.ways))

    @staticmethod
    def _held(inventory: Inventory) -> list[Held]:
        return list(
            {(h.key, h.beside): h for row in inventory.by_pattern.values() for h in row}.values()
        )


def _loose(pattern: str) -> Held:
    """A piece that no line names."""
    return Held(pattern, (pattern,), PLAIN, PLENTY, True, pattern, Place(), 0)


def _best_first(way: Way) -> tuple[int, int, bool, bool, str]:
    return (
        0 if way.duty == "main" else 1,
        -rank(way.grade),
        bool(way.unwanted),
        way.origin != "tray",
        way.lead.key,
    )


def loose_pieces(patterns: Iterable[str]) -> tuple[Held, ...]:
    """Pieces of these patterns without a line, in plenty."""
    return tuple(_loose(p) for p in patterns)


__all__ = ["ALONE", "Coverer", "Grader", "Judges", "Origin", "StepCover", "Way", "loose_pieces"]
