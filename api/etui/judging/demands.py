"""Does a piece meet one demand of a step?  Words, numbers and scales, and how narrowly missed.

An unknown value is unknown, never a pass.  Several possible words (a pattern that comes in two
forms) that do not all give the same answer are "depends": the piece in hand decides.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from etui.judging.piece import PieceView
from etui.judging.rulebook import RuleBook
from etui.knowledge.model import Demand, Offer, Range

Verdict = Literal["met", "depends", "narrow", "missed", "unknown", "idle"]

_SCALES = ("fineness", "trauma", "strength")


class Checked(NamedTuple):
    """How one demand fared; ``found`` is what the piece has, in words."""

    verdict: Verdict
    found: str


_UNKNOWN = Checked("unknown", "not known")
_IDLE = Checked("idle", "does not apply")


def has_part(feature: str, piece: PieceView, offer: Offer | None) -> bool:
    """Whether the piece has what the demand speaks of: jaws that close, or an end that touches."""
    row = offer if offer is not None else (piece.offers[0] if piece.offers else None)
    if row is None:
        return True
    if feature in ("tip", "teeth", "curve"):
        return row.tip not in (None, "none") or row.teeth not in (None, "none")
    return row.jaw_surface not in (None, "none") or row.handle not in (None, "none")


def stays_itself(piece: PieceView) -> bool:
    """Whether it keeps its hold without a lock: by a knot, a spring, friction or its weight."""
    return piece.word("holds_by") in ("knot", "spring", "friction", "weight")


def check(demand: Demand, piece: PieceView, offer: Offer | None, book: RuleBook) -> Checked:
    """Compare *demand* with *piece*, used by *offer*."""
    feature = demand.feature
    if feature in book.unit_features:
        # Whether parts are joined and fit is settled when the unit is put together.
        return _IDLE
    if feature in book.jaw_features and not has_part(feature, piece, offer):
        # A demand on jaws says nothing of a tie, a tube or a swab.
        return _IDLE
    if feature == "lock" and demand.level != "never" and stays_itself(piece):
        return Checked("met", f"holds by {piece.word('holds_by')}")
    if feature == "action":
        return _action(demand, piece)
    if feature == "strength":
        have = None if offer is None or offer.strength is None else float(offer.strength)
        if have is None:
            return _UNKNOWN
        return _number(demand, Range(low=have, high=have), book.value("narrow-rank"), share=False)
    if feature in _SCALES and demand.compare in ("at_least", "at_most"):
        return _scale(demand, piece.words(feature, offer), book)
    sizes = book.reads_size.get(feature)
    if sizes is not None:
        for key in sizes:
            size = piece.number(key, offer)
            if size is not None:
                return _number(demand, size, book.value("narrow-share"), share=True)
        return _UNKNOWN
    for key in book.reads_word.get(feature, (feature,)):
        options = piece.words(key, offer)
        if options:
            return _word(demand, options, book)
    return _UNKNOWN


def _action(demand: Demand, piece: PieceView) -> Checked:
    if any(piece.offer(action) is not None for action in demand.values):
        return Checked("met", "offers it")
    known = any(_is_action(value) for value in demand.values)
    return Checked("missed", "does not offer it") if known else _UNKNOWN


def _is_action(value: str) -> bool:
    return value.isalpha() or value in ("cut_suture", "drive_needle", "occlude_tube")


def _scale(demand: Demand, options: frozenset[str], book: RuleBook) -> Checked:
    limit = book.rank(demand.feature, demand.values[0])
    ranks = [r for r in (book.rank(demand.feature, word) for word in options) if r is not None]
    if limit is None or not ranks:
        return _UNKNOWN
    found = " or ".join(sorted(options))
    # "Fineness at most fine" means not coarser than fine; trauma at most is milder or equal.
    finer = demand.feature == "fineness"
    wants_high = (demand.compare == "at_least") != (finer and demand.compare == "at_most")
    misses = [max(0.0, limit - r) if wants_high else max(0.0, r - limit) for r in ranks]
    if max(misses) == 0:
        return Checked("met", found)
    if min(misses) == 0:
        return Checked("depends", found)
    return Checked("narrow" if min(misses) <= book.value("narrow-rank") else "missed", found)


def _number(demand: Demand, have: Range, slack: float, *, share: bool) -> Checked:
    try:
        wanted = [float(value) for value in demand.values]
    except ValueError:
        return _UNKNOWN
    found = _span(have)
    if demand.compare == "at_least":
        low, high = wanted[0], float("inf")
    elif demand.compare == "at_most":
        low, high = float("-inf"), wanted[0]
    elif demand.compare == "between" and len(wanted) > 1:
        low, high = min(wanted), max(wanted)
    elif demand.compare in ("is", "one_of", "any_of"):
        return _one_number(wanted, have, found, slack, share=share)
    elif demand.compare == "not":
        same = any(value == have.low == have.high for value in wanted)
        return Checked("missed" if same else "met", found)
    else:
        return _UNKNOWN
    if low <= have.low and have.high <= high:
        return Checked("met", found)
    if have.high >= low and have.low <= high:
        # The pattern comes in sizes on both sides of the limit: the piece in hand decides.
        return Checked("depends", found)
    miss = low - have.high if have.high < low else have.low - high
    edge = low if have.high < low else high
    allowed = slack * abs(edge) if share else slack
    return Checked("narrow" if miss <= allowed else "missed", found)


def _one_number(
    wanted: list[float], have: Range, found: str, slack: float, *, share: bool
) -> Checked:
    if any(value in have for value in wanted):
        exact = have.low == have.high or len(wanted) > 1
        return Checked("met" if exact else "depends", found)
    miss = min(min(abs(v - have.low), abs(v - have.high)) for v in wanted)
    edge = min(wanted, key=lambda v: min(abs(v - have.low), abs(v - have.high)))
    allowed = slack * abs(edge) if share else slack
    return Checked("narrow" if miss <= allowed else "missed", found)


def _word(demand: Demand, options: frozenset[str], book: RuleBook) -> Checked:
    found = " or ".join(sorted(options))
    good: set[str] = set()
    near: set[str] = set()
    for value in demand.values:
        good |= book.met_by(demand.feature, value)
        near |= book.near_words.get(f"{demand.feature} {value}", frozenset())
    hits = options & good
    if demand.compare == "not":
        hits = options - good
    if hits == options:
        return Checked("met", found)
    if hits:
        return Checked("depends", found)
    return Checked("narrow" if options & near else "missed", found)


def _span(size: Range) -> str:
    if size.low == size.high:
        return f"{size.low:g}"
    return f"{size.low:g} to {size.high:g}"
