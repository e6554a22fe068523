"""The rules (SHACL shapes) that come with Etui, read from shapes/ for show and list."""

from __future__ import annotations

import re
from functools import cache
from typing import Any

_LABEL = "http://www.w3.org/2000/01/rdf-schema#label"
_SH = "http://www.w3.org/ns/shacl#"


@cache
def all_rules() -> tuple[dict[str, Any], ...]:
    """Every rule that has a name and says something: id, file, label, severity, message."""
    import pyoxigraph as ox

    from etui.knowledge import shapes_dir

    found = []
    for path in sorted(shapes_dir().glob("*.ttl")):
        of: dict[str, dict[str, list[str]]] = {}
        for quad in ox.parse(path.read_bytes(), format=ox.RdfFormat.TURTLE):
            if isinstance(quad.subject, ox.NamedNode) and not isinstance(
                quad.object, ox.BlankNode | ox.Triple
            ):
                of.setdefault(quad.subject.value, {}).setdefault(
                    quad.predicate.value, []).append(quad.object.value)
        for iri, values in sorted(of.items()):
            if _SH + "message" not in values and _SH + "severity" not in values:
                continue
            found.append({
                "kind": "rule", "id": re.split(r"[/#]", iri)[-1],
                "name": values.get(_LABEL, [re.split(r"[/#]", iri)[-1]])[0],
                "iri": iri, "file": path.name,
                "severity": re.split(r"[/#]", values.get(_SH + "severity", ["Violation"])[0])[-1],
                "messages": sorted(values.get(_SH + "message", [])),
                "description": " ".join(values.get(_SH + "description", [])),
            })
    return tuple(sorted(found, key=lambda r: (r["file"], r["id"])))


def find_rule(text: str) -> dict[str, Any] | None:
    """The rule with this id, or None."""
    return next((r for r in all_rules() if r["id"] == text), None)
