"""Facts about assemblies: parts on the tray, what each lacks, and whether a step hangs on it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from etui.trays.cover import STEM
from etui.trays.derive_steps import names, refs
from etui.trays.facts import Fact, Facts, Value, slug
from etui.trays.held import Held
from etui.trays.parts import Assembly, Part, rank, words_of
from etui.trays.situation import Course, Situation
from etui.trays.suggest import for_parts
from etui.trays.ways import StepCover


@dataclass(frozen=True, slots=True)
class Joined:
    """A part on the tray and the fullest unit that it can be put into."""

    piece: Held
    assembly: Assembly
    own_slot: str


def _slot_name(situation: Situation, piece: Held, unit_id: str | None) -> str:
    unit = situation.reference.units.get(unit_id or "")
    if unit is None:
        return ""
    return next((s.name for s in unit.slots if piece.pattern in s.alternatives), "")


def parts_on_tray(situation: Situation) -> list[Joined]:
    """Every piece on the tray that is only a part, with its fullest unit; worked out once."""
    kept = situation.memo.get("parts")
    if kept is None:
        kept = situation.memo["parts"] = _parts_on_tray(situation)
    return kept  # type: ignore[return-value]


def _parts_on_tray(situation: Situation) -> list[Joined]:
    workshop = situation.bench.workshop
    found = []
    for piece in situation.on_tray:
        record = situation.reference.patterns[piece.pattern]
        stated_lack = bool(piece.attributes.absent)
        if not piece.sure or not (workshop.dependent(record) or stated_lack):
            continue
        whole = workshop.whole_unit(piece, piece.pattern, situation.inventory)
        if whole is not None:
            found.append(Joined(piece, whole, _slot_name(situation, piece, whole.unit)))
    return found


def _groups(joined: list[Joined]) -> list[list[Joined]]:
    """Faults that are one fault: parts of one unit, or a part and the misfit for its place."""
    groups: list[list[Joined]] = []
    for one in sorted(joined, key=lambda j: j.piece.key):
        for group in groups:
            if any(_related(one, other) for other in group):
                group.append(one)
                break
        else:
            groups.append([one])
    return groups


def _related(a: Joined, b: Joined) -> bool:
    if a.assembly.unit == b.assembly.unit:
        return True
    return any(p.slot == b.own_slot for p in a.assembly.lacking) and any(
        p.slot == a.own_slot for p in b.assembly.lacking
    )


def _asked(situation: Situation, joined: Joined) -> bool:
    """Whether a line that was not understood may hold what a part lacks."""
    names = [
        words_of(p) | words_of(situation.reference.patterns[p].name)
        for part in joined.assembly.lacking
        for p in part.wanted
        if p in situation.reference.patterns
    ]
    stems = {w[:STEM] for words in names for w in words if len(w) >= STEM - 1}
    return any(
        w[:STEM] in stems
        for u in situation.contents.unread
        if not any(c in (joined.piece.pattern, *_members(situation, joined)) for c in u.choices)
        for w in words_of(u.text)
        if len(w) >= STEM - 1
    )


def _members(situation: Situation, joined: Joined) -> tuple[str, ...]:
    unit = situation.reference.units.get(joined.assembly.unit or "")
    return tuple(a for s in unit.slots for a in s.alternatives) if unit else ()


def add_assemblies(situation: Situation, facts: Facts) -> None:
    """One fact per complete part, and one per group of parts that do not make a unit."""
    joined = parts_on_tray(situation)
    lacking = [j for j in joined if j.assembly.lacking and not _asked(situation, j)]
    for one in joined:
        if not one.assembly.lacking:
            values = _values(situation, [one])
            facts.add(Fact(slug(("assembly", one.piece.key)), ("Assembly",), values))
    for group in _groups(lacking):
        hangs = _hanging_steps(situation, group)
        values = _values(situation, group)
        if hangs:
            values["ofStep"] = refs(tuple(c.id for _, c in hangs))
            values["stepName"] = (hangs[0][1].duty.step.name,)
            values["procedureName"] = (hangs[0][0].procedure.name,)
        decisive = bool(hangs) and _decides(group, *hangs[0])
        everyday = not decisive and _everyday(situation, group)
        kind = "DecisiveAssembly" if decisive else "RoomPartAssembly" if everyday else "Assembly"
        missing = tuple(dict.fromkeys(w for j in group for w in _wanted(j)))
        first = min(group, key=lambda j: j.piece.row)
        facts.add(
            Fact(
                slug(("assembly", *sorted(j.piece.key for j in group))), (kind,), values,
                order=hangs[0][1].duty.step.order if hangs else 0,
                place=first.piece.place if first.piece.row else None,
                suggest=partial(for_parts, situation, missing),
                explain=partial(_explain, situation, group),
            )
        )


def _wanted(joined: Joined) -> list[str]:
    return [w for p in joined.assembly.lacking for w in p.wanted]


def _everyday(situation: Situation, group: list[Joined]) -> bool:
    """Whether all that lacks is in every treatment room anyway."""
    everyday = situation.bench.lore.everyday
    lacking = [p for j in group for p in j.assembly.lacking]
    return all(any(w in everyday for w in p.wanted) for p in lacking)


def _hanging_steps(situation: Situation, group: list[Joined]) -> list[tuple[Course, StepCover]]:
    """Steps of the chosen paths that one of the parts would lead if its unit were whole."""
    keys = {j.piece.key for j in group}
    found = []
    for course in situation.courses:
        for step in course.steps:
            cover = course.covers[step.id]
            if any(w.lead.key in keys for w in cover.faulty) or _is_first_line(group, cover):
                found.append((course, cover))
    return sorted(found, key=lambda f: not _decides(group, *f))


def _is_first_line(group: list[Joined], cover: StepCover) -> bool:
    """Whether what lacks, and a part that is here, are both first line at a step."""
    first = set(cover.duty.first_line)
    return bool(first & {w for j in group for w in _wanted(j)}) and bool(
        first & {j.piece.pattern for j in group}
    )


def _decides(group: list[Joined], course: Course, cover: StepCover) -> bool:
    """Whether a needed step hangs on the parts: without them nothing, or a makeshift, is left."""
    if cover.id not in course.needed or cover.hand is not None or cover.unlisted:
        return False
    keys = {j.piece.key for j in group}
    meant = max((rank(w.grade) for w in cover.faulty if w.lead.key in keys), default=0)
    if _is_first_line(group, cover):
        meant = 4
    left = max((rank(w.grade) for w in cover.main_ways), default=0)
    return left < 2 or (left == 2 < meant)


def _values(situation: Situation, group: list[Joined]) -> dict[str, tuple[Value, ...]]:
    lacking: dict[str, Part] = {}
    for one in group:
        for part in one.assembly.lacking:
            lacking.setdefault(part.slot, part)
    pieces = [j.piece.pattern for j in group]
    values: dict[str, tuple[Value, ...]] = {
        "ofPiece": refs(tuple(dict.fromkeys(pieces))),
        "pieceNames": (_and([_title(situation, p) for p in dict.fromkeys(pieces)]),),
        "partsLacking": (len(lacking),),
    }
    if not lacking:
        return values
    misfit = len({j.assembly.unit for j in group}) > 1
    wanted = tuple(dict.fromkeys(w for p in lacking.values() for w in p.wanted))
    values["wanted"] = refs(wanted)
    parts = [_part_words(situation, p) for p in lacking.values()]
    values["lackingNames"] = (" or ".join(parts) if misfit else _and(parts),)
    stand_ins = [p for j in group for p in j.assembly.parts if p.fill == "stand-in"]
    if stand_ins:
        values["standInNames"] = (names(situation, [h.pattern for h in stand_ins[0].held]),)
    said = [situation.reference.units[j.assembly.unit].when_missing for j in group
            if j.assembly.unit]
    if said:
        values["whenMissing"] = (said[0],)
    if misfit:
        values["misfit"] = (_and([_title(situation, p) for p in dict.fromkeys(pieces)]),)
    return values


def _part_words(situation: Situation, part: Part) -> str:
    """What is lacking, in words: the patterns that would do, or how many more of one."""
    have = sum(h.count for h in part.held)
    short = part.count - have
    shown = [_title(situation, p) for p in part.wanted[:2]]
    name = " / ".join(shown) + (" or the like" if len(part.wanted) > 2 else "")
    return f"{short} more {name}" if have and part.count > 1 else name


def _title(situation: Situation, pattern: str) -> str:
    reference = situation.reference
    known = reference.patterns.get(pattern) or reference.units.get(pattern)
    return known.name if known else pattern


def _and(words: list[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _explain(situation: Situation, group: list[Joined]) -> tuple[str, ...]:
    lines = []
    for one in group:
        unit = situation.reference.units.get(one.assembly.unit or "")
        if unit is None:
            continue
        lines.append(f"{unit.name}: {unit.when_missing}. ({unit.how_known})")
        if unit.note:
            lines.append(f"{unit.name}: {unit.note}.")
        for stand_in in unit.stand_ins:
            lines.append(f"In place of the {stand_in.part}: {stand_in.text}: {stand_in.grade}.")
    return tuple(dict.fromkeys(lines))
