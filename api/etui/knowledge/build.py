"""``etui build``: what is worked out from the graph and kept beside it.

Three things are derived and committed, so that a reader of the repository and a user without Java
have them: ``ontology/inferred.ttl`` (the abilities that the reasoner found), and the generated
pages ``coverage.md``, ``vocabulary.md`` and ``rules.md`` of ``docs/reference``.  On the way every
record is checked against the editors' shapes.  ``build(check=True)`` writes nothing and says what
is stale, contradictory or broken; it runs in continuous integration.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path

import pyoxigraph as ox

from etui.errors import BadRecord
from etui.knowledge import ontology_dir
from etui.knowledge.reasoning import ABLE, Contradiction, classify
from etui.knowledge.records import RecordFinding, RecordReport, validate
from etui.knowledge.store import turtle_files

__all__ = ["BuildReport", "build", "inferred_turtle", "read_store"]

AXIOMS = "abilities.ttl"
INFERRED = "inferred.ttl"

HEADER = """\
# Written by `etui build`, never by hand: the abilities that a reasoner found for each pattern.
# Change a feature in instruments/ or an axiom in abilities.ttl, then run `etui build`.

@prefix able: <https://w3id.org/etui/id/ability/> .
@prefix etui: <https://w3id.org/etui/ns#> .
@prefix id: <https://w3id.org/etui/id/> .
"""


@dataclass(frozen=True, slots=True)
class BuildReport:
    """What a build found and did.

    Counts are over the ontology as committed, the inferred file included.  Seconds: ``loading``
    parses every file, ``reasoning`` runs the reasoner (start of Java included), ``validating``
    checks the records.  ``written`` and ``stale`` are paths relative to the folder that holds
    ``ontology``; ``problems`` are sentences for a person, and make the build fail; ``remarks``
    are findings to look at that do not.
    """

    triples: int
    statements: int
    sources: int
    patterns: int
    abilities: int
    abilities_found: int
    loading: float
    reasoning: float
    validating: float = 0.0
    contradictions: tuple[Contradiction, ...] = ()
    written: tuple[str, ...] = ()
    stale: tuple[str, ...] = ()
    findings: tuple[RecordFinding, ...] = ()
    rules_checked: int = 0

    @property
    def problems(self) -> tuple[str, ...]:
        """Everything that must be mended, one sentence each; empty when all is well."""
        return (
            tuple(c.sentence for c in self.contradictions)
            + tuple(f.line for f in self.findings if f.severity == "violation")
            + tuple(
                f"{path} is stale: run `etui build` and commit the result." for path in self.stale
            )
        )

    @property
    def remarks(self) -> tuple[str, ...]:
        """Warnings about records, one sentence each: open questions for an editor."""
        return tuple(f.line for f in self.findings if f.severity == "warning")

    @property
    def ok(self) -> bool:
        """Whether the graph is consistent and everything derived from it is up to date."""
        return not self.problems


def build(
    check: bool = False,
    *,
    ontology: Path | None = None,
    docs: Path | None = None,
    reason: bool = True,
    records: bool = True,
) -> BuildReport:
    """Classify the patterns and write what is derived from the graph.

    Args:
        check: Write nothing; report what would change.
        ontology: Folder of the Turtle files; the one of the package when absent.
        docs: Folder ``docs`` to write the generated pages to; beside the ontology when absent.
            Pages are left alone when there is no such folder (an installed package has none).
        reason: False leaves out the reasoner, so that no Java is needed.
        records: False leaves out the editors' shapes, which take most of the time.

    A graph that contradicts itself or breaks a shape is reported, and nothing is written.

    Raises:
        BadRecord: A file is not Turtle, or the axioms cannot be used.
        ReasonerMissing: Java or owlready2 is not installed.
    """
    from etui.knowledge.coverage import coverage_page, tally
    from etui.knowledge.rules_page import rules_page
    from etui.knowledge.vocabulary import vocabulary_page

    folder = ontology or ontology_dir()
    base = folder.parent
    pages = docs if docs is not None else base / "docs"
    start = time.perf_counter()
    files = [file for file in turtle_files(folder) if file.name != INFERRED]
    knowledge = read_store(files)
    loading = time.perf_counter() - start

    inferred = folder / INFERRED
    abilities: dict[str, tuple[str, ...]] = {}
    contradictions: tuple[Contradiction, ...] = ()
    seconds = 0.0
    wanted: dict[Path, str] = {}
    if reason:
        axioms = [file for file in files if file.name == AXIOMS]
        found = classify(knowledge, read_store(axioms))
        abilities, contradictions, seconds = found.abilities, found.contradictions, found.seconds
        wanted[inferred] = inferred_turtle(abilities)
        knowledge.bulk_load(wanted[inferred].encode(), format=ox.RdfFormat.TURTLE)
    elif inferred.is_file():
        knowledge.bulk_load(path=str(inferred), format=ox.RdfFormat.TURTLE)
    counts = tally(knowledge)
    if pages.is_dir():
        wanted[pages / "reference" / "coverage.md"] = coverage_page(counts)
        wanted[pages / "reference" / "vocabulary.md"] = vocabulary_page(knowledge)
        if (base / "shapes" / "readiness.ttl").is_file():
            wanted[pages / "reference" / "rules.md"] = rules_page(base / "shapes")

    changed = [
        path
        for path, text in sorted(wanted.items())
        if not path.is_file() or path.read_text(encoding="utf-8") != text
    ]
    report = RecordReport((), {}, 0, 0.0)
    if records:
        report = validate(turtle_files(folder), base=base)
    broken = bool(contradictions) or not report.ok
    if not check and not broken:
        for path in changed:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(wanted[path], encoding="utf-8")
    names = tuple(_relative(path, base) for path in changed)
    links = list(knowledge.quads_for_pattern(None, ABLE, None, None))
    return BuildReport(
        triples=len(knowledge),
        statements=counts.total.stated,
        sources=counts.sources,
        patterns=counts.patterns,
        abilities=len({q.object for q in links}),
        abilities_found=len(links),
        loading=loading,
        reasoning=seconds,
        validating=report.seconds,
        contradictions=contradictions,
        written=() if check or broken else names,
        stale=names if check else (),
        findings=report.findings,
        rules_checked=len(report.checked),
    )


def read_store(files: list[Path]) -> ox.Store:
    """Every statement of *files* in one store.

    Raises:
        BadRecord: If a file is not Turtle; names file and line.
    """
    store = ox.Store()
    for file in files:
        try:
            store.bulk_load(path=str(file), format=ox.RdfFormat.TURTLE)
        except SyntaxError as error:
            raise BadRecord(
                f"This is not valid Turtle: {error.msg}.",
                where=f"{file}:{error.lineno or '?'}",
                mend="Mend the line; nothing was written.",
            ) from None
    return store


def inferred_turtle(abilities: dict[str, tuple[str, ...]]) -> str:
    """The text of ``inferred.ttl``: one block a pattern, sorted, without blank nodes."""
    by_pattern: dict[str, list[str]] = {}
    for ability, patterns in abilities.items():
        for pattern in patterns:
            by_pattern.setdefault(pattern, []).append(ability)
    blocks = []
    for pattern, found in sorted(by_pattern.items()):
        names = " ,\n        ".join(f"able:{_local(a)}" for a in sorted(found))
        blocks.append(f"id:{_local(pattern)} etui:able {names} .\n")
    return "\n".join([HEADER, *blocks])


def _local(iri: str) -> str:
    return iri.rsplit("/", 1)[-1]


def _relative(path: Path, base: Path) -> str:
    try:
        return path.relative_to(base).as_posix()
    except ValueError:
        return path.as_posix()
