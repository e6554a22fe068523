"""What a check takes for granted, read from ``ontology/readiness.ttl``.

Parts that come with their piece, what every treatment room has, actions that reach the same end,
and which approaches are ways of doing the whole procedure.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import pyoxigraph as ox

from etui.errors import BadRecord
from etui.trays.facts import ID, NS


@dataclass(frozen=True, slots=True)
class Way:
    """What an approach is (anotherWay, anotherSite, anotherTask, lastResort).

    ``rank``: place in the advice for unpractised hands, 1 first; None = never advised.
    """

    kind: str
    rank: int | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class Lore:
    """Ground that a list need not state.

    ``comes``: (unit id, slot number from 0) -> withIt, inTheRoom or goodPractice.
    ``everyday``: patterns that every treatment room has.  ``same_end``: action -> actions.
    ``ways``: (procedure id, approach id) -> :class:`Way`.
    """

    comes: dict[tuple[str, int], str]
    everyday: frozenset[str]
    same_end: dict[str, frozenset[str]]
    ways: dict[tuple[str, str], Way]

    def way(self, procedure: str, approach: str) -> Way:
        """What is stated of one approach; an approach without a statement is another way."""
        return self.ways.get((procedure, approach), Way("anotherWay"))


@lru_cache(maxsize=4)
def _load(path: Path, stamp: float) -> Lore:
    del stamp  # an edited file is read again
    comes: dict[tuple[str, int], str] = {}
    everyday: set[str] = set()
    same: dict[str, set[str]] = {}
    ways: dict[tuple[str, str], dict[str, str]] = {}
    try:
        quads = list(ox.parse(path=str(path), format=ox.RdfFormat.TURTLE))
    except (SyntaxError, OSError) as error:
        raise BadRecord(f"{error}.", where=path.name, mend="Mend that line.") from None
    for quad in quads:
        if not isinstance(quad.subject, ox.NamedNode):
            continue
        subject, prop = quad.subject.value, quad.predicate.value
        value = "" if isinstance(quad.object, ox.BlankNode) else str(quad.object.value)
        if prop == NS + "comes":
            unit, _, number = subject.removeprefix(ID + "slot/").rpartition(".")
            comes[unit, int(number) - 1] = value.removeprefix(NS)
        elif prop == NS + "stockedIn":
            everyday.add(subject.removeprefix(ID))
        elif prop == NS + "sameEndAs":
            same.setdefault(subject.removeprefix(ID + "action/"), set()).add(
                value.removeprefix(ID + "action/")
            )
        elif subject.startswith(ID + "approach/"):
            procedure, _, approach = subject.removeprefix(ID + "approach/").partition("/")
            ways.setdefault((procedure, approach), {})[prop.rpartition("#")[2]] = value
    return Lore(
        comes=comes,
        everyday=frozenset(everyday),
        same_end={action: frozenset(others) for action, others in same.items()},
        ways={
            key: Way(
                kind=said.get("approachIs", NS + "anotherWay").removeprefix(NS),
                rank=int(said["rankForRareHands"]) if "rankForRareHands" in said else None,
                why=said.get("comment", ""),
            )
            for key, said in ways.items()
        },
    )


def load_lore() -> Lore:
    """The lore of the ontology that is installed."""
    from etui.knowledge import ontology_dir

    path = ontology_dir() / "readiness.ttl"
    return _load(path, path.stat().st_mtime)
