"""One tray looked at from all sides: pieces, covers, paths, moments, losses.

Everything here is worked out from the tray and the reference; nothing is judged good or bad.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

from etui.errors import BadInput, UnknownTerm
from etui.exchange.procedures import resolve_procedures
from etui.judging.likeness import resemblance
from etui.knowledge.model import Procedure, Reference, Step
from etui.reading.model import Reading
from etui.trays.allocate import Allocator, Moment
from etui.trays.approach import Hands, Path, choose, read_hands
from etui.trays.cover import Coverer
from etui.trays.grading import Grader, Judges
from etui.trays.held import Contents, Held, gather
from etui.trays.lore import load_lore
from etui.trays.model import Line, Stock, Tray
from etui.trays.parts import words_of
from etui.trays.units import Inventory
from etui.trays.ways import StepCover

_USED = re.compile(
    r"(?:when )?(?:the |an? )?(.+?) (?:is|are|was|were) (?:used|put on|left)\b"
)


class ReadsTrays(Protocol):
    """What a check needs of a reader: lines, and names of procedures."""

    def read(self, text: str, *, heading: str | None = None) -> Reading: ...

    def match_procedure(
        self, text: str
    ) -> tuple[str | None, Sequence[tuple[str, str, float]]]: ...


class Bench:
    """What all checks share: reference, reader, judge and everything compiled from them.

    Safe to share between trays; it only remembers what it has worked out.
    """

    def __init__(self, reference: Reference, reader: ReadsTrays, judge: Judges) -> None:
        self.reference = reference
        self.reader = reader
        self.lore = load_lore()
        self.grader = Grader(judge)
        self.coverer = Coverer(reference, self.lore, self.grader)
        self.workshop = self.coverer.workshop
        self.duties = self.coverer.duties
        self._usual: dict[str, tuple[Held, ...]] = {}
        self._readings: dict[str, Reading] = {}
        self._name_words: dict[str, frozenset[str]] = {}
        self._asked: dict[str, tuple[frozenset[str], ...]] = {}
        self._alike: dict[tuple[str, str], bool] = {}

    def words_of_pattern(self, pattern: str) -> frozenset[str]:
        """Words of all names of a pattern."""
        found = self._name_words.get(pattern)
        if found is None:
            record = self.reference.patterns[pattern]
            names = (record.id, record.name, *(n.text for n in record.names))
            found = self._name_words[pattern] = words_of(" ".join(names))
        return found

    def asked_things(self, step: Step) -> tuple[frozenset[str], ...]:
        """Words of the things on whose use a step hangs ("when the wire saw is used").

        Empty where a step hangs on no thing that the reference knows.
        """
        found = self._asked.get(step.id)
        if found is None:
            asked = _USED.match(step.when or "") if step.need != "essential" else None
            options = (
                [words_of(o) for o in re.split(r"\bor\b|\band\b", asked.group(1))]
                if asked
                else []
            )
            found = tuple(
                o
                for o in options
                if any(o <= self.words_of_pattern(p) for p in self.reference.patterns)
            )
            self._asked[step.id] = found
        return found

    def alike(self, a: str, b: str) -> bool:
        """Whether two patterns are mixed up: stated so, or much alike to unpractised eyes."""
        key = (a, b) if a < b else (b, a)
        found = self._alike.get(key)
        if found is None:
            one, other = self.reference.patterns[a], self.reference.patterns[b]
            found = a != b and (
                b in one.confused_with
                or a in other.confused_with
                or resemblance(one, other) == "high"
            )
            self._alike[key] = found
        return found

    def read(self, text: str, *, heading: str | None = None) -> Reading:
        """A reading, remembered."""
        if heading is not None:
            return self.reader.read(text, heading=heading)
        found = self._readings.get(text)
        if found is None:
            found = self._readings[text] = self.reader.read(text)
        return found

    def usual(self, procedure: Procedure) -> tuple[Held, ...]:
        """What usually lies beside a procedure, read from its own record."""
        if procedure.id not in self._usual:
            tray = Tray(
                title=procedure.name,
                kept_alongside=tuple(Line(text=t) for t in procedure.kept_alongside),
            )
            held = gather(
                tray, reader=self, reference=self.reference, whole=self.workshop.named_whole
            ).held
            self._usual[procedure.id] = held
        return self._usual[procedure.id]

    def procedures(self, tray: Tray) -> tuple[Procedure, ...]:
        """The procedures that a tray is for.

        Raises:
            BadInput: If it names none.
            UnknownTerm: If a name is not in the reference; carries the nearest.
        """
        if not tray.procedures:
            raise BadInput(
                "The tray does not say what it is for.",
                where=tray.title,
                mend="Name at least one procedure.",
            )
        known = self.reference.procedures
        if all(p in known for p in tray.procedures):
            ids = tuple(dict.fromkeys(tray.procedures))
        else:
            ids = resolve_procedures(tray.procedures, self._match, where=tray.title)
        return tuple(known[i] for i in ids)

    def _match(self, text: str) -> tuple[str | None, Sequence[tuple[str, str, float]]]:
        if text in self.reference.procedures:
            return text, ()
        return self.reader.match_procedure(text)


@dataclass(frozen=True, slots=True)
class Course:
    """One procedure on this tray: covers of all its steps, its paths, and the path to judge by."""

    procedure: Procedure
    covers: dict[str, StepCover]
    path: Path
    ways: tuple[Path, ...]
    unwanted: dict[str, str]
    steps: tuple[Step, ...]
    allocator: Allocator
    moments: tuple[Moment, ...]

    @property
    def needed(self) -> frozenset[str]:
        """Steps that must be served on the chosen path."""
        return frozenset(self.path.needed)

    def allocator_with(self, other: Course) -> dict[str, Moment]:
        """Moments of needed steps of *other* while this course goes on in other hands."""
        return other.allocator.at_once(self.allocator.shared(self.steps), other.steps)


class Situation:
    """A tray with its surroundings, seen through one :class:`Bench`."""

    def __init__(self, tray: Tray, bench: Bench, stock: Stock | None = None) -> None:
        self.tray = tray
        self.bench = bench
        self.reference = bench.reference
        self.hands: Hands = read_hands(tray.operator)
        self.contents: Contents = gather(
            tray, reader=bench, reference=bench.reference, whole=bench.workshop.named_whole
        )
        self.inventory = Inventory(self.contents)
        self.courses = tuple(self._course(p) for p in bench.procedures(tray))
        self._stock = stock
        self.memo: dict[str, object] = {}

    def _course(self, procedure: Procedure) -> Course:
        coverer = self.bench.coverer
        unwanted = {
            r.subject: r.because
            for r in procedure.not_wanted
            if r.subject in self.reference.patterns
        }
        covers = {
            s: coverer.cover(s, self.inventory, unwanted) for s in procedure.steps
        }
        usual = self.bench.usual(procedure)
        wider = coverer.wider(self.inventory, usual)
        for cover in covers.values():
            if not cover.served_well:
                cover.asked = coverer.asked(cover, self.contents.unread)
                cover.unlisted = coverer.unlisted(cover, usual, wider)
                cover.stopgap = () if cover.asked else coverer.stopgap(cover)
        path, ways = choose(
            procedure,
            reference=self.reference,
            lore=self.bench.lore,
            covers=covers,
            hands=self.hands,
            words=" ".join((self.tray.title, *self.tray.procedures)),
        )
        steps = tuple(
            sorted((self.reference.steps[s] for s in path.steps), key=lambda s: (s.order, s.id))
        )
        allocator = Allocator(self.reference, covers, self.contents)
        return Course(
            procedure=procedure, covers=covers, path=path, ways=ways, unwanted=unwanted,
            steps=steps, allocator=allocator, moments=allocator.moments(steps),
        )

    @cached_property
    def stock(self) -> Contents:
        """What lies in the stock, read; empty when none is given."""
        lines = self._stock.lines if self._stock else ()
        shelf = Tray(title="stock", contents=lines)
        return gather(
            shelf, reader=self.bench, reference=self.reference,
            whole=self.bench.workshop.named_whole,
        )

    @cached_property
    def on_tray(self) -> tuple[Held, ...]:
        """Pieces on the tray."""
        return self.contents.on_tray

    def unserved(self) -> frozenset[str]:
        """Needed steps of the chosen paths that nothing at hand does."""
        return frozenset(g for c in self.courses for g in c.path.gaps)


__all__ = ["Bench", "Course", "Grader", "ReadsTrays", "Situation", "UnknownTerm"]
