"""Questions to the judging engine and its answers."""

from __future__ import annotations

from typing import Literal

from etui.knowledge.model import Grade, HowKnown, Record
from etui.reading.model import Attributes


class Piece(Record, frozen=True):
    """A pattern (or manoeuvre) in hand with what is stated about it."""

    id: str
    attributes: Attributes = Attributes()
    count: int = 1


class Candidate(Record, frozen=True):
    """What somebody wants to use for a step.

    ``pieces``: what is there; the first leads.  ``absent``: parts that the wording says are
    missing or do not fit (pattern ids or slot names).  ``manners``: ids of manners in use.
    ``improvised``: words of an everyday thing or hand that is no pattern.
    ``techniques``: ids of stated techniques of the step that the wording describes; they outrank
    all else.  ``alone``: nothing but these pieces is there, so that an unnamed partner is missing
    (as on a tray); otherwise what is not spoken of is taken to be there.
    """

    text: str = ""
    pieces: tuple[Piece, ...] = ()
    absent: tuple[str, ...] = ()
    manners: tuple[str, ...] = ()
    improvised: str | None = None
    techniques: tuple[str, ...] = ()
    alone: bool = False


class Circumstance(Record, frozen=True):
    """What the wording says of step and patient beyond the step's own record.

    ``states``: tense, slack, friable, ...  ``patient``: adult, child, newborn.
    ``side_task``: the side task of the step that the *missing* thing had, if it had one.
    """

    states: tuple[str, ...] = ()
    patient: str | None = None
    site: str | None = None
    approach: str | None = None
    manners: tuple[str, ...] = ()
    side_task: str | None = None


class Ground(Record, frozen=True):
    """One reason of an answer: what is demanded, what is offered, what follows, from where."""

    demand: str
    offer: str
    consequence: str
    source: str | None = None
    how_known: HowKnown = "derived"
    rule: str | None = None
    level: Literal["for", "against", "note"] = "note"


class Answer(Record, frozen=True):
    """A graded answer for one step and one candidate.

    ``grade`` None: it is asked, not answered; then ``asks`` holds the deciding question and
    ``careful`` the grade to work with until it is answered.  ``stated``: a curated judgement on
    this very pair decides; otherwise it is derived by the rules named in ``grounds``.  ``role``:
    the side role or action as which the piece is judged, when it does not do the step's main
    action (it then does not cover the step).  ``balance``: log odds of "not usable" behind a
    derived grade; None for a stated one.
    """

    step: str
    candidate: str
    grade: Grade | None
    stated: bool = False
    asks: str | None = None
    careful: Grade | None = None
    grounds: tuple[Ground, ...] = ()
    hazards: tuple[str, ...] = ()
    disputed: bool = False
    role: str | None = None
    balance: float | None = None
