"""What speaks for and against a piece in a task: every rule that fires, with its finding.

Each function looks at one kind of fact (action, demands, trauma, size, force, opening, purpose,
place, keeping) and yields :class:`Evidence`.  Amounts grow with the shortfall and never shrink
with it, so that a shorter, weaker or less guarded piece is never judged better.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from etui.judging.demands import Checked, check
from etui.judging.piece import PieceView
from etui.judging.rulebook import RuleBook
from etui.judging.task import TaskView
from etui.knowledge.model import Demand, Offer, Range, Reference


class Evidence(NamedTuple):
    """One rule that fired: how much (1 = once, fully), what was asked and what the piece has."""

    rule: str
    amount: float
    demand: str
    offer: str
    hazard: str | None = None
    asks: str | None = None
    source: str | None = None


class Means(NamedTuple):
    """How the piece comes to do the action: by its own offer, in a unit, as a help, or not."""

    kind: str
    offer: Offer | None
    unit: str | None = None


def means(
    reference: Reference, book: RuleBook, piece: PieceView, action: str,
    units_of: dict[str, tuple[str, ...]],
) -> Means:
    """Find the best way in which *piece* offers *action*."""
    own = piece.offer(action)
    if own is not None:
        return Means("own", own)
    for unit_id in units_of.get(piece.id, ()):
        if action in reference.units[unit_id].actions:
            return Means("unit", None, unit_id)
    term = reference.terms.get("action", {}).get(action)
    if term is not None:
        helping = [o for o in piece.offers if o.action in term.helped_by]
        if helping:
            return Means("helped", min(helping, key=lambda o: (book.role_rank(o), o.action)))
    return Means("none", None)


def gather(task: TaskView, piece: PieceView, way: Means, book: RuleBook) -> list[Evidence]:
    """All evidence of the rules for *piece* in *task*, in a fixed order."""
    found: list[Evidence] = []
    found += _action(task, piece, way, book)
    found += _never(task, piece, way.offer, book)
    found += _demanded(task, piece, way.offer, book)
    found += _trauma(task, piece, way.offer, book)
    found += _strength(task, piece, way, book)
    found += _fineness(task, piece, way.offer, book)
    found += _size(task, piece, way.offer, book)
    found += _build(task, piece, book)
    found += _guard(task, piece, way.offer)
    found += _purpose(task, piece)
    found += _keeping(task, piece)
    found += _said(task, piece)
    return found


def _action(
    task: TaskView, piece: PieceView, way: Means, book: RuleBook
) -> Iterator[Evidence]:
    want = task.action.replace("_", " ")
    if way.kind == "own" and way.offer is not None:
        role = way.offer.role or "main"
        yield Evidence(f"action-{role}", 1.0, want, f"{want} ({role})")
    elif way.kind == "unit":
        yield Evidence("action-unit", 1.0, want, f"part of {way.unit}")
    elif way.kind == "helped" and way.offer is not None:
        yield Evidence("action-helped", 1.0, want, way.offer.action.replace("_", " "))
    else:
        yield Evidence("action-missing", 1.0, want, "not offered")
    if way.kind != "own":
        for undoing, hazard in book.undone_by.get(task.action, {}).items():
            offer = piece.offer(undoing)
            if offer is not None and offer.role != "makeshift":
                does = undoing.replace("_", " ")
                yield Evidence("does-the-opposite", 1.0, want, does, hazard or None)
    if task.side:
        yield Evidence("side-task", 1.0, task.step.action.replace("_", " "), want)
    elif piece.family == task.step.family_first_line:
        yield Evidence("first-line-family", 1.0, f"first line is {piece.family}", piece.family)


def _never(
    task: TaskView, piece: PieceView, offer: Offer | None, book: RuleBook
) -> Iterator[Evidence]:
    for demand in task.nevers:
        result = check(demand, piece, offer, book)
        if result.verdict == "met":
            yield Evidence(
                "never-met", 1.0, wording(demand), result.found, demand.hazard, None, demand.id
            )
        elif result.verdict == "depends":
            yield Evidence(
                "never-possible", 1.0, wording(demand), result.found, demand.hazard,
                f"{demand.feature} of the piece in hand", demand.id,
            )


def _demanded(
    task: TaskView, piece: PieceView, offer: Offer | None, book: RuleBook
) -> Iterator[Evidence]:
    for demand in task.musts:
        result = check(demand, piece, offer, book)
        if result.verdict == "idle":
            continue
        if result.verdict == "met":
            yield Evidence("must-met", 1.0, wording(demand), result.found, None, None, demand.id)
            continue
        group = _group(demand)
        rule = {
            "narrow": f"must-{group}-narrow", "missed": f"must-{group}-missed",
            "depends": "must-depends", "unknown": "must-unknown",
        }[result.verdict]
        asks = demand.feature if result.verdict in ("depends", "unknown") else None
        yield Evidence(rule, 1.0, wording(demand), result.found, demand.hazard, asks, demand.id)
    for demand in task.shoulds:
        result = check(demand, piece, offer, book)
        if result.verdict in ("missed", "narrow"):
            yield Evidence(
                "should-missed", 1.0 if result.verdict == "missed" else 0.5,
                wording(demand), result.found, None, None, demand.id,
            )
        elif result.verdict == "met":
            yield Evidence("should-met", 1.0, wording(demand), result.found, None, None, demand.id)


def _group(demand: Demand) -> str:
    """Demands of one kind share a rule: sizes, scales, the end that touches, and the rest."""
    if demand.feature in ("trauma", "tip", "teeth", "jaw_surface", "edge", "point", "jaw"):
        return "end"
    if demand.feature in ("lock", "occlusion", "tightener"):
        return "lock"
    if demand.feature in ("strength", "fineness"):
        return "scale"
    if demand.feature == "length_mm":
        return "length"
    if demand.feature.endswith("_mm") or demand.feature in ("gauge", "fr", "diameter_fr"):
        return "size"
    return "other"


_COARSE_OF = {
    "piercing_fine": "piercing", "needle_stitch": "piercing",
}


def _kinds(piece: PieceView, offer: Offer, action: str) -> frozenset[str]:
    """Kinds of trauma, in the finer list of the limits, that the piece may do by *offer*."""
    kinds = piece.words("trauma", offer)
    out = set()
    for kind in kinds:
        if kind == "piercing":
            if action in ("suture", "drive_needle", "staple"):
                out.add("needle_stitch")
            elif offer.fineness in ("fine", "micro"):
                out.add("piercing_fine")
            else:
                out.add("piercing")
        elif kind == "none":
            out.add("atraumatic")
        else:
            out.add(kind)
    return frozenset(out)


def _trauma(
    task: TaskView, piece: PieceView, offer: Offer | None, book: RuleBook
) -> Iterator[Evidence]:
    if offer is None:
        return
    kinds = _kinds(piece, offer, task.action)
    allowed = task.permitted
    if allowed and kinds:
        outside = kinds - allowed
        if outside:
            want = "only " + ", ".join(sorted(allowed))
            have = " or ".join(sorted(kinds))
            kind = max(sorted(outside), key=lambda k: book.rank("trauma", k) or 0.0)
            if len(outside) == len(kinds):
                where = "equipment" if task.step.fate == "equipment" else kind
                yield Evidence(f"trauma-{where}", 1.0, want, have, _HAZARD_OF.get(kind))
            else:
                yield Evidence(
                    "trauma-depends", 1.0, want, have, _HAZARD_OF.get(kind), "its tip and teeth"
                )
    coarse = task.permitted_coarse
    if coarse and task.step.fate != "equipment":
        plain = {_COARSE_OF.get(k, k) for k in kinds}
        if plain and not (plain & coarse) and plain != {"atraumatic"}:
            yield Evidence(
                "trauma-step", 1.0, "only " + ", ".join(sorted(coarse)),
                " or ".join(sorted(plain)), _HAZARD_OF.get(next(iter(sorted(plain)))),
            )


_HAZARD_OF = {
    "cutting": "cuts_unseen", "piercing": "pierces_preserved",
    "piercing_fine": "pierces_preserved", "needle_stitch": "pierces_preserved",
    "crushing": "crushes_preserved", "low_crush": "crushes_preserved", "thermal": "burns",
    "blunt": "tears_friable",
}


def _strength(
    task: TaskView, piece: PieceView, way: Means, book: RuleBook
) -> Iterator[Evidence]:
    offer = way.offer
    needed = task.strength
    if task.force is not None:
        have = book.rank("closing_force", piece.word("closing_force"))
        wanted = book.rank("force", task.force)
        if (
            have is not None and wanted is not None and piece.word("closing_force") != "none"
            and have < wanted
        ):
            yield Evidence(
                "force-short", wanted - have, f"force: {task.force}",
                f"closes: {piece.word('closing_force')}", "slips_off",
            )
    if offer is None or offer.strength is None or needed is None or way.kind != "own":
        return
    short = needed - offer.strength
    if short > 0 and task.strength_counts:
        rule = "weak-by-one" if short == 1 else "weak-by-more"
        yield Evidence(rule, 1.0, f"strength {needed}", f"strength {offer.strength}", None)
    if offer.strength - needed >= 2:
        yield Evidence(
            "stronger-by-more", 1.0, f"strength {needed}", f"strength {offer.strength}"
        )


def _fineness(
    task: TaskView, piece: PieceView, offer: Offer | None, book: RuleBook
) -> Iterator[Evidence]:
    if offer is None:
        return
    options = piece.words("fineness", offer)
    ranks = [r for r in (book.rank("fineness", w) for w in options) if r is not None]
    if not ranks:
        return
    coarsest = book.rank("fineness", task.coarsest)
    finest = book.rank("fineness", task.finest)
    found = " or ".join(sorted(options))
    if coarsest is not None and max(ranks) < coarsest:
        by = coarsest - max(ranks)
        rule = "coarse-by-one" if by < 2 else "coarse-by-more"
        yield Evidence(rule, 1.0, f"not coarser than {task.coarsest}", found)
    if finest is not None and min(ranks) > finest:
        by = min(ranks) - finest
        rule = "fine-by-one" if by < 2 else "fine-by-more"
        yield Evidence(rule, 1.0, f"not finer than {task.finest}", found)


def _over(limit: Range, size: Range) -> str | None:
    """How a size stands to an upper limit: out, perhaps out, in."""
    if size.low > limit.high:
        return "out"
    if size.high > limit.high:
        return "perhaps"
    return None


def _size(
    task: TaskView, piece: PieceView, offer: Offer | None, book: RuleBook
) -> Iterator[Evidence]:
    width = piece.measures.get("working_width_mm")
    if width is not None and task.widest is not None:
        how = _over(task.widest, width)
        wide = f"working end to {task.widest.high:g} mm"
        have = f"{width.low:g} to {width.high:g} mm"
        if how == "out":
            grossly = width.low > book.value("gross-width") * task.widest.high
            # What goes in or cuts is bound by the way in; what lies on or fills is less so.
            enters = task.action in book.entering
            rule = ("enters-" if enters else "") + ("too-wide-by-far" if grossly else "too-wide")
            yield Evidence(rule, 1.0, wide, have, "wrong_size")
        elif how == "perhaps":
            yield Evidence("perhaps-too-wide", 1.0, wide, have, None, "how wide it is")
    if width is not None and task.narrowest is not None and width.high < task.narrowest.low:
        yield Evidence(
            "too-narrow", 1.0, f"working end from {task.narrowest.low:g} mm",
            f"{width.low:g} to {width.high:g} mm",
        )
    blade = piece.measures.get("working_length_mm")
    if (
        blade is not None and task.longest is not None
        and piece.word("edge") not in (None, "none") and blade.low > task.longest.high
    ):
        yield Evidence(
            "blade-too-long", 1.0, f"edge to {task.longest.high:g} mm",
            f"{blade.low:g} to {blade.high:g} mm", "cuts_unseen",
        )
    depth = piece.measures.get("blade_depth_mm")
    if depth is not None and task.reach is not None and depth.low > task.reach.high:
        yield Evidence(
            "too-deep", 1.0, f"target at {task.reach.high:g} mm",
            f"blade {depth.low:g} to {depth.high:g} mm deep", "wrong_size",
        )
    length = piece.number("length_mm", offer)
    if length is not None and task.reach is not None and piece.pattern.whole_piece_size == "hand":
        needed = task.reach.high + book.value("grip-length")
        if length.high < needed:
            lacking = (needed - length.high) / needed
            yield Evidence(
                "reach-short", min(1.0, lacking / book.value("reach-share")),
                f"reaches {task.reach.high:g} mm", f"{length.low:g} to {length.high:g} mm long",
            )
    span = piece.pattern.whole_span_mm
    if span is not None and task.room is not None and span.low > task.room.high:
        yield Evidence(
            "no-room", 1.0, f"room {task.room.low:g} to {task.room.high:g} mm",
            f"{span.low:g} to {span.high:g} mm across", "wrong_size",
        )


def _build(task: TaskView, piece: PieceView, book: RuleBook) -> Iterator[Evidence]:
    stiff = piece.word("stiffness")
    if task.stiffness == "soft_only" and stiff == "rigid":
        yield Evidence("too-stiff", 1.0, "soft pieces only", stiff, "pierces_preserved")
    elif task.stiffness == "springy" and stiff == "rigid":
        yield Evidence("stiff-not-springy", 1.0, "must give", stiff)
    have, want = book.rank("stiffness", stiff), book.rank("stiffness", task.stiffness)
    if have is not None and want is not None and task.stiffness != "soft_only" and have < want:
        yield Evidence(
            "too-limp", 1.0 if want - have > 1 else 0.5, f"stiffness {task.stiffness}", stiff or ""
        )
    if task.already_open == "no":
        begins = piece.word("starts_hole")
        if begins == "no":
            yield Evidence("cannot-begin", 1.0, "must begin the opening", "cannot begin a hole")
        elif begins == "with_force":
            yield Evidence("begins-with-force", 1.0, "must begin the opening", "only with force")


def _guard(task: TaskView, piece: PieceView, offer: Offer | None) -> Iterator[Evidence]:
    if task.step.fate == "preserve":
        yield Evidence("target-lives", 1.0, "the target lives on", "")
    if not task.vital:
        return
    yield Evidence("beside-vital", 1.0, "beside " + _list(task.vital), "")
    sharp = piece.word("point") not in (None, "none", "round") or (
        offer is not None and offer.tip == "sharp"
    )
    edged = piece.word("edge") not in (None, "none")
    if not sharp and not edged:
        return
    yield Evidence("sharp-beside-vital", 1.0, "beside " + _list(task.vital), "sharp")
    guard = piece.word("guard")
    if guard not in (None, "none"):
        yield Evidence("own-guard", 1.0, "a guard beside " + _list(task.vital), str(guard))
        return
    if task.guards - {"sight"}:
        what = "point" if sharp else "edge"
        yield Evidence(
            f"bare-{what}", 1.0,
            f"guarded ({_list(task.guards)}) beside {_list(task.vital)}", f"bare {what}",
            "pierces_preserved" if sharp else "cuts_unseen",
        )


def _purpose(task: TaskView, piece: PieceView) -> Iterator[Evidence]:
    pattern = piece.pattern
    made, banned = frozenset(pattern.made_for), frozenset(pattern.not_for)
    if task.works_on:
        hit = made & task.works_on
        if hit:
            yield Evidence("made-for", 1.0, "for " + _list(task.works_on), _list(hit))
        elif made:
            yield Evidence("not-made-for", 1.0, "for " + _list(task.works_on), _list(made))
        wrong = banned & task.works_on
        if wrong:
            rule = "not-for-all" if wrong == task.works_on else "not-for-some"
            yield Evidence(rule, 1.0, "for " + _list(task.works_on), "not for " + _list(wrong))
    near = (banned & task.spared) - task.works_on
    if near:
        yield Evidence("not-for-beside", 1.0, "spares " + _list(near), "harms " + _list(near))
    step = task.step
    if step.set is not None and pattern.belongs_to:
        rule = "same-set" if step.set in pattern.belongs_to else "other-set"
        yield Evidence(rule, 1.0, f"set: {step.set}", _list(pattern.belongs_to))
    if "office_household" in pattern.belongs_to[:1]:
        yield Evidence("household", 1.0, "a surgical piece", "from a household")
    if step.place is not None and pattern.place and step.place not in pattern.place:
        yield Evidence("other-place", 1.0, f"works at {step.place}", _list(pattern.place))
    if pattern.patient is not None and not _suits(pattern.patient, task.patient):
        yield Evidence("other-patient", 1.0, task.patient, pattern.patient, "wrong_size")
    if step.order_word == "first" and pattern.order_of_use == "later":
        yield Evidence("comes-later", 1.0, "on the way in", "needs something before it")
    if pattern.skill == "specialist":
        yield Evidence("specialist", 1.0, "any trained hand", "specialist hand")


def _said(task: TaskView, piece: PieceView) -> Iterator[Evidence]:
    """What the trade says of the piece in words, against the words of the step."""
    used = share_of_words(piece.used_for, task.words)
    if used > 0.5:
        yield Evidence("used-for", used, task.step.name, "; ".join(piece.pattern.used_for))
    never = share_of_words(piece.never_for, task.words)
    if never > 0.5:
        yield Evidence("never-for", never, task.step.name, "; ".join(piece.pattern.never_for))


def share_of_words(phrases: tuple[frozenset[str], ...], words: frozenset[str]) -> float:
    """The largest share of the words of one phrase that stand among *words*."""
    return max((len(phrase & words) / len(phrase) for phrase in phrases if phrase), default=0.0)


def _suits(made_for: str, patient: str) -> bool:
    if made_for in ("any", patient):
        return True
    return made_for == "adult_child" and patient in ("adult", "child")


def _keeping(task: TaskView, piece: PieceView) -> Iterator[Evidence]:
    words = task.limit_words
    holds = piece.word("holds_by")
    if words.get("hands_free_after") == "yes" and holds in ("hand", "none"):
        yield Evidence("held-by-hand", 1.0, "stays by itself", f"holds by {holds}", "slips_off")
    left = words.get("left_in")
    can = piece.word("can_be_left_in")
    if left in ("hours", "days") and can == "no":
        yield Evidence("cannot-stay", 1.0, f"left in for {left}", "cannot be left in", "retained")
    elif left == "days" and can == "short":
        yield Evidence("stays-short", 1.0, "left in for days", "for a short time only")
    if words.get("must_be_counted") == "yes" and piece.word("xray_visible") == "no" and (
        piece.word("fixed_by") in (None, "none")
    ):
        yield Evidence("can-be-lost", 1.0, "counted and found again", "unmarked", "retained")
    if words.get("oxygen_or_alcohol_near") == "yes" and piece.word("power") in ("mains", "gas"):
        yield Evidence("spark", 1.0, "no spark near oxygen or spirit", "powered", "burns")


@lru_cache(maxsize=4096)
def _list(words: frozenset[str] | tuple[str, ...]) -> str:
    return ", ".join(w.replace("_", " ") for w in sorted(words))


def wording(demand: Demand) -> str:
    """A demand in words: "must: tip is blunt"."""
    compare = demand.compare.replace("_", " ")
    values = " or ".join(demand.values) if demand.compare != "between" else (
        " and ".join(demand.values)
    )
    return f"{demand.level}: {demand.feature.replace('_', ' ')} {compare} {values}"


__all__ = ["Checked", "Evidence", "Means", "gather", "means", "wording"]
