"""The votes of neighbours on every task and pattern, worked out once and kept.

They follow from the graph and the rules alone, so that they are kept in the user's cache folder
under a fingerprint of both; a cache that cannot be read or written is ignored.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from etui.judging.evidence import Evidence
from etui.judging.model import Circumstance, Piece
from etui.judging.neighbours import Array, Cell, Likeness, Task, votes_on_grid
from etui.judging.weigh import Sums, Votes, sums
from etui.knowledge.model import GRADES, USABLE, Judgement

if TYPE_CHECKING:
    from etui.judging.engine import Judge

_FORMAT = 2


class Case(NamedTuple):
    """One stated judgement as a case for the rules: what they find without knowing the grade."""

    judgement: Judgement
    task: Task
    evidence: list[Evidence]
    found: Sums

    @property
    def refused(self) -> float:
        """1 when the stated grade is unsafe or unable, else 0."""
        return 0.0 if self.judgement.grade in USABLE else 1.0

    @property
    def unsafe(self) -> float:
        """1 when the stated grade is unsafe, else 0."""
        return 1.0 if self.judgement.grade == "unsafe" else 0.0

    @property
    def grade(self) -> int:
        """Place of the stated grade, 0 preferred .. 4 unable."""
        return GRADES.index(self.judgement.grade)


class VoteTable:
    """Votes by task and pattern; tasks that nobody judged and nothing names have none."""

    def __init__(self, likeness_rows: list[Task], columns: list[str], grids: Array) -> None:
        self.row = {task: n for n, task in enumerate(likeness_rows)}
        self.column = {id_: n for n, id_ in enumerate(columns)}
        self.grids = grids

    def of(self, task: Task, pattern_id: str) -> Votes:
        """The votes on one pair."""
        row = self.row.get(task)
        if row is None:
            return Votes()
        cell = self.grids[:, row, self.column[pattern_id]]
        return Votes(float(cell[0]), float(cell[1]), float(cell[2]))


def tasks_of(judge: Judge) -> list[Task]:
    """Every step's main task and every side task that a judgement or a limit names."""
    found = set()
    for step in judge.reference.steps.values():
        found.add(Task(step.id, step.action))
        for judgement in step.judgements:
            action = judge.stated.side_action(step, judgement)
            if action is not None:
                found.add(Task(step.id, action))
        for limit in step.limits:
            found.update(Task(step.id, action) for _, action in limit.side_tasks)
    return sorted(found)


def collect(judge: Judge) -> list[Case]:
    """All judgements that somebody made on patterns, each as a case, in a fixed order."""
    cases = []
    patterns = judge.reference.patterns
    for step_id in sorted(judge.reference.steps):
        step = judge.reference.steps[step_id]
        for judgement in step.judgements:
            if judgement.subject not in patterns or not counts(judgement):
                continue
            side = judge.stated.side_action(step, judgement)
            task = Task(step.id, side or step.action)
            seen = judge.look(
                step, Piece(id=judgement.subject), Circumstance(side_task=side), (), task.action
            )
            cases.append(Case(judgement, task, seen.evidence, sums(seen.evidence, judge.book)))
    return cases


def counts(judgement: Judgement) -> bool:
    """Whether a judgement is evidence: somebody judged, and it holds without a condition."""
    return not judgement.features_only and judgement.condition is None


def chance(points: float) -> float:
    """Chance of "not usable" from log odds."""
    return float(1.0 / (1.0 + np.exp(-points)))


def surprises(cases: list[Case], likeness: Likeness) -> tuple[list[Cell], ...]:
    """By how much each case differs from what the rules expect: usability, grade, harm."""
    refused, graded, harmed = [], [], []
    for case in cases:
        row, column = likeness.row[case.task], likeness.column[case.judgement.subject]
        refused.append(Cell(row, column, case.refused - chance(case.found.points)))
        if case.refused == 0.0:
            graded.append(Cell(row, column, case.grade - case.found.cost))
        else:
            harmed.append(Cell(row, column, case.unsafe - chance(case.found.harm)))
    return refused, graded, harmed


def build(judge: Judge) -> VoteTable:
    """Work the votes out."""
    likeness = Likeness(judge.reference, tasks_of(judge), judge.book)
    kinds = surprises(collect(judge), likeness)
    # Rounded, so that the last bits of the arithmetic never decide a grade.
    grids = np.stack([
        np.round(votes_on_grid(likeness, cells), 4) for cells in kinds
    ])
    return VoteTable(likeness.tasks, likeness.patterns, grids)


def load(judge: Judge) -> VoteTable:
    """The votes from the cache, else worked out and kept."""
    path = cache_file(judge, "votes")
    tasks, columns = tasks_of(judge), sorted(judge.reference.patterns)
    if path is not None:
        with contextlib.suppress(OSError, ValueError, EOFError):
            grids = np.load(path, allow_pickle=False)
            if grids.shape == (3, len(tasks), len(columns)):
                return VoteTable(tasks, columns, grids)
    table = build(judge)
    if path is not None:
        with contextlib.suppress(OSError):
            keep(path, table.grids)
    return table


def cache_file(judge: Judge, kind: str) -> Path | None:
    """Where work of one *kind* that follows from graph and rules alone is kept; None: nowhere."""
    book, version = judge.book, judge.reference.version
    if not book.fingerprint or not version:
        return None
    from platformdirs import user_cache_path

    digest = hashlib.sha256(f"{_FORMAT} {version} {book.fingerprint}".encode())
    for name in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(name.read_bytes())
    return user_cache_path("etui") / f"{kind}-{digest.hexdigest()[:24]}.npy"


def keep(path: Path, array: NDArray[Any]) -> None:
    """Write whole or not at all, and drop older files of the same kind."""
    path.parent.mkdir(parents=True, exist_ok=True)
    kind = path.name.split("-")[0]
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f"{kind}-", suffix=".tmp")
    try:
        with os.fdopen(handle, "wb") as stream:
            np.save(stream, array, allow_pickle=False)
        Path(name).replace(path)
    except OSError:
        Path(name).unlink(missing_ok=True)
        raise
    for old in path.parent.glob(f"{kind}-*.npy"):
        if old != path:
            old.unlink(missing_ok=True)
