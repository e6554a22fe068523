"""Graded neighbours: the same piece in like steps, like pieces in the same step.

Likeness of two pieces and of two steps is a number 0..1 worked out from what the graph states of
them (how much each fact counts is data in ``ontology/rules.ttl``).  A vote is the mean of the
neighbours' outcomes, -1 usable to +1 not usable, drawn towards 0 when little is near.

Judgements that only restate features, and those for a side role, do not vote on main tasks.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from etui.judging.rulebook import RuleBook
from etui.knowledge.model import GRADES, USABLE, Form, Judgement, Pattern, Reference, Step

Array = NDArray[np.float64]


class Votes(NamedTuple):
    """Votes on one pair, each -1..1, how much evidence stands behind all of them, and quality.

    ``quality``: mean grade of usable neighbours, 0 preferred .. 2 improvised, None without any.
    """

    same_piece: float
    same_step: float
    both: float
    weight: float
    quality: float | None
    example: str | None = None


class Neighbours:
    """Votes on any (step, pattern) pair, with the pair's own judgement left out or not."""

    def __init__(self, reference: Reference, book: RuleBook) -> None:
        self.steps = sorted(reference.steps)
        self.patterns = sorted(reference.patterns)
        self.step_row = {id_: n for n, id_ in enumerate(self.steps)}
        self.piece_row = {id_: n for n, id_ in enumerate(self.patterns)}
        shape = (len(self.steps), len(self.patterns))
        outcome, mask, quality, usable = (np.zeros(shape) for _ in range(4))
        for step in reference.steps.values():
            for judgement in step.judgements:
                column = self.piece_row.get(judgement.subject)
                if column is None or not votes(judgement):
                    continue
                cell = (self.step_row[step.id], column)
                mask[cell] += 1.0
                good = judgement.grade in USABLE
                outcome[cell] += -1.0 if good else 1.0
                if good:
                    quality[cell] += GRADES.index(judgement.grade)
                    usable[cell] += 1.0
        many = np.maximum(mask, 1.0)
        self.outcome, self.mask = outcome / many, np.minimum(mask, 1.0)
        self.quality = quality / np.maximum(usable, 1.0)
        self.usable = np.minimum(usable, 1.0)
        self.like_steps = step_likeness(reference, self.steps, book)
        self.like_pieces = piece_likeness(reference, self.patterns, book)
        self.damping = book.value("vote-damping")
        self._sum()

    def _sum(self) -> None:
        a, b = self.like_steps, self.like_pieces
        self.num_piece, self.den_piece = a @ self.outcome, a @ self.mask
        self.num_step, self.den_step = self.outcome @ b, self.mask @ b
        self.num_both = a @ self.outcome @ b
        self.den_both = a @ self.mask @ b
        self.qnum = a @ (self.quality * self.usable) @ b
        self.qden = a @ self.usable @ b

    def votes(self, step_id: str, pattern_id: str, *, leave_out: bool) -> Votes:
        """The votes; *leave_out* hides what is stated on this very pair."""
        s, p = self.step_row[step_id], self.piece_row[pattern_id]
        own_mask = self.mask[s, p] if leave_out else 0.0
        own = self.outcome[s, p] * own_mask
        damp = self.damping
        same_piece = (self.num_piece[s, p] - own) / (self.den_piece[s, p] - own_mask + damp)
        same_step = (self.num_step[s, p] - own) / (self.den_step[s, p] - own_mask + damp)
        both = (self.num_both[s, p] - own) / (self.den_both[s, p] - own_mask + damp)
        own_usable = self.usable[s, p] if leave_out else 0.0
        qden = self.qden[s, p] - own_usable
        quality = None
        if qden > 0.3:
            quality = (self.qnum[s, p] - self.quality[s, p] * own_usable) / qden
        weight = self.den_both[s, p] - own_mask
        return Votes(
            float(same_piece), float(same_step), float(both), float(weight),
            None if quality is None else float(quality),
        )


def votes(judgement: Judgement) -> bool:
    """Whether a stated judgement is evidence on its step's main task."""
    return not (
        judgement.features_only or judgement.role or judgement.as_action or judgement.condition
    )


def _share(a: frozenset[str], b: frozenset[str]) -> float:
    """Jaccard index; 0 when both are empty."""
    either = len(a | b)
    return len(a & b) / either if either else 0.0


def _same(a: object, b: object) -> float:
    return 1.0 if a is not None and a == b else 0.0


def _form(pattern: Pattern) -> Form | None:
    return next((form for form in pattern.forms if not form.form), None)


def _near(a: tuple[float, float] | None, b: tuple[float, float] | None) -> float:
    """Overlap of two ranges on a logarithmic scale, 0..1; 0.5 when either is unknown."""
    if a is None or b is None:
        return 0.5
    middle_a, middle_b = np.log1p(sum(a) / 2), np.log1p(sum(b) / 2)
    return float(np.exp(-abs(middle_a - middle_b) * 1.5))


def piece_likeness(reference: Reference, ids: list[str], book: RuleBook) -> Array:
    """Likeness of all pairs of patterns, 1 on the diagonal."""
    facts = [_piece_facts(reference.patterns[id_]) for id_ in ids]
    weights = np.array([book.value(f"piece-likeness.{name}") for name in _PIECE_FACTS])
    sharp = book.value("piece-sharpness")
    out = np.eye(len(ids))
    total = weights.sum()
    for n, a in enumerate(facts):
        for m in range(n):
            b = facts[m]
            score = (
                weights[0] * _same(a[0], b[0]) + weights[1] * _share(a[1], b[1])
                + weights[2] * _share(a[2], b[2]) + weights[3] * _share(a[3], b[3])
                + weights[4] * _near(a[4], b[4]) + weights[5] * _near(a[5], b[5])
            ) / total
            out[n, m] = out[m, n] = score**sharp
    return out


_PIECE_FACTS = ("family", "actions", "end", "purpose", "width", "length")

_Facts = tuple[
    str, frozenset[str], frozenset[str], frozenset[str],
    tuple[float, float] | None, tuple[float, float] | None,
]


def _piece_facts(pattern: Pattern) -> _Facts:
    main = [o for o in pattern.offers if o.role == "main"] or list(pattern.offers[:1])
    end = {f"{o.fineness}/{o.trauma}/{o.tip}" for o in main}
    end |= {f"{o.trauma}" for o in pattern.offers} | {f"t{o.tip}" for o in main}
    end |= {f"l{o.lock}" for o in main} | {f"j{o.jaw_surface}" for o in main}
    end |= {f"s{o.strength}" for o in main} | {f"f{o.fineness}" for o in main}
    form = _form(pattern)
    if form is not None:
        end |= {
            f"{key}={form.words[key]}" for key in
            ("bulk", "stiffness", "closing_force", "starts_hole", "edge", "point", "guard")
            if key in form.words
        }
    width = form.measures.get("working_width_mm") if form is not None else None
    length = pattern.length_mm
    return (
        pattern.family,
        frozenset(o.action for o in pattern.offers),
        frozenset(end),
        frozenset(pattern.made_for) | {f"not {w}" for w in pattern.not_for}
        | {f"in {w}" for w in pattern.belongs_to},
        (width.low, width.high) if width is not None else None,
        (length.low, length.high) if length is not None else None,
    )


_STEP_FACTS = ("action", "target", "works-on", "trauma", "build", "width", "place")


def step_likeness(reference: Reference, ids: list[str], book: RuleBook) -> Array:
    """Likeness of all pairs of steps, 1 on the diagonal; stated likeness outranks the reckoned."""
    weights = np.array([book.value(f"step-likeness.{name}") for name in _STEP_FACTS])
    sharp = book.value("step-sharpness")
    other_action = book.value("step-other-action")
    facts = [_step_facts(reference.steps[id_]) for id_ in ids]
    out = np.eye(len(ids))
    total = weights.sum()
    for n, a in enumerate(facts):
        for m in range(n):
            b = facts[m]
            score = (
                weights[0] * _same(a[0], b[0]) + weights[1] * _same(a[1], b[1])
                + weights[2] * _share(a[2], b[2]) + weights[3] * _share(a[3], b[3])
                + weights[4] * _share(a[4], b[4]) + weights[5] * _near(a[5], b[5])
                + weights[6] * _same(a[6], b[6])
            ) / total
            score = score**sharp
            if a[0] != b[0]:
                score *= other_action
            out[n, m] = out[m, n] = score
    row = {id_: n for n, id_ in enumerate(ids)}
    for id_ in ids:
        step = reference.steps[id_]
        for others, name in (
            (step.akin_steps, "stated-akin"), (step.like_steps, "stated-like"),
            (step.like_same_procedure, "stated-like"),
        ):
            for other in others:
                if other in row:
                    n, m = row[id_], row[other]
                    value = max(out[n, m], book.value(name))
                    out[n, m] = out[m, n] = value
    return out


_StepFacts = tuple[
    str, str, frozenset[str], frozenset[str], frozenset[str],
    tuple[float, float] | None, str | None,
]


def _step_facts(step: Step) -> _StepFacts:
    limit = next((row for row in step.limits if row.site is None), None)
    width = limit.measures.get("widest_working_end_mm") if limit is not None else None
    words = limit.words if limit is not None else {}
    build = {f"{k}={words[k]}" for k in (
        "force_needed", "stiffness_needed", "already_open", "left_in", "hands_free_after",
        "entry", "must_be_counted",
    ) if k in words}
    build |= {f"fate={step.fate}", f"strength={step.strength}", f"coarsest={step.coarsest}",
              f"finest={step.finest}", f"depth={step.depth}"}
    return (
        step.action, step.target,
        frozenset(step.works_on) | {f"spare {w}" for w in step.must_spare},
        frozenset(limit.permitted_trauma if limit is not None else step.permitted_trauma),
        frozenset(build),
        (width.low, width.high) if width is not None else None,
        step.place,
    )
