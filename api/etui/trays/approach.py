"""Which way a procedure is done: the complete ones, and the one to take in these hands."""

from __future__ import annotations

import re
from dataclasses import dataclass

from etui.knowledge.model import Procedure, Reference, Step
from etui.trays.lore import Lore
from etui.trays.parts import rank
from etui.trays.ways import StepCover

_PRACTISED = re.compile(
    r"\b(surgeon|surgical team|consultant|specialist|obstetrician|anaesthetist|anesthesiologist|"
    r"neurosurgeon|cardiothoracic|experienced|practised|practiced|expert|theatre team)\b",
    re.IGNORECASE,
)
_ELSEWHERE = re.compile(r"\b(on the way|on call|by (?:tele)?phone|on the (?:tele)?phone|remote)\b")


@dataclass(frozen=True, slots=True)
class Hands:
    """Who operates: whether it is rare for them, and how many operate at one moment."""

    rare: bool
    operators: int
    words: str


def read_hands(operator: str | None) -> Hands:
    """Read who operates from what the sheet says; unsaid hands are reckoned as rare ones.

    A specialist who is only on the telephone or on the way does not count.
    """
    words = operator or ""
    clauses = [c for c in re.split(r"[,;]", words) if not _ELSEWHERE.search(c)]
    practised = any(_PRACTISED.search(c) for c in clauses) and not re.search(
        r"\b(?:rare|seldom|alone|rural)\b", words
    )
    both = re.search(r"\b(two|2)\s+(?:operators|surgeons|teams|doctors)\b", words, re.IGNORECASE)
    return Hands(rare=not practised, operators=2 if both else 1, words=words)


@dataclass(frozen=True, slots=True)
class Path:
    """One way of doing a procedure on this tray.

    ``needed``: ids of steps that must be served.  ``gaps``: those that are not.  ``chosen``: the
    one that is judged.  ``evidence``: steps of its own alone that something here is meant for;
    ``plain``: it has no steps of its own alone.  ``because``: why it is advised.
    """

    approach: str | None
    name: str
    steps: tuple[str, ...]
    needed: tuple[str, ...]
    gaps: tuple[str, ...]
    evidence: int
    plain: bool
    kind: str
    rank: int | None
    because: str

    @property
    def complete(self) -> bool:
        """Whether every needed step is served."""
        return not self.gaps


def on_approach(step: Step, approach: str | None) -> bool:
    """Whether a step belongs to an approach (or to all)."""
    return not step.approaches or approach is None or approach in step.approaches


def _paths(
    procedure: Procedure, reference: Reference, lore: Lore, covers: dict[str, StepCover]
) -> list[Path]:
    steps = [reference.steps[s] for s in procedure.steps]
    found: list[Path] = []
    for approach in procedure.approaches or (None,):
        key = approach.id if approach else None
        own = [s for s in steps if on_approach(s, key)]
        alone = [s for s in own if key and s.approaches == (key,)]
        needed = [s for s in own if s.need == "essential"]
        if alone and not any(s.need == "essential" for s in alone):
            needed += [s for s in alone if s.need == "conditional"]
        way = lore.way(procedure.id, key) if key else None
        shown = sum(
            any(
                w.duty == "main" and rank(w.grade) >= 3
                for w in (*covers[s.id].ways, *covers[s.id].faulty)
            )
            for s in alone
        )
        found.append(
            Path(
                approach=key,
                name=approach.name if approach else procedure.name,
                steps=tuple(s.id for s in own),
                needed=tuple(s.id for s in needed),
                gaps=tuple(
                    s.id
                    for s in needed
                    if not (
                        covers[s.id].served_directly
                        if s in alone
                        else served_anyhow(covers[s.id])
                    )
                ),
                evidence=shown,
                plain=not alone,
                kind=way.kind if way else "anotherWay",
                rank=way.rank if way else 1,
                because=way.why if way else "",
            )
        )
    return found


def served_anyhow(cover: StepCover) -> bool:
    """Whether a step can be done with the list, by hand, or with what usually lies beside.

    A line that was not understood and may hold what the step needs leaves the question open.
    """
    return (cover.served and not cover.stopgap) or bool(cover.unlisted or cover.asked)


def _named(path: Path, text: str) -> bool:
    """Whether the sheet's own words name an approach."""
    if not path.approach:
        return False
    words = [w for w in re.findall(r"[a-z]{4,}", path.approach.replace("-", " ")) if w != "open"]
    return bool(words) and all(re.search(rf"\b{w}", text) for w in words)


def choose(
    procedure: Procedure,
    *,
    reference: Reference,
    lore: Lore,
    covers: dict[str, StepCover],
    hands: Hands,
    words: str,
) -> tuple[Path, tuple[Path, ...]]:
    """The path to judge a tray by, and all paths that count as ways of the procedure.

    A way that the sheet names is taken.  Else, of the complete ones, the one advised for
    unpractised hands (widest view, fewest pieces), or for practised hands the first of the
    procedure's own order.  If none is complete: the advised one for rare hands when anything for
    it lies on the tray, else the one that the tray is nearest to.
    """
    paths = _paths(procedure, reference, lore, covers)
    named = [p for p in paths if _named(p, words.lower())]
    ways = named or [p for p in paths if p.kind in {"anotherWay", "anotherSite"}] or paths
    order = {id(p): i for i, p in enumerate(ways)}

    def advice(path: Path) -> int:
        return path.rank if path.rank is not None else 99

    complete = [p for p in ways if p.complete]
    if complete:
        best = min(complete, key=lambda p: (advice(p) if hands.rare else 0, order[id(p)]))
        return best, tuple(ways)
    advised = min(ways, key=lambda p: (advice(p), order[id(p)]))
    meant = advised.evidence > 0 or advised.plain
    if hands.rare and meant and len(advised.gaps) <= len(advised.needed) / 2:
        return advised, tuple(ways)
    best = min(ways, key=lambda p: (-p.evidence, len(p.gaps), advice(p), order[id(p)]))
    return best, tuple(ways)
