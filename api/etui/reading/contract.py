"""The ``read`` answer of the machine contract, from a reading."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from etui.knowledge.model import Reference
from etui.reading.model import Attributes, Item, Reading

if TYPE_CHECKING:
    from etui.reading.reader import Reader

__all__ = ["attributes_json", "item_json", "read_json", "reading_json"]

LONGEST_ECHO = 2000
"""Characters of a line that an answer repeats."""


def attributes_json(attributes: Attributes) -> dict[str, Any]:
    """The stated attributes; what is not stated is null or, for lists, empty."""
    return {
        "length_mm": attributes.length_mm,
        "curve": attributes.curve,
        "teeth": attributes.teeth,
        "jaw": attributes.jaw,
        "size": attributes.size,
        "material": attributes.material,
        "french": attributes.french,
        "gauge": attributes.gauge,
        "form": attributes.form,
        "state": list(attributes.state),
        "absent": list(attributes.absent),
    }


def _instrument(id_: str | None, reference: Reference) -> dict[str, Any] | None:
    if id_ is None:
        return None
    record = reference.patterns.get(id_) or reference.manoeuvres.get(id_)
    if record is None:
        return None
    names = [n.text for n in record.names if n.kind != "hidden"]
    return {"id": id_, "name": record.name, "names": list(dict.fromkeys([record.name, *names]))}


def item_json(item: Item, reference: Reference) -> dict[str, Any]:
    """One item of a line."""
    return {
        "text": item.text,
        "kind": item.kind,
        "quantity": item.quantity,
        "instrument": _instrument(item.pattern, reference),
        "parts": list(item.parts),
        "attributes": attributes_json(item.attributes),
        "alternatives": [
            {"id": a.id, "name": a.name, "score": round(min(1.0, a.score), 3)}
            for a in item.alternatives
        ],
        "ask": item.ask,
        "assumed": item.assumed,
        "why": item.why,
    }


def _total(items: list[Item]) -> int | None:
    counts = [i.quantity for i in items if i.quantity is not None]
    return sum(counts) if counts else None


def _common(items: list[Item]) -> Attributes:
    """Attributes on which all kinds of one thing on the line agree."""
    first = items[0].attributes
    values: dict[str, Any] = {}
    for name in Attributes.__struct_fields__:
        seen = [getattr(i.attributes, name) for i in items]
        if all(s == seen[0] for s in seen):
            values[name] = getattr(first, name)
    return Attributes(**values)


def _units(reading: Reading, reference: Reference) -> bool:
    """Whether the things on the line belong together as one working thing."""
    ids = [i.pattern for i in reading.items if i.pattern]
    if len(set(ids)) < 2:
        return False
    first = ids[0]
    for unit in reference.units.values():
        slots = [set(s.alternatives) for s in unit.slots]
        at = next((k for k, s in enumerate(slots) if first in s), None)
        if at is None:
            continue
        rest = (
            set().union(*(s for k, s in enumerate(slots) if k != at)) if len(slots) > 1 else set()
        )
        if all(other in rest or other == first for other in ids):
            return True
    return False


def read_json(
    text: str | Reading, reader: Reader | Reference, *, heading: str | None = None
) -> dict[str, Any]:
    """Read *text* and answer as the machine contract says.

    Args:
        text: A line, or a reading that is at hand; then the reference is enough in place of the
            reader.
        heading: The heading above the line.

    ``quantity`` and ``attributes`` are those of the first thing on the line, summed and common
    over its sizes.  ``items`` lists everything on the line, in its order; ``parts`` what belongs
    to the first thing.
    """
    reference = reader if isinstance(reader, Reference) else reader.reference
    if isinstance(text, Reading):
        return reading_json(text, reference)
    if isinstance(reader, Reference):
        from etui.reading.reader import Reader

        reader = Reader(reader)
    return reading_json(reader.read(text, heading=heading), reference)


def reading_json(reading: Reading, reference: Reference) -> dict[str, Any]:
    """The ``read`` answer for a reading that is at hand."""
    first = reading.first
    same = [i for i in reading.items if i.pattern == first.pattern] if first.pattern else [first]
    assembly = first.pattern is not None and (bool(first.parts) or _units(reading, reference))
    others = [i for i in reading.items if i.pattern != first.pattern]
    parts: list[dict[str, Any]] = [{"id": None, "name": p, "quantity": None} for p in first.parts]
    if assembly:
        parts += [
            {"id": i.pattern, "name": i.name, "quantity": i.quantity} for i in others if i.pattern
        ]
    kind = "assembly" if assembly and first.kind in ("instrument", "consumable") else first.kind
    answer = item_json(first, reference)
    answer.update(
        text=reading.text[:LONGEST_ECHO],
        kind=kind,
        quantity=_total(same),
        parts=parts,
        attributes=attributes_json(_common(same)),
        items=[item_json(i, reference) for i in reading.items],
        why=reading.why,
    )
    return answer
