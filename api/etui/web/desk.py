"""The desk behind the routes: engines made once, and the services that all routes share."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Any, TypeVar

from etui.errors import UnknownTerm
from etui.knowledge import load_reference
from etui.knowledge.model import Pattern, Procedure, Reference, Step

if TYPE_CHECKING:
    from rdflib import Graph

    from etui.exchange import Taken
    from etui.judging import Judge
    from etui.judging.ask import Asker
    from etui.reading import Reader
    from etui.trays.model import Report, Stock, Tray

T = TypeVar("T")


class Desk:
    """One loaded reference with its engines; safe to share between threads.

    Engines are made on first use, so that a page of the reference does not wait for them.
    """

    def __init__(self, reference: Reference | None = None) -> None:
        self._given = reference
        self._lock = threading.RLock()
        self._drawn: dict[str, bool] = {}
        self._kept: dict[str, Any] = {}

    @cached_property
    def reference(self) -> Reference:
        """The graph."""
        return self._given or load_reference()

    @cached_property
    def _reader(self) -> Reader:
        from etui.reading import Reader

        return Reader(self.reference)

    @cached_property
    def _judge(self) -> Judge:
        from etui.judging import Judge

        return Judge(self.reference)

    @cached_property
    def _asker(self) -> Asker:
        from etui.judging.ask import Asker

        return Asker(self.reference, self.reader, self.judge)

    @property
    def reader(self) -> Reader:
        """The reader of lines."""
        with self._lock:
            return self._reader

    @property
    def judge(self) -> Judge:
        """The judging engine."""
        with self._lock:
            return self._judge

    @property
    def asker(self) -> Asker:
        """Answers questions about stand-ins."""
        with self._lock:
            return self._asker

    def warm(self) -> None:
        """Make every engine now, with the tables that they otherwise make at the first question."""
        with self._lock:
            _ = self.asker, self.judge.votes

    # -- services -----------------------------------------------------------------------------
    def read(self, text: str) -> dict[str, Any]:
        """What one line names, as the machine contract has it."""
        from etui.commands.read import answer

        return answer(text)

    def replace(self, query: Mapping[str, Any]) -> dict[str, Any]:
        """The answer to a question about a stand-in."""
        return self.asker.replace(query)

    def compare(self, a: str, b: str) -> dict[str, Any]:
        """Two patterns side by side; ids or names."""
        from etui.judging.compare import compare

        return compare(self.pattern_named(a).id, self.pattern_named(b).id, self.reference)

    def check(self, tray: Tray, stock: Stock | None = None) -> Report:
        """Whether a tray does its procedures."""
        from etui.trays import check

        return check(
            tray, reference=self.reference, reader=self.reader, judge=self.judge, stock=stock
        )

    def check_graph(self, tray: Tray, stock: Stock | None = None) -> Graph:
        """The outcome of a check as a SHACL validation report."""
        from etui.trays import check_graph

        return check_graph(
            tray, reference=self.reference, reader=self.reader, judge=self.judge, stock=stock
        )

    def report_json(self, report: Report) -> dict[str, Any]:
        """A report as the machine contract has it."""
        from etui.trays.report import report_json

        return report_json(report, self.reference)

    def compose(self, brief: dict[str, Any]) -> dict[str, Any]:
        """The shortest fit tray from a stock, or an honest no."""
        from etui.trays.compose import compose

        return compose(brief, self.reference, self.reader, self.judge)

    def open_tray(
        self, content: bytes, name: str, procedures: Sequence[str] = ()
    ) -> tuple[Tray, Taken]:
        """Take in a list in any form that people keep lists in."""
        from etui.exchange import open_tray

        return open_tray(content, name=name, procedures=list(procedures) or None)

    def with_procedures(self, tray: Tray, where: str) -> Tray:
        """The tray with ids of procedures.

        Raises:
            BadInput: None is named.
            UnknownTerm: A name is not in the reference.
        """
        from etui.commands.common import with_procedures

        return with_procedures(tray, where)

    def is_drawn(self, id_: str) -> bool:
        """Whether a shape is recorded for a pattern, so that it can be drawn."""
        if id_ not in self._drawn:
            from etui.drawing import is_recorded

            pattern = self.reference.patterns.get(id_)
            self._drawn[id_] = pattern is not None and is_recorded(pattern)
        return self._drawn[id_]

    def once(self, name: str, make: Callable[[], T]) -> T:
        """What *make* gives, made at the first call and kept under its name."""
        if name not in self._kept:
            # Made outside the lock: two first callers may both make it, nobody waits for it.
            self._kept.setdefault(name, make())
        kept: T = self._kept[name]
        return kept

    # -- finding things -----------------------------------------------------------------------
    def pattern(self, id_: str) -> Pattern:
        """A pattern by its id."""
        return _at(self.reference.patterns, id_, "instrument", self)

    def procedure(self, id_: str) -> Procedure:
        """A procedure by its id."""
        return _at(self.reference.procedures, id_, "procedure", self)

    def step(self, id_: str) -> Step:
        """A step by its id."""
        return _at(self.reference.steps, id_, "step", self)

    def pattern_named(self, text: str) -> Pattern:
        """A pattern by id or by the words people use for it.

        Raises:
            UnknownTerm: With what it may be.
        """
        text = " ".join(text.split())
        found = self.reference.patterns.get(text) or self.reference.patterns.get(text.lower())
        if found is not None:
            return found
        wanted = text.casefold()
        exact = [
            p
            for p in self.reference.patterns.values()
            if any(n.text.casefold() == wanted for n in p.names)
        ]
        if len(exact) == 1:
            return exact[0]
        first = self.reader.read(text).first
        if first.pattern in self.reference.patterns:
            return self.reference.patterns[first.pattern]
        nearest = tuple((a.id, a.name) for a in first.alternatives[:4])
        raise UnknownTerm(
            f'"{text[:80]}" names no single instrument.', nearest=nearest or self.nearest(text)
        )

    def nearest(self, text: str, among: str = "any") -> tuple[tuple[str, str], ...]:
        """(id, name) of the things whose name or id is most like a text."""
        from rapidfuzz import fuzz, process

        reference = self.reference
        tables: dict[str, Mapping[str, Pattern | Procedure | Step]] = {
            "instrument": reference.patterns,
            "procedure": reference.procedures,
            "step": reference.steps,
        }
        names: dict[str, str] = {}
        for kind, table in tables.items():
            if among in (kind, "any"):
                for id_, one in table.items():
                    names.setdefault(id_.replace("-", " ").replace("/", " "), id_)
                    for name in one.names:
                        names.setdefault(name.text.lower(), id_)
        wanted = text.lower().replace("-", " ").replace("/", " ")
        found: dict[str, str] = {}
        for spelt, _, _ in process.extract(
            wanted, list(names), scorer=fuzz.WRatio, limit=24, score_cutoff=60
        ):
            id_ = names[spelt]
            found.setdefault(id_, next(t[id_].name for t in tables.values() if id_ in t))
        return tuple(found.items())[:4]


def _at(table: Mapping[str, T], id_: str, kind: str, desk: Desk) -> T:
    found = table.get(id_)
    if found is None:
        raise UnknownTerm(f'There is no {kind} "{id_[:80]}".', nearest=desk.nearest(id_, kind))
    return found
