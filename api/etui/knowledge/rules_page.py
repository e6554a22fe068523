"""The page ``docs/reference/rules.md``, made from the shapes: every rule of readiness."""

from __future__ import annotations

from pathlib import Path

from etui.knowledge.store import NS, RDFS_LABEL, Index

__all__ = ["rules_page"]

SH = "http://www.w3.org/ns/shacl#"
ACTS = {
    "Violation": "unfit until mended",
    "Warning": "fit with a remark",
    "Info": "good to know",
}


def rules_page(shapes: Path) -> str:
    """One row for each property shape of the readiness policy, in the order of the file.

    Raises:
        BadRecord: If the file is not Turtle.
    """
    index = Index().read([shapes / "readiness.ttl"])
    lines = [
        "<!-- Written by `etui build`; edit shapes/readiness.ttl, not this page. -->",
        "",
        "# Rules of readiness",
        "",
        "Each is one property shape in `shapes/readiness.ttl`; its local name is its id in",
        "reports, fixtures (`tests/fixtures/readiness/`) and addresses. A hospital's own file may",
        "restate any of them.",
        "",
        *(f"- {name}: {meaning}" for name, meaning in ACTS.items()),
        "",
        "| rule | finding | severity | holds when |",
        "|---|---|---|---|",
    ]
    for iri in index.by_type.get(SH + "PropertyShape", []):
        view = index.at(iri)
        severity = (view.text(SH + "severity") or "").removeprefix(SH)
        name = iri.rsplit("#", 1)[-1]
        lines.append(
            f"| `{name}` | {view.text(NS + 'findingKind') or ''} | {severity} "
            f"| {view.text(RDFS_LABEL) or ''} |"
        )
    return "\n".join(lines) + "\n"
