"""The ways in which the pieces at hand do one step, sorted into usable and not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from etui.knowledge.model import USABLE, Grade
from etui.trays.duty import Duty, Hand, StepDuty
from etui.trays.held import Held, Unread
from etui.trays.parts import Assembly, rank

Origin = Literal["tray", "beside", "usual", "everyday"]


@dataclass(frozen=True, slots=True)
class Way:
    """One way to do a step: a leading piece, what it is joined with, and how well it does it."""

    lead: Held
    pattern: str
    assembly: Assembly
    grade: Grade
    duty: Duty
    origin: Origin
    unwanted: str = ""
    doubtful: bool = False

    @property
    def usable(self) -> bool:
        """Whether it can be used at all."""
        return self.grade in USABLE and not self.assembly.lacking

    @property
    def patterns(self) -> tuple[str, ...]:
        """Patterns that are at work: the leading one and one for each part."""
        return (self.pattern, *(p.held[0].pattern for p in self.assembly.parts if p.held))

    @property
    def pieces(self) -> tuple[Held, ...]:
        """Held pieces that are busy while this way is used, with the lead first."""
        return (self.lead, *(p.held[0] for p in self.assembly.parts if p.held))


@dataclass(slots=True)
class StepCover:
    """Everything that could be reached for at one step, sorted into usable and not.

    ``ways`` are usable, ``faulty`` lack a part, ``harmful`` must not be used; ``unlisted`` are not
    on the list but usually lie beside or in the room.  ``stopgap``: patterns that are left to
    improvise with, none of them judged there.  ``asked``: lines that were not
    understood and that may hold what the step needs.  ``hand``: the manoeuvre that does the step
    without a piece, where what it is done to is there.
    """

    duty: StepDuty
    ways: tuple[Way, ...] = ()
    faulty: tuple[Way, ...] = ()
    harmful: tuple[Way, ...] = ()
    unlisted: tuple[Way, ...] = ()
    helpers: tuple[Held, ...] = ()
    stopgap: tuple[str, ...] = ()
    asked: tuple[Unread, ...] = ()
    hand: Hand | None = None

    @property
    def id(self) -> str:
        """Id of the step."""
        return self.duty.step.id

    @property
    def waived(self) -> Hand | None:
        """Another plan by hand that lets a step be left out (no cut at all, leave it open)."""
        return next(
            (h for h in self.duty.hands if h.grade in {"preferred", "acceptable"}), None
        )

    @property
    def best(self) -> Way | None:
        """The best way that the list itself gives."""
        return self.ways[0] if self.ways else None

    @property
    def main_ways(self) -> tuple[Way, ...]:
        """Ways that do the step itself, not another thing to the same end."""
        return tuple(w for w in self.ways if w.duty == "main")

    @property
    def served_directly(self) -> bool:
        """Whether the step itself can be done, with what is listed or usually there, or by hand."""
        unlisted = any(w.duty == "main" for w in self.unlisted)
        return (bool(self.main_ways) and not self.stopgap) or self.hand is not None or unlisted

    @property
    def grade(self) -> Grade | None:
        """The best grade at hand, a bare hand included."""
        grades: list[Grade] = [w.grade for w in self.main_ways or self.ways]
        if self.hand is not None:
            grades.append(self.hand.grade)  # type: ignore[arg-type]
        return max(grades, key=rank) if grades else None

    @property
    def served(self) -> bool:
        """Whether the step can be done with what is listed, or by hand."""
        return bool(self.ways) or self.hand is not None

    @property
    def served_well(self) -> bool:
        """Whether what is listed, or a hand, does the step better than a makeshift."""
        by_hand = self.hand is not None and self.hand.grade != "improvised"
        return by_hand or any(rank(w.grade) >= 3 for w in self.ways)
