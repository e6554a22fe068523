"""The compiled table: the grade of every plain pattern for every step, as small numbers.

For batch work and live what-if: one lookup instead of one judgement.  It holds what
:meth:`etui.judging.Judge.judge` answers for a plain pattern under no special circumstance, and
nothing else.
"""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from etui.judging.model import Candidate, Piece
from etui.judging.votes import cache_file, keep
from etui.knowledge.model import GRADES, Grade

if TYPE_CHECKING:
    from etui.judging.engine import Judge

ASKED = -1
"""Grade number of a pair on which a question is asked."""


class GradeTable:
    """Grades as numbers: 0 preferred, 1 acceptable, 2 improvised, 3 unsafe, 4 unable, -1 asked.

    ``grades`` (steps x patterns, int8), ``careful`` (the grade to work with where one is asked,
    else as ``grades``), ``stated`` (bool), ``side`` (bool: the piece does only a side task of the
    step and does not cover it).  ``steps`` and ``patterns`` name rows and columns, both sorted.
    """

    __slots__ = ("careful", "column", "grades", "patterns", "row", "side", "stated", "steps")

    def __init__(
        self, steps: tuple[str, ...], patterns: tuple[str, ...], grades: NDArray[np.int8],
        careful: NDArray[np.int8], stated: NDArray[np.bool_], side: NDArray[np.bool_],
    ) -> None:
        self.steps, self.patterns = steps, patterns
        self.row = {id_: n for n, id_ in enumerate(steps)}
        self.column = {id_: n for n, id_ in enumerate(patterns)}
        self.grades, self.careful, self.stated, self.side = grades, careful, stated, side
        for array in (grades, careful, stated, side):
            array.setflags(write=False)

    def grade(self, step_id: str, pattern_id: str) -> Grade | None:
        """The grade in words; None where a question is asked."""
        number = int(self.grades[self.row[step_id], self.column[pattern_id]])
        return None if number == ASKED else GRADES[number]


def load_table(judge: Judge) -> GradeTable:
    """The table from the cache, else compiled and kept."""
    steps = tuple(sorted(judge.reference.steps))
    patterns = tuple(sorted(judge.reference.patterns))
    path = cache_file(judge, "grades")
    if path is not None:
        with contextlib.suppress(OSError, ValueError, EOFError):
            kept = np.load(path, allow_pickle=False)
            if kept.shape == (4, len(steps), len(patterns)):
                return GradeTable(
                    steps, patterns, kept[0], kept[1], kept[2].astype(np.bool_),
                    kept[3].astype(np.bool_),
                )
    table = build_table(judge)
    if path is not None:
        with contextlib.suppress(OSError):
            keep(path, np.stack([
                table.grades, table.careful, table.stated.astype(np.int8),
                table.side.astype(np.int8),
            ]))
    return table


def build_table(judge: Judge) -> GradeTable:
    """Judge every plain pattern for every step."""
    steps = tuple(sorted(judge.reference.steps))
    patterns = tuple(sorted(judge.reference.patterns))
    shape = (len(steps), len(patterns))
    grades = np.full(shape, ASKED, dtype=np.int8)
    careful = np.full(shape, ASKED, dtype=np.int8)
    stated, side = np.zeros(shape, dtype=np.bool_), np.zeros(shape, dtype=np.bool_)
    candidates = [Candidate(pieces=(Piece(id=id_),)) for id_ in patterns]
    for row, step_id in enumerate(steps):
        for column, candidate in enumerate(candidates):
            answer = judge.judge(step_id, candidate, told=False)
            held = answer.grade if answer.grade is not None else answer.careful
            if answer.grade is not None:
                grades[row, column] = GRADES.index(answer.grade)
            if held is not None:
                careful[row, column] = GRADES.index(held)
            stated[row, column] = answer.stated
            side[row, column] = answer.role is not None and not _same_task(answer.role)
    return GradeTable(steps, patterns, grades, careful, stated, side)


def _same_task(role: str) -> bool:
    """A blade or a handle does the step's own action as part of its unit."""
    return role in ("blade", "handle")
