"""Graded neighbours: how the same piece fares in like tasks, and like pieces in the same task.

Likeness of two pieces and of two tasks is a number 0..1 worked out from what the graph states of
them; how much each fact counts is data in ``ontology/rules.ttl``.  The neighbours do not vote with
their bare grades but with the surprise in them: by how much each was graded better or worse than
the rules alone expect.  So a neighbour adds only what the rules do not know already.

Judgements that only restate features do not vote.
"""
from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from etui.judging.rulebook import RuleBook
from etui.knowledge.model import (
    Form,
    Limit,
    Pattern,
    Range,
    Reference,
    Step,
)

Array = NDArray[np.float64]

_WORD = re.compile(r"[a-z]+")


class Task(NamedTuple):
    """One row of the grid: a step and the action that is done in it."""

    step: str
    action: str


class Cell(NamedTuple):
    """One stated judgement on the grid, and by how much it differs from what the rules expect.

    ``surprise``: outcome (0 usable, 1 not usable) less the chance of "not usable" by the rules.
    """

    row: int
    column: int
    surprise: float


class Likeness:
    """Likeness of all tasks and of all patterns, and the covariance of judgements from both."""

    def __init__(self, reference: Reference, tasks: list[Task], book: RuleBook) -> None:
        self.tasks = tasks
        self.row = {task: n for n, task in enumerate(tasks)}
        self.patterns = sorted(reference.patterns)
        self.column = {id_: n for n, id_ in enumerate(self.patterns)}
        self.of_tasks = task_likeness(reference, tasks, book)
        self.of_pieces = piece_likeness(reference, self.patterns, book)
        self.task_share = book.value("task-share")
        self.piece_share = book.value("piece-share")
        self.noise = book.value("judgement-noise")

    def covariance(self, cells: list[Cell]) -> Array:
        """How far any two judgements speak for each other (dense; for the evaluation)."""
        rows = np.array([cell.row for cell in cells])
        columns = np.array([cell.column for cell in cells])
        a = self.of_tasks[np.ix_(rows, rows)]
        b = self.of_pieces[np.ix_(columns, columns)]
        return np.asarray(a * b + self.task_share * a + self.piece_share * b)

    def spread(self, on_grid: Array) -> Array:
        """The covariance applied to numbers on the whole grid, without writing it out."""
        a, b = self.of_tasks, self.of_pieces
        out = a @ on_grid @ b
        out += self.task_share * (a @ on_grid.sum(axis=1))[:, None]
        out += self.piece_share * (on_grid.sum(axis=0) @ b)[None, :]
        return np.asarray(out)


def votes_on_grid(likeness: Likeness, cells: list[Cell]) -> Array:
    """Votes on every pair of task and pattern.

    A vote is the surprise to be expected from the surprises nearby (simple kriging): likeness
    says how much each neighbour counts, and neighbours that say the same count once, not twice.
    Solved by conjugate gradients on the grid, which needs no matrix of all pairs of judgements.
    """
    shape = (len(likeness.tasks), len(likeness.patterns))
    total, count = np.zeros(shape), np.zeros(shape)
    for cell in cells:
        total[cell.row, cell.column] += cell.surprise
        count[cell.row, cell.column] += 1.0
    seen = count > 0
    wanted = np.where(seen, total / np.maximum(count, 1.0), 0.0)
    noise = np.where(seen, likeness.noise / np.maximum(count, 1.0), 0.0)
    weights = np.zeros(shape)
    rest = wanted.copy()
    step = rest.copy()
    size = float((rest * rest).sum())
    floor = 1e-10 * max(size, 1e-30)
    for _ in range(400):
        if size <= floor:
            break
        ahead = np.where(seen, likeness.spread(step) + noise * step, 0.0)
        pace = size / float((step * ahead).sum())
        weights += pace * step
        rest -= pace * ahead
        new = float((rest * rest).sum())
        step = rest + (new / size) * step
        size = new
    return likeness.spread(weights)


def _share(sets: Sequence[frozenset[str]]) -> Array:
    """Jaccard index of all pairs; 0 where both are empty."""
    words = {word: n for n, word in enumerate(sorted(set().union(*sets)))}
    table = np.zeros((len(sets), max(len(words), 1)))
    for row, words_here in enumerate(sets):
        for word in words_here:
            table[row, words[word]] = 1.0
    common = table @ table.T
    sizes = table.sum(axis=1)
    either = sizes[:, None] + sizes[None, :] - common
    return np.asarray(
        np.divide(common, either, out=np.zeros_like(common), where=either > 0), dtype=np.float64
    )


def _same(words: Sequence[str | None]) -> Array:
    """1 where two words are known and equal, else 0."""
    return _share([frozenset(() if word is None else (word,)) for word in words])


def _near(sizes: Sequence[Range | None], steepness: float) -> Array:
    """Nearness of sizes on a logarithmic scale, 0..1; 0.5 when either is unknown."""
    middles = np.array([
        np.nan if size is None else np.log1p((size.low + size.high) / 2) for size in sizes
    ])
    apart = np.abs(middles[:, None] - middles[None, :])
    return np.where(np.isnan(apart), 0.5, np.exp(-steepness * np.nan_to_num(apart)))


def _form(pattern: Pattern) -> Form | None:
    return next((form for form in pattern.forms if not form.form), None)


def _joined(parts: dict[str, Array], prefix: str, book: RuleBook) -> Array:
    """Weighted mean of the parts of a likeness."""
    total = sum(book.value(f"{prefix}.{name}") for name in parts)
    mean = sum((book.value(f"{prefix}.{name}") * part for name, part in parts.items()), 0.0)
    return np.asarray(mean / total, dtype=np.float64)


def piece_likeness(reference: Reference, ids: list[str], book: RuleBook) -> Array:
    """Likeness of all pairs of patterns, 1 on the diagonal."""
    patterns = [reference.patterns[id_] for id_ in ids]
    steep = book.value("near-steepness")
    forms = [_form(pattern) for pattern in patterns]
    parts = {
        "family": _same([p.family for p in patterns]),
        "actions": _share([frozenset(o.action for o in p.offers) for p in patterns]),
        "end": _share([_end(p, form) for p, form in zip(patterns, forms, strict=True)]),
        "made-for": _share([frozenset(p.made_for) for p in patterns]),
        "not-for": _share([frozenset(p.not_for) for p in patterns]),
        "sets": _share([
            frozenset(p.belongs_to) | {f"at {w}" for w in p.place} for p in patterns
        ]),
        "features": _share([
            frozenset(
                f"{k}={v}" for k, values in p.features.items() if k != "action" for v in values
            ) for p in patterns
        ]),
        "width": _near(
            [f.measures.get("working_width_mm") if f is not None else None for f in forms], steep
        ),
        "length": _near([p.length_mm for p in patterns], steep),
        "blade": _near(
            [f.measures.get("working_length_mm") if f is not None else None for f in forms], steep
        ),
    }
    return _sharpened(_joined(parts, "piece-likeness", book), book.value("piece-sharpness"))


def _end(pattern: Pattern, form: Form | None) -> frozenset[str]:
    """What touches: trauma, tip, lock, jaw, strength, fineness, and the build of the end."""
    main = [o for o in pattern.offers if o.role == "main"] or list(pattern.offers[:1])
    end = {f"trauma={o.trauma}" for o in pattern.offers}
    for o in main:
        end |= {
            f"{o.fineness}/{o.trauma}/{o.tip}", f"tip={o.tip}", f"lock={o.lock}",
            f"jaw={o.jaw_surface}", f"strength={o.strength}", f"fineness={o.fineness}",
        }
    if form is not None:
        end |= {
            f"{key}={form.words[key]}" for key in
            ("bulk", "stiffness", "closing_force", "starts_hole", "edge", "point", "guard")
            if key in form.words
        }
    return frozenset(end)


def task_likeness(reference: Reference, tasks: list[Task], book: RuleBook) -> Array:
    """Likeness of all pairs of tasks: that of their steps, less where the action differs."""
    ids = sorted({task.step for task in tasks})
    place = {id_: n for n, id_ in enumerate(ids)}
    of_steps = step_likeness(reference, ids, book)
    index = np.array([place[task.step] for task in tasks])
    same = _same([task.action for task in tasks])
    other = book.value("other-action")
    return np.asarray(of_steps[np.ix_(index, index)] * np.where(same > 0, 1.0, other))


def step_likeness(reference: Reference, ids: list[str], book: RuleBook) -> Array:
    """Likeness of all pairs of steps, whatever is done in them, 1 on the diagonal."""
    steps = [reference.steps[id_] for id_ in ids]
    limits = [_usual_limit(s) for s in steps]
    parts = {
        "target": _same([s.target for s in steps]),
        "works-on": _share([
            frozenset(s.works_on) | {f"spare {w}" for w in s.must_spare} for s in steps
        ]),
        "trauma": _share([
            frozenset(limit.permitted_trauma if limit is not None else s.permitted_trauma)
            for s, limit in zip(steps, limits, strict=True)
        ]),
        "build": _share([_build(s, limit) for s, limit in zip(steps, limits, strict=True)]),
        "width": _near(
            [r.measures.get("widest_working_end_mm") if r is not None else None for r in limits],
            book.value("near-steepness"),
        ),
        "place": _same([s.place for s in steps]),
        "first-line": _same([s.family_first_line for s in steps]),
        "risk": _share([
            frozenset(r.tissue for r in s.at_risk)
            | (frozenset(limit.vital_near) if limit is not None else frozenset())
            for s, limit in zip(steps, limits, strict=True)
        ]),
        "demands": _share([
            frozenset(f"{d.level} {d.feature} {v}" for d in s.demands for v in d.values)
            for s in steps
        ]),
        "words": _share([_words(s) for s in steps]),
        "stated": _stated(steps),
    }
    return _sharpened(_joined(parts, "step-likeness", book), book.value("step-sharpness"))


def _usual_limit(step: Step) -> Limit | None:
    """The limit row of the usual case: no site, adult before child, the first by id."""
    rows = [row for row in step.limits if row.site is None]
    return min(rows, key=lambda r: (r.patient not in (None, "adult"), r.id), default=None)


def _sharpened(mean: Array, sharpness: float) -> Array:
    """Likeness that falls off steeply from 1; keeps the matrix positive definite."""
    np.fill_diagonal(mean, 1.0)
    return np.asarray(np.exp(sharpness * (mean - 1.0)))


def _stated(steps: Sequence[Step]) -> Array:
    """Steps stated to be alike or akin: share of the pairs in which both stand."""
    pairs: dict[tuple[str, str, str], int] = {}
    rows: list[list[int]] = []
    for step in steps:
        mine = []
        for kind, others in (
            ("like", (*step.like_steps, *step.like_same_procedure)), ("akin", step.akin_steps)
        ):
            for other in others:
                key = (kind, min(step.id, other), max(step.id, other))
                mine.append(pairs.setdefault(key, len(pairs)))
        rows.append(mine)
    table = np.zeros((len(steps), max(len(pairs), 1)))
    for n, mine in enumerate(rows):
        table[n, mine] = 1.0
    norms = np.sqrt((table**2).sum(axis=1))
    norms[norms == 0] = 1.0
    table /= norms[:, None]
    return np.asarray(table @ table.T)


def _words(step: Step) -> frozenset[str]:
    """Longer words of the names of a step."""
    text = " ".join((step.name, *(name.text for name in step.names), step.when or ""))
    return frozenset(word for word in _WORD.findall(text.lower()) if len(word) > 3)


def _build(step: Step, limit: Limit | None) -> frozenset[str]:
    words = limit.words if limit is not None else {}
    build = {f"{k}={words[k]}" for k in (
        "force_needed", "stiffness_needed", "already_open", "left_in", "hands_free_after",
        "entry", "must_be_counted",
    ) if k in words}
    return frozenset(build | {
        f"fate={step.fate}", f"strength={step.strength}", f"coarsest={step.coarsest}",
        f"finest={step.finest}", f"depth={step.depth}",
    })
