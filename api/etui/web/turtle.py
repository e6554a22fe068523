"""The statements about one thing as Turtle, taken from the files of the graph."""

from __future__ import annotations

import re
import threading
from functools import lru_cache

import pyoxigraph as ox
from fastapi import Request

from etui.knowledge import ontology_dir
from etui.knowledge.store import turtle_files

MEDIA_TYPE = "text/turtle"
ID = "https://w3id.org/etui/id/"
PREFIXES = {
    "etui": "https://w3id.org/etui/ns#",
    "skos": "http://www.w3.org/2004/02/skos/core#",
    "dcterms": "http://purl.org/dc/terms/",
    "owl": "http://www.w3.org/2002/07/owl#",
    "rdfs": "http://www.w3.org/2000/01/rdf-schema#",
    "xsd": "http://www.w3.org/2001/XMLSchema#",
    "id": ID,
}
_lock = threading.Lock()


@lru_cache(maxsize=1)
def _statements() -> dict[str, list[ox.Triple]]:
    """All statements by the tail of their subject (``offer/haemostat-crile.spread``)."""
    by_tail: dict[str, list[ox.Triple]] = {}
    for file in turtle_files(ontology_dir()):
        for quad in ox.parse(path=str(file), format=ox.RdfFormat.TURTLE):
            subject = quad.subject
            if isinstance(subject, ox.NamedNode) and subject.value.startswith(ID):
                by_tail.setdefault(subject.value[len(ID) :], []).append(quad.triple)
    return by_tail


def about(id_: str) -> bytes:
    """Everything stated about a thing and its parts (offers, forms, steps, demands ...).

    A part is recognised by its id: that of the thing, a full stop or a slash, and more.
    """
    with _lock:
        statements = _statements()
    mine = re.compile(rf"(?:[a-z_-]+/)?{re.escape(id_)}(?:[./].*)?")
    found = [t for tail, triples in statements.items() if mine.fullmatch(tail) for t in triples]
    found.sort(key=lambda t: (str(t.subject), str(t.predicate), str(t.object)))
    heads = {
        m
        for t in found
        for m in re.findall(rf"{re.escape(ID)}([a-z_-]+)/", f"{t.subject} {t.predicate} {t.object}")
    }
    prefixes = PREFIXES | {f"{head.replace('_', '-')}": f"{ID}{head}/" for head in sorted(heads)}
    written = ox.serialize(found, format=ox.RdfFormat.TURTLE, prefixes=prefixes)
    return written or b""


def wanted(request: Request, format_: str | None) -> bool:
    """Whether the request asks for Turtle, by ``?format=ttl`` or by its Accept header."""
    if format_ is not None:
        return format_ == "ttl"
    best, chosen = -1.0, "json"
    for part in request.headers.get("accept", "").split(","):
        media, _, rest = part.strip().partition(";")
        quality = re.search(r"q=([0-9.]+)", rest)
        try:
            weight = float(quality[1]) if quality else 1.0
        except ValueError:
            continue
        kind = {"text/turtle": "ttl", "application/x-turtle": "ttl"}.get(
            media.strip().lower(), "json"
        )
        if weight > best and media.strip():
            best, chosen = weight, kind
    return chosen == "ttl"
