"""Facts about pieces: harm within reach, look-alikes, use, readiness, lines that were not read."""

from __future__ import annotations

import re
from functools import partial
from itertools import combinations

from etui.trays.derive_steps import names, refs
from etui.trays.derive_units import parts_on_tray
from etui.trays.facts import Fact, Facts, Value, slug, thing
from etui.trays.held import Held, Unread
from etui.trays.parts import rank
from etui.trays.situation import Course, Situation
from etui.trays.suggest import for_step
from etui.trays.ways import StepCover, Way
from etui.trays.why import way_lines

LOOKS_LIKE = "it looks much like"
_UNREADY = re.compile(
    r"\b(?:not|un\w+|non|missing|reversed|upside|broken|blunt(?:ed)?|expired|torn|opened|damp|wet|"
    r"rust\w*|loose|bent|dirty|flat battery|out of date|jammed|stiff|cracked)\b",
    re.IGNORECASE,
)


def _title(situation: Situation, pattern: str) -> str:
    reference = situation.reference
    known = reference.patterns.get(pattern) or reference.units.get(pattern)
    return known.name if known else pattern


def add_reaches(situation: Situation, facts: Facts) -> None:
    """One fact per piece that somebody would reach for at a step where its grade counts.

    Somebody would when it is the only thing on the tray that offers the action, when the procedure
    names it as not wanted, or when it looks much like a piece that is right there.
    """
    found: dict[str, list[tuple[Course, StepCover, Way, str]]] = {}
    harmless: dict[str, list[tuple[Course, StepCover]]] = {}
    for course in situation.courses:
        for step in course.steps:
            if step.need not in {"essential", "conditional"}:
                continue
            cover = course.covers[step.id]
            own = [w for w in cover.ways if w.origin == "tray" and not cover.stopgap]
            for way in cover.harmful:
                reason = _reason(course, cover, own, way, situation)
                if way.origin == "tray" and reason:
                    found.setdefault(way.lead.key, []).append((course, cover, way, reason))
            if len(own) == 1:
                harmless.setdefault(own[0].lead.key, []).append((course, cover))
    for key in sorted({*found, *harmless}):
        if key in found:
            facts.add(_harm(situation, key, found[key]))
        else:
            course, cover = harmless[key][0]
            facts.add(
                Fact(
                    slug(("reach", key)), ("Reach",),
                    {"harmCount": (0,), "ofStep": (thing(cover.id),),
                     "procedureName": (course.procedure.name,)},
                )
            )


def _reason(
    course: Course, cover: StepCover, own: list[Way], way: Way, situation: Situation
) -> str:
    """Why somebody would reach for a harmful piece; empty if nobody would."""
    if not way.lead.sure or way.duty != "main" or _harms_by_part(cover, way):
        return ""
    stated = way.pattern in cover.duty.stated
    if stated and way.pattern in course.unwanted:
        return "the procedure names it as not wanted"
    by_hand = cover.hand is not None and (
        cover.hand.grade == "preferred" or cover.duty.step.need != "essential"
    )
    if not own and not by_hand and _tempts(situation, cover, way):
        return "nothing else on the tray offers to do this step"
    if not stated or not _instrument(situation, way.lead):
        return ""
    alike = [w for w in own if _right(cover, w) and situation.bench.alike(w.pattern, way.pattern)]
    if alike:
        return f"{LOOKS_LIKE} {_title(situation, alike[0].pattern)}"
    return ""


def _harms_by_part(cover: StepCover, way: Way) -> bool:
    """Whether it is a part of the unit that harms: the part is then named itself."""
    stated = cover.duty.stated
    own = stated.get(way.pattern)
    parts = [stated.get(p.held[0].pattern) for p in way.assembly.parts if p.held]
    return (own is None or own.grade != "unsafe") and any(
        p is not None and p.grade == "unsafe" for p in parts
    )


def _right(cover: StepCover, way: Way) -> bool:
    """Whether a way is stated to be good at a step."""
    return rank(way.grade) >= 3 and way.pattern in cover.duty.stated


def _tempts(situation: Situation, cover: StepCover, way: Way) -> bool:
    """Whether a piece offers a step's action: named there, or made for that action."""
    action = cover.duty.step.action
    offer = next(
        (o for o in situation.reference.patterns[way.pattern].offers if o.action == action), None
    )
    if offer is None:
        return False
    stated = way.pattern in cover.duty.stated
    return stated or (offer.role == "main" and cover.duty.step.need == "essential")


def _harm(
    situation: Situation, key: str, hits: list[tuple[Course, StepCover, Way, str]]
) -> Fact:
    course, cover, way, reason = hits[0]
    decisive = any(c.id in crs.path.gaps for crs, c, _, _ in hits)
    answer = situation.bench.grader.answer(cover.id, way.pattern, way.lead.attributes)
    judgement = cover.duty.stated.get(way.pattern)
    because = (judgement.because if judgement else None) or next(
        (g.consequence for g in answer.grounds if g.level == "against"), ""
    )
    values: dict[str, tuple[Value, ...]] = {
        "harmCount": (len({c.id for _, c, _, _ in hits}),),
        "ofPiece": refs((way.pattern,)),
        "pieceName": (_title(situation, way.pattern),),
        "ofStep": refs(tuple(dict.fromkeys(c.id for _, c, _, _ in hits))),
        "stepName": (cover.duty.step.name,),
        "procedureName": (course.procedure.name,),
        "reachedBecause": (reason,),
    }
    if because:
        values["harmBecause"] = (because.rstrip("."),)
    better = cover.ways[0].pattern if cover.ways else None
    if better:
        values["betterNames"] = (_title(situation, better),)
    elif cover.duty.first_line:
        values["wantedNames"] = (names(situation, cover.duty.first_line),)
    return Fact(
        slug(("reach", key)), (_kind_of_reach(situation, hits, decisive),), values,
        order=cover.duty.step.order, place=way.lead.place if way.lead.row else None,
        suggest=lambda: for_step(situation, cover),
        explain=lambda: way_lines(situation, cover, way),
    )


def _kind_of_reach(
    situation: Situation, hits: list[tuple[Course, StepCover, Way, str]], decisive: bool
) -> str:
    """How grave a reach is: by likeness alone it counts in rare hands at an essential step."""
    if decisive:
        return "DecisiveReach"
    by_likeness = all(reason.startswith(LOOKS_LIKE) for _, _, _, reason in hits)
    essential = any(cover.id in course.needed for course, cover, _, _ in hits)
    if by_likeness and not (situation.hands.rare and essential):
        return "AlikeReach"
    return "Reach"


def add_alikes(situation: Situation, facts: Facts) -> None:
    """One fact per pair on the tray that looks alike: steps where a mix-up harms."""
    patterns = sorted(
        {h.pattern for h in situation.on_tray if h.sure and _instrument(situation, h)}
    )
    sides = _sides(situation)
    for a, b in combinations(patterns, 2):
        if not situation.bench.alike(a, b):
            continue
        harms = _swaps(sides, a, b)
        values: dict[str, tuple[Value, ...]] = {
            "ofPiece": refs((a, b)),
            "pieceName": (_title(situation, a),),
            "otherName": (_title(situation, b),),
            "harmfulSwaps": (len(harms),),
        }
        kind = "AlikePair"
        if harms:
            course, cover, wrong = harms[0]
            values["ofStep"] = refs(tuple(dict.fromkeys(c.id for _, c, _ in harms)))
            values["stepName"] = (cover.duty.step.name,)
            values["procedureName"] = (course.procedure.name,)
            values["wrongName"] = (_title(situation, wrong),)
            if situation.hands.rare and any(c.id in crs.needed for crs, c, _ in harms):
                kind = "AlikePairInRareHands"
        facts.add(
            Fact(
                slug(("alike", a, b)), (kind,), values,
                explain=partial(_tells, situation, a, b),
            )
        )


Side = tuple[Course, StepCover, frozenset[str], frozenset[str]]
"""A step with the patterns on the tray that are right for it and those that harm there."""


def _sides(situation: Situation) -> list[Side]:
    """Needed or conditional steps that have both a right and a harmful piece on the tray."""
    found: list[Side] = []
    for course in situation.courses:
        for step in course.steps:
            cover = course.covers[step.id]
            if step.need not in {"essential", "conditional"} or not cover.harmful:
                continue
            right = frozenset(
                w.pattern for w in (*cover.ways, *cover.faulty) if _right(cover, w)
            )
            harmful = frozenset(
                w.pattern for w in cover.harmful if w.pattern in cover.duty.stated
            )
            if right and harmful:
                found.append((course, cover, right, harmful))
    return found


def _swaps(sides: list[Side], a: str, b: str) -> list[tuple[Course, StepCover, str]]:
    """Steps that one of a pair does well and the other harms, with the harmful one."""
    found = []
    for course, cover, right, harmful in sides:
        if a in right and b in harmful:
            found.append((course, cover, b))
        elif b in right and a in harmful:
            found.append((course, cover, a))
    return found


def _tells(situation: Situation, a: str, b: str) -> tuple[str, ...]:
    from etui.judging.compare import compare

    told = compare(a, b, situation.reference)
    return (f"How to tell them apart: {told['tells']}",) if told.get("tells") else ()


def add_uses(situation: Situation, facts: Facts) -> None:
    """One fact per instrument on the tray: steps that it serves, and whether it is not wanted."""
    serving = _serving(situation)
    parts = {j.piece.key for j in parts_on_tray(situation) if j.assembly.lacking}
    for piece in situation.on_tray:
        if not piece.sure or piece.key in parts or not _instrument(situation, piece):
            continue
        steps = serving.get(piece.key, set())
        values: dict[str, tuple[Value, ...]] = {
            "ofPiece": refs((piece.pattern,)),
            "pieceName": (_title(situation, piece.pattern),),
            "piecesHeld": (piece.count,),
            "stepsServed": (len(steps),),
            "procedureName": (_procedures(situation),),
        }
        unwanted = [c.unwanted[piece.pattern] for c in situation.courses
                    if piece.pattern in c.unwanted]
        if unwanted and len(unwanted) == len(situation.courses):
            values["notWantedBecause"] = (unwanted[0].rstrip("."),)
            if not steps:
                del values["stepsServed"]
        facts.add(
            Fact(
                slug(("use", piece.key)), ("PieceUse",), values,
                place=piece.place if piece.row else None,
            )
        )


def _procedures(situation: Situation) -> str:
    return " and ".join(c.procedure.name for c in situation.courses)


def _instrument(situation: Situation, piece: Held) -> bool:
    """Whether a piece is an instrument; consumables and room stock are never too many here."""
    record = situation.reference.patterns[piece.pattern]
    if piece.pattern in situation.bench.lore.everyday:
        return False
    return "consumable" not in record.features.get("part", ()) and record.family not in {
        "consumable", "container",
    }


def _serving(situation: Situation) -> dict[str, set[str]]:
    """Key of a piece -> steps of any way of the procedures that it serves in any duty."""
    found: dict[str, set[str]] = {}
    for course in situation.courses:
        for step in course.procedure.steps:
            cover = course.covers[step]
            for way in (*_worthwhile(cover), *cover.faulty):
                for part in way.assembly.parts:
                    for held in part.held:
                        found.setdefault(held.key, set()).add(step)
                found.setdefault(way.lead.key, set()).add(step)
            for helper in cover.helpers:
                judgement = cover.duty.stated.get(helper.pattern)
                if judgement is not None and rank(judgement.grade) >= 2:
                    found.setdefault(helper.key, set()).add(step)
    return found


def _worthwhile(cover: StepCover) -> list[Way]:
    """Ways that a step would be done in: stated good ones, and whatever is the best there is."""
    best = rank(cover.ways[0].grade) if cover.ways else 0
    return [
        w
        for w in cover.ways
        if (w.pattern in cover.duty.stated and rank(w.grade) >= 3)
        or (rank(w.grade) == best and cover.hand is None)
    ]


def add_readiness(situation: Situation, facts: Facts) -> None:
    """One fact per piece whose line says in what state it is."""
    for piece in situation.on_tray:
        state = piece.attributes.state
        if not state:
            continue
        bad = tuple(s for s in state if _UNREADY.search(s))
        values: dict[str, tuple[Value, ...]] = {
            "ofPiece": refs((piece.pattern,)),
            "pieceName": (_title(situation, piece.pattern),),
            "lineText": (piece.text,),
        }
        if bad:
            values["unreadyState"] = bad
        facts.add(
            Fact(slug(("state", piece.key)), ("PieceState",), values,
                 place=piece.place if piece.row else None)
        )


def add_lines(situation: Situation, facts: Facts) -> None:
    """One fact per line of the tray: whether it was understood, and whether that matters."""
    unread: dict[tuple[str, int], Unread] = {}
    for one in situation.contents.unread:
        unread.setdefault((one.text, one.row), one)
    texts: dict[str, int] = {}
    for one in unread.values():
        texts[one.text] = texts.get(one.text, 0) + 1
    gaps = [c.covers[g] for c in situation.courses for g in _open_steps(c)]
    asked = {
        u.text
        for c in situation.courses
        for s in c.steps
        if s.need in {"essential", "conditional"}
        for u in c.covers[s.id].asked
    } | _doubtful(situation)
    for (text, row), one in sorted(unread.items(), key=lambda p: (p[0][0], p[0][1])):
        key = ("line", text) if texts[text] == 1 else ("line", text, str(row))
        matters = text in asked or any(
            c in cover.duty.duties and c in cover.duty.good for cover in gaps for c in one.choices
        )
        values: dict[str, tuple[Value, ...]] = {"lineText": (text,), "readAs": (0,)}
        if one.choices:
            values["mayBeNames"] = (names(situation, one.choices),)
            values["mayBe"] = refs(one.choices)
        if one.ask:
            values["ask"] = (one.ask,)
        facts.add(
            Fact(slug(key), ("DecidingLine" if matters else "ReadLine",), values,
                 place=one.place if one.place.row else None)
        )
    for line in situation.contents.lines[: len(situation.tray.contents)]:
        iri = slug(("line", line.text))
        if iri not in facts.nodes and line.text not in texts:
            facts.add(Fact(iri, ("ReadLine",), {"lineText": (line.text,), "readAs": (1,)}))


def _doubtful(situation: Situation) -> set[str]:
    """Words of lines that an essential step hangs on and that leave open whether they do it."""
    found = set()
    for course in situation.courses:
        for step in course.needed:
            ways = course.covers[step].ways
            if ways and all(w.doubtful for w in ways) and course.covers[step].hand is None:
                found |= {w.lead.said for w in ways}
    return found


def _open_steps(course: Course) -> list[str]:
    """Steps of a path that the list does not serve well."""
    return [
        s.id for s in course.steps
        if s.need in {"essential", "conditional"} and not course.covers[s.id].ways
        and course.covers[s.id].hand is None
    ]
