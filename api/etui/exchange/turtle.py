"""Trays and stock as Turtle, and broken Turtle told with file and line."""

from __future__ import annotations

import re
from typing import Any

from etui.errors import BadInput
from etui.exchange.quantity import check_count
from etui.exchange.source import Source, clean_text
from etui.trays.model import Line, Place, Stock, Tray

NS = "https://w3id.org/etui/ns#"
_TITLE = "http://purl.org/dc/terms/title"
_TYPE = "http://www.w3.org/1999/02/22-rdf-syntax-ns#type"
_ID = "https://w3id.org/etui/id/"


def parse_turtle(data: bytes, *, name: str) -> list[Any]:
    """The triples of a Turtle text, as pyoxigraph triples.

    Raises:
        BadInput: With file and line of the first mistake.
    """
    import pyoxigraph as ox

    try:
        return [quad.triple for quad in ox.parse(
            data, format=ox.RdfFormat.TURTLE, base_iri="https://w3id.org/etui/id/"
        )]
    except SyntaxError as error:
        line = error.lineno or 1
        told = re.sub(r"^Parser error at line \d+ (?:column|between)[^:]*:?\s*", "", str(error.msg))
        shown = data.splitlines()[line - 1:line] if isinstance(line, int) else []
        value = shown[0].decode("utf-8", "replace").strip()[:60] if shown else ""
        raise BadInput(
            f'the Turtle does not parse at "{clean_text(value)}" ({clean_text(told).rstrip(".")}).',
            where=f"{name}:{line}", mend="Mend that line.",
        ) from error
    except (ValueError, UnicodeError) as error:
        raise BadInput(f"the Turtle cannot be read ({clean_text(str(error))}).", where=name,
                       mend="Save it as UTF-8 Turtle.") from error


class _Node:
    """One subject with its values, and the line of the text on which it is first named."""

    def __init__(self, triples: list[Any], subject: Any, text: str, name: str) -> None:
        self._of: dict[str, list[Any]] = {}
        for triple in triples:
            if triple.subject == subject:
                self._of.setdefault(triple.predicate.value, []).append(triple.object)
        self.subject, self._text, self.name = subject, text, name

    def line(self) -> int:
        local = re.split(r"[/#]", self.subject.value)[-1]
        match = re.search(rf"(?<![\w-]){re.escape(local)}(?![\w-])", self._text)
        return self._text.count("\n", 0, match.start()) + 1 if match else 1

    def where(self) -> str:
        return f"{self.name}:{self.line()}"

    def values(self, iri: str) -> list[Any]:
        return self._of.get(iri if ":" in iri else NS + iri, [])

    def text(self, iri: str) -> str:
        found = self.values(iri)
        return " ".join(clean_text(found[0].value).split()) if found else ""


def _nodes(source: Source, kind: str) -> tuple[_Node, list[Any], str]:
    import pyoxigraph as ox

    data = source.all_bytes()
    triples = parse_turtle(data, name=source.name)
    text = data.decode("utf-8", "replace")
    subjects = [t.subject for t in triples
                if t.predicate.value == _TYPE and t.object == ox.NamedNode(NS + kind)]
    if not subjects:
        raise BadInput(f"the file describes no etui:{kind}.", where=source.name,
                       mend=f"Give one subject of type <{NS}{kind}>.")
    if len(subjects) > 1:
        second = _Node(triples, sorted(subjects, key=str)[1], text, source.name)
        raise BadInput(f"the file describes {len(subjects)} of etui:{kind}.",
                       where=second.where(), mend="Keep one in each file.")
    _obey_shape(data, triples, text, source.name)
    return _Node(triples, subjects[0], text, source.name), triples, text


def _obey_shape(data: bytes, triples: list[Any], text: str, name: str) -> None:
    """Refuse what breaks ``shapes/tray.ttl``, naming the line of the first breach.

    Raises:
        BadInput: In the words of the shape's own message.
    """
    import pyshacl
    from rdflib import Graph, Namespace

    from etui.knowledge import shapes_dir

    sh = Namespace("http://www.w3.org/ns/shacl#")
    graph = Graph().parse(data=data, format="turtle", publicID="https://w3id.org/etui/id/")
    shapes = Graph().parse(shapes_dir() / "tray.ttl", format="turtle")
    _, report, _ = pyshacl.validate(graph, shacl_graph=shapes, inference="none",
                                    allow_warnings=True)
    assert isinstance(report, Graph)
    by_name = {t.subject.value: t.subject for t in triples}
    found = []
    for result in report.subjects(sh.resultSeverity, sh.Violation):
        focus = by_name.get(str(report.value(result, sh.focusNode)))
        line = _Node(triples, focus, text, name).line() if focus is not None else 1
        value = report.value(result, sh.value)
        shown = f'"{clean_text(str(value))[:40]}": ' if value is not None else ""
        # A value of the wrong kind breaks other rules too: say the kind first.
        kind = report.value(result, sh.sourceConstraintComponent) != sh.DatatypeConstraintComponent
        found.append((line, kind, shown + str(report.value(result, sh.resultMessage))))
    if found:
        line, _, message = min(found)
        raise BadInput(message, where=f"{name}:{line}")


def _lines(node: _Node, triples: list[Any], text: str, source: Source) -> tuple[Line, ...]:
    found: list[tuple[int, int, Line]] = []
    for index, subject in enumerate(node.values("line")):
        one = _Node(triples, subject, text, source.name)
        words = one.text("lineText")
        blank = type(subject).__name__ == "BlankNode"
        row = one.line() if not blank else node.line()
        count = None
        for value in one.values("quantity"):
            try:
                number: object = int(value.value)
            except ValueError:
                number = value.value
            count = check_count(number, where=f"{source.name}:{row}")
        order = one.text("lineOrder")
        found.append((int(order) if order.isdigit() else row, index,
                      Line(text=words, qty=count, place=Place(file=source.name, row=row))))
    return tuple(line for _, _, line in sorted(found, key=lambda f: f[:2]))


def tray_from_turtle(source: Source) -> Tray:
    """The one tray that a Turtle file describes.

    Raises:
        BadInput: Broken Turtle, no tray or several, a line without text, a broken quantity.
    """
    node, triples, text = _nodes(source, "Tray")
    procedures = []
    for value in node.values("forProcedure"):
        procedures.append(value.value.removeprefix(_ID))
    lines = _lines(node, triples, text, source)
    return Tray(
        title=node.text(_TITLE) or "tray",
        procedures=tuple(sorted(procedures)),
        operator=node.text("operator") or None,
        kept_alongside=tuple(
            Line(text=v, place=Place(file=source.name))
            for v in sorted(" ".join(clean_text(v.value).split())
                            for v in node.values("keptAlongside"))
        ),
        contents=lines,
    )


def stock_from_turtle(source: Source) -> Stock:
    """The one stock that a Turtle file describes."""
    node, triples, text = _nodes(source, "Stock")
    return Stock(title=node.text(_TITLE) or "stock", lines=_lines(node, triples, text, source))


def tray_turtle(tray: Tray, *, base: str = "https://w3id.org/etui/id/tray/") -> bytes:
    """A tray as Turtle, one subject per line of the tray, in the order written."""
    slug = re.sub(r"[^a-z0-9]+", "-", tray.title.lower()).strip("-") or "tray"
    out = [
        "@prefix dcterms: <http://purl.org/dc/terms/> .",
        f"@prefix etui: <{NS}> .",
        f"@prefix tray: <{base}> .",
        "",
        f"tray:{slug} a etui:Tray ;",
        f"    dcterms:title {_literal(tray.title)} ;",
    ]
    out += [f"    etui:forProcedure {_literal(p)} ;" for p in tray.procedures]
    if tray.operator:
        out.append(f"    etui:operator {_literal(tray.operator)} ;")
    out += [f"    etui:keptAlongside {_literal(line.text)} ;" for line in tray.kept_alongside]
    names = [f"tray:{slug}-line-{n}" for n in range(1, len(tray.contents) + 1)]
    out.append("    etui:line " + ", ".join(names) + " .")
    for number, (name, line) in enumerate(zip(names, tray.contents, strict=True), 1):
        out += ["", f"{name} a etui:Line ;", f"    etui:lineOrder {number} ;"]
        if line.qty is not None:
            out.append(f"    etui:quantity {line.qty} ;")
        out.append(f"    etui:lineText {_literal(line.text)} .")
    return ("\n".join(out) + "\n").encode()


def _literal(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ").replace("\r", " ")
    return f'"{clean_text(escaped)}"'
