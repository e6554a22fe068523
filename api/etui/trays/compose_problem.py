"""The problem of choosing a tray from a stock, free of names and of grades' reasons.

A *lot* is one stock line.  An *assembly* is what works as one thing: some pieces of some lots (a
blade and a handle, a wire and two grips, or a single piece).  A *duty* is a step to be served; its
*ways* say which assembly serves it and how well.  The solver sees only these.
"""

from __future__ import annotations

import msgspec

from etui.knowledge.model import GRADES, Grade, Need, Record

RANK: dict[str, int] = {grade: place for place, grade in enumerate(GRADES)}
"""Place of a grade, best first: preferred 0, acceptable 1, improvised 2."""


class Lot(Record, frozen=True):
    """One stock line that can be drawn on.

    ``count``: pieces in stock.  ``danger``: steps that matter at which a piece of this lot would be
    reached for and harms.  ``pack``: pieces that are drawn and counted together.
    ``counted``: whether the ceiling of pieces counts them.  ``harm``: weight of a procedure's own
    warning.  ``burden``: tie-breaking cost (has to be
    put together, needs a steriliser).  ``required``: must be on the tray; ``barred``: must not.
    """

    name: str
    count: int
    pattern: str | None = None
    pack: int = 1
    counted: bool = True
    danger: int = 0
    harm: int = 0
    burden: int = 0
    required: int = 0
    barred: bool = False


class Assembly(Record, frozen=True):
    """What works as one thing: (lot index, pieces of it), sorted by lot index."""

    needs: tuple[tuple[int, int], ...]

    @property
    def lots(self) -> frozenset[int]:
        """The lots that this assembly draws on."""
        return frozenset(lot for lot, _ in self.needs)

    def needed(self, lot: int) -> int:
        """How many pieces of *lot* it takes."""
        return next((n for index, n in self.needs if index == lot), 0)


class Way(Record, frozen=True):
    """One assembly that serves a duty, and how well (never unsafe or unable)."""

    assembly: int
    grade: Grade


class Duty(Record, frozen=True):
    """A step that the tray should serve.

    ``hand``: best grade that hands alone give it; ``beside``: best grade from what is kept
    alongside.  ``together``: pieces in use at once; ``hands_help``: hands may be some of them;
    ``helpers``: assemblies that may be the second of them without serving the step themselves.
    ``tool_wanted``: hands alone do it, but there is a first-line instrument for it.
    ``hinge``: the operation hangs on it, so that it must survive the loss of a piece (a
    ``drop_prone`` one above all);
    ``spare_asked``: the procedure itself asks for a spare, hands do not count as one.
    ``approaches``: those of its procedure in which it occurs; empty = all.
    ``moment``: place in the order of use.
    """

    step: str
    procedure: str
    need: Need
    ways: tuple[Way, ...] = ()
    approaches: tuple[str, ...] = ()
    hand: Grade | None = None
    beside: Grade | None = None
    together: int = 1
    helpers: tuple[int, ...] = ()
    tool_wanted: bool = False
    hands_help: bool = False
    hinge: bool = False
    spare_asked: bool = False
    drop_prone: bool = False
    moment: int = 0
    only_with: tuple[int, ...] | None = None
    """Lots of which one must be on the tray for the step to arise at all; None = it always may."""
    elsewhere: bool = False
    """A step of another site of the same operation, served as far as it goes."""

    @property
    def free_grade(self) -> Grade | None:
        """Best grade that costs no piece: hands, or what is kept alongside."""
        if self.hand is None or self.beside is None:
            return self.hand or self.beside
        return min(self.hand, self.beside, key=RANK.__getitem__)


class Problem(Record, frozen=True):
    """Everything that the solver needs.

    ``approaches``: procedure -> approach ids (one is chosen).  ``moments``: sets of duties that
    are in use at the same time.  ``clashes``: (lot, lot, weight), pairs that are taken for one
    another with harm; ``likenesses``: pairs that merely look alike.  ``careful_hands``: unpractised
    hands, for whom look-alikes and putting together weigh more than the last grade.
    """

    lots: tuple[Lot, ...]
    assemblies: tuple[Assembly, ...]
    duties: tuple[Duty, ...]
    approaches: dict[str, tuple[str, ...]]
    moments: tuple[tuple[int, ...], ...] = ()
    clashes: tuple[tuple[int, int, int], ...] = ()
    likenesses: tuple[tuple[int, int], ...] = ()
    ceiling: int | None = None
    careful_hands: bool = False
    approach_cost: dict[str, int] = msgspec.field(default_factory=dict)
    """``procedure/approach`` -> how far it stands from the standard way (0)."""
    excluded: tuple[tuple[tuple[int, int], ...], ...] = ()
    """Selections already shown, each as (lot, pieces): the next answer must differ from them."""


class Served(Record, frozen=True):
    """How the chosen tray serves one duty; ``grade`` None: not at all."""

    duty: int
    grade: Grade | None
    by: tuple[int, ...] = ()
    by_hand: bool = False
    short: int = 0
    no_spare: bool = False


class LevelProof(Record, frozen=True):
    """One aim in order of rank: the value reached and the bound proven for it."""

    aim: str
    value: float
    bound: float
    optimal: bool


class Plan(Record, frozen=True):
    """A chosen tray: pieces per lot, the approach of each procedure, what serves what, proof."""

    pieces: tuple[int, ...]
    approaches: dict[str, str]
    served: tuple[Served, ...]
    levels: tuple[LevelProof, ...]
    feasible: bool = True

    @property
    def optimal(self) -> bool:
        """Whether every aim was solved to proven optimality."""
        return self.feasible and all(level.optimal for level in self.levels)
