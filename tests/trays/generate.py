"""Trays made at random, broken ones among them, for tests that compare two ways to one answer."""

from __future__ import annotations

import random
from collections.abc import Iterator

from etui.knowledge.model import Reference
from etui.reading.model import Alternative, Attributes, Item, Reading
from etui.trays.model import Line, Place, Tray

STATES = ((), (), (), (), ("reversed",), ("not sterile",))
OPERATORS = (None, "surgeon", "emergency nurse", "two operators", "rural doctor, alone")


def line_of(
    pattern: str, count: int, row: int, attributes: Attributes, others: tuple[str, ...] = ()
) -> Line:
    """A line that has been read already; *others*: further patterns that its words may mean."""
    item = Item(
        text=pattern,
        kind="ambiguous" if others else "instrument",
        pattern=None if others else pattern,
        name=pattern,
        quantity=count,
        attributes=attributes,
        alternatives=tuple(
            Alternative(id=p, name=p, score=1 - n / 10) for n, p in enumerate((pattern, *others))
        )
        if others
        else (),
    )
    text = f"{pattern} {row}"
    return Line(text=text, qty=count, place=Place(row=row), reading=Reading(text, (item,)))


def trays(reference: Reference, count: int, seed: int) -> Iterator[Tray]:
    """*count* trays: pieces that the procedure names, strangers, parts that lack, open readings."""
    dice = random.Random(seed)
    patterns = sorted(
        p.id for p in reference.patterns.values() if "manoeuvre" not in p.features.get("part", ())
    )
    procedures = sorted(reference.procedures)
    for number in range(count):
        chosen = dice.sample(procedures, dice.choice((1, 1, 1, 2)))
        named = sorted(
            {
                j.subject
                for p in chosen
                for s in reference.procedures[p].steps
                for j in reference.steps[s].judgements
                if j.subject in reference.patterns
            }
            & set(patterns)
        )
        lines = []
        for row in range(1, dice.randint(0, 30) + 1):
            pattern = dice.choice(named if dice.random() < 0.8 else patterns)
            attributes = Attributes(
                length_mm=dice.choice((None, None, 120.0, 200.0)),
                state=dice.choice(STATES),
                absent=dice.choice(((), (), (), ("crank",), ("mallet",), ("handle",))),
            )
            others = tuple(dice.sample(named, 2)) if dice.random() < 0.08 else ()
            lines.append(line_of(pattern, dice.randint(0, 6), row, attributes, others))
        yield Tray(
            title=f"Tray {number}",
            procedures=tuple(chosen),
            operator=dice.choice(OPERATORS),
            contents=tuple(lines),
        )


def all_first_line(reference: Reference, procedure: str) -> Tray:
    """Everything that a procedure names as first line, six of each, with the parts it needs."""
    record = reference.procedures[procedure]
    hands = {p.id for p in reference.patterns.values() if "manoeuvre" in p.features.get("part", ())}
    named = {
        j.subject
        for s in record.steps
        for j in reference.steps[s].judgements
        if j.grade == "preferred"
    }
    parts = {
        alternative
        for unit in reference.units.values()
        if any(a in named for slot in unit.slots for a in slot.alternatives)
        for slot in unit.slots
        for alternative in slot.alternatives[:1]
    }
    unwanted = {r.subject for r in record.not_wanted}
    pieces = sorted(((named | parts) & set(reference.patterns)) - hands - unwanted)
    return Tray(
        title=f"All for {record.name}",
        procedures=(procedure,),
        operator="surgeon",
        contents=tuple(line_of(p, 6, n, Attributes()) for n, p in enumerate(pieces, 1)),
    )
