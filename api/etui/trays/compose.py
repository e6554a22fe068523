"""Compose a tray from a stock: the shortest one that is fit, or an honest no.

The answer is machine-readable and says what is on the tray and for which steps, what is lacking,
what was left out and why, which wishes were heeded, and how far the choice is proven to be the
best.  How it is chosen: ``docs/explanation/composition.md``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from etui.errors import BadInput
from etui.knowledge.model import Reference
from etui.trays.compose_build import Setting, setting
from etui.trays.compose_check import mended, told
from etui.trays.compose_problem import Plan, Problem
from etui.trays.compose_report import Teller, verdict_of
from etui.trays.compose_solve import solve
from etui.trays.compose_stock import Brief, beside_patterns, hold, name_matcher, stock_lines
from etui.trays.compose_ways import Fitter
from etui.trays.compose_wishes import hear
from etui.trays.grading import Judges
from etui.trays.model import Tray
from etui.trays.situation import Bench, ReadsTrays

__all__ = ["compose"]

_MOST_ALTERNATIVES = 10


def compose(
    brief: dict[str, Any],
    reference: Reference,
    reader: ReadsTrays,
    judge: Judges,
    *,
    alternatives: int = 0,
    without: Sequence[str] = (),
    seconds: float = 20.0,
    bench: Bench | None = None,
) -> dict[str, Any]:
    """Choose the shortest fit tray from a stock.

    Args:
        brief: ``{"title", "procedures", "operator", "stock": [{"name", "count"}], "constraints"}``;
            also understood: ``piece_ceiling``, ``piece_ceiling_excludes``, ``must_have``,
            ``must_not``, ``kept_alongside``, ``alternatives``, ``without``.
        reference: the knowledge.
        reader: reads stock lines and names of procedures.
        judge: grades what is put to a step.
        alternatives: how many next-best trays to add.
        without: names of stock lines to do without.
        seconds: limit of the solver for each aim.
        bench: what checks share, when there is one already; it must be of this reference.

    Returns:
        ``{"verdict", "tray", "gaps", "proof", ...}``; ``tray`` is empty when none is fit.

    Raises:
        BadInput: If the brief cannot be taken.
        UnknownTerm: If a procedure is not in the reference; carries the nearest names.
    """
    if not isinstance(brief, dict):
        raise BadInput("The brief is not an object.", mend='Give {"procedures": [], "stock": []}.')
    shared = bench or Bench(reference, reader, judge)
    wanted = _whole(brief.get("alternatives", alternatives) or 0, "alternatives")
    resolved, fitter, expected = _resolve(brief, shared, [*_texts(brief, "without"), *without])
    made = setting(resolved, fitter)
    plan = solve(made.problem, seconds=seconds)
    teller = Teller(resolved, made, plan, fitter, expected)
    if not plan.feasible:
        return teller.contradiction()
    made, plan, teller = mended(resolved, made, plan, teller, shared, seconds)
    out = teller.answer()
    told(out, resolved, teller, shared)
    if wanted and out["tray"]:
        out["alternatives"] = _others(resolved, made, plan, fitter, wanted, seconds)
    return out


def _resolve(
    brief: dict[str, Any], bench: Bench, without: Sequence[str]
) -> tuple[Brief, Fitter, tuple[str, ...]]:
    title, operator = _text(brief, "title"), _text(brief, "operator")
    named = tuple(_texts(brief, "procedures"))
    if not named:
        raise BadInput("No procedure is named.", where="procedures", mend="Name at least one.")
    procedures = bench.procedures(Tray(title=title, procedures=named))
    lines = stock_lines(brief.get("stock"))
    texts = _wishes_in(brief, without)
    wishes = hear(texts, name_matcher([name for name, _ in lines], bench.reference, bench))
    held = hold(lines, wishes, bench.reference, bench)
    absent = beside_patterns(wishes.absent, bench.reference, bench)
    beside = beside_patterns(wishes.beside, bench.reference, bench) - absent
    known = bench.reference.patterns.keys()
    fitter = Fitter(
        bench,
        held,
        beside=beside,
        usual={
            q.id: (bench.lore.everyday | {p for h in bench.usual(q) for p in h.choices}) & known
            for q in procedures
        },
        absent=absent,
        misfits=frozenset(wishes.misfits),
    )
    resolved = Brief(
        title=title,
        procedures=tuple(p.id for p in procedures),
        operator=operator,
        held=held,
        wishes=wishes,
        words=" ".join([title, *named, *texts]),
    )
    return resolved, fitter, tuple(t for p in procedures for t in p.kept_alongside)


def _wishes_in(brief: dict[str, Any], without: Sequence[str]) -> list[str]:
    texts = _texts(brief, "constraints")
    ceiling = brief.get("piece_ceiling")
    if ceiling is not None:
        texts.append(f"at most {_whole(ceiling, 'piece_ceiling')} pieces")
    texts += [f"{t} not counted" for t in _texts(brief, "piece_ceiling_excludes")]
    texts += [f"must have {t}" for t in _texts(brief, "must_have")]
    texts += [f"must not have {t}" for t in _texts(brief, "must_not")]
    texts += [f"{t} kept alongside" for t in _texts(brief, "kept_alongside")]
    texts += [f"leave out {t}" for t in without]
    return texts


def _text(brief: dict[str, Any], key: str) -> str:
    value = brief.get(key)
    if value is not None and not isinstance(value, str):
        raise BadInput(f"It is {value!r}.", where=key, mend="Give a text.")
    return value or ""


def _texts(brief: dict[str, Any], key: str) -> list[str]:
    value = brief.get(key)
    if value is None:
        return []
    if isinstance(value, str):
        return [line.strip() for line in value.splitlines() if line.strip()]
    if isinstance(value, list | tuple) and all(isinstance(v, str) for v in value):
        return [v.strip() for v in value if v.strip()]
    raise BadInput(f"It is {value!r}.", where=key, mend="Give a text or a list of texts.")


def _whole(value: object, key: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise BadInput(f"It is {value!r}.", where=key, mend="Give a whole number, 0 or more.")
    return value


def _others(
    resolved: Brief, made: Setting, plan: Plan, fitter: Fitter, wanted: int, seconds: float
) -> list[dict[str, Any]]:
    """The next best trays, each different from all before it."""
    out: list[dict[str, Any]] = []
    shown = [_selection(plan)]
    for _ in range(min(wanted, _MOST_ALTERNATIVES)):
        fields = {name: getattr(made.problem, name) for name in Problem.__struct_fields__}
        problem = Problem(**{**fields, "excluded": tuple(shown)})
        other = solve(problem, seconds=seconds)
        if verdict_of(problem, other) == "unfit":
            break
        shown.append(_selection(other))
        teller = Teller(resolved, made, other, fitter)
        found = teller.answer()
        told(found, resolved, teller, fitter.bench)
        out.append({key: found[key] for key in ("verdict", "tray", "pieces", "gaps", "proof")})
    return out


def _selection(plan: Plan) -> tuple[tuple[int, int], ...]:
    return tuple((lot, n) for lot, n in enumerate(plan.pieces) if n)
