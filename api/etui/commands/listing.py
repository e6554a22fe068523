"""``etui list``: what is in the reference, or the look-alikes on a tray."""

from __future__ import annotations

from typing import Any

import click

from etui.commands import common
from etui.commands.page import Page
from etui.commands.rules import all_rules
from etui.knowledge.model import Reference

KINDS = ("instruments", "procedures", "steps", "families", "hazards", "actions", "tissues",
         "abilities", "units", "manoeuvres", "manners", "sources", "rules")


@click.command("list")
@click.argument("kind", required=False, type=click.Choice(KINDS))
@click.option("--procedure", default=None, help="Steps of this procedure only.")
@click.option("--family", default=None, help="Instruments of this family only.")
@click.option("--search", default=None, help="Only what has these words in a name or id.")
@click.option("--confusable", "confusable", metavar="FILE", default=None,
              help="Dangerous look-alikes among the lines of a tray.")
@common.column_option
@common.json_option
def command(
    kind: str | None, procedure: str | None, family: str | None, search: str | None,
    confusable: str | None, columns: tuple[str, ...], sheet: str | None, as_json: bool,
) -> int:
    """List instruments, procedures, steps, families, hazards, sources, rules and more.

    E.g.: etui list instruments --family haemostat; etui list steps --procedure "wound repair"
    """
    if confusable:
        if kind:
            raise click.UsageError("--confusable goes without a kind")
        from etui.commands.confusable import list_pairs

        return list_pairs(confusable, columns, sheet, as_json=as_json)
    if kind is None:
        raise click.UsageError(f"say what to list: {', '.join(KINDS)}")
    rows = _rows(common.reference(), kind, procedure, family)
    if search:
        words = search.casefold().split()
        rows = [r for r in rows if all(
            w in f"{r['id']} {r['name']} {r.pop('_words', '')}".casefold() for w in words)]
    for row in rows:
        row.pop("_words", None)
    if as_json:
        common.out(common.to_json(rows))
        return 0
    if not rows:
        click.echo("nothing in the reference fits", err=True)
        return 0
    page = Page()
    page.table([[r["id"], *(str(v) for k, v in r.items() if k in ("need", "family", "severity")),
                 r["name"]] for r in rows])
    page.show()
    click.echo(f"{len(rows)} {kind}", err=True)
    return 0


def _rows(
    reference: Reference, kind: str, procedure: str | None, family: str | None
) -> list[dict[str, Any]]:
    if family and kind != "instruments":
        raise click.UsageError("--family goes with instruments")
    if procedure and kind != "steps":
        raise click.UsageError("--procedure goes with steps")
    if kind == "instruments":
        if family:
            family = _family(reference, family)
        return [
            {"id": p.id, "family": p.family, "name": p.name,
             "_words": " ".join(n.text for n in p.names)}
            for p in sorted(reference.patterns.values(), key=lambda p: (p.family, p.id))
            if family is None or p.family == family
        ]
    if kind == "steps":
        wanted = None
        if procedure:
            from etui.exchange import resolve_procedures

            wanted = set(resolve_procedures([procedure], common.procedure_matcher()))
        return [
            {"id": s.id, "need": s.need, "name": s.name,
             "_words": " ".join(n.text for n in s.names)}
            for p in sorted(reference.procedures) if wanted is None or p in wanted
            for s in (reference.steps[i] for i in reference.procedures[p].steps)
        ]
    if kind == "rules":
        return [{"id": r["id"], "severity": r["severity"].lower(), "name": r["name"],
                 "file": r["file"]} for r in all_rules()]
    if kind == "sources":
        return [{"id": s.id, "name": s.title} for s in sorted(
            reference.sources.values(), key=lambda s: s.id)]
    tables: dict[str, dict[str, Any]] = {
        "procedures": reference.procedures, "units": reference.units,
        "manoeuvres": reference.manoeuvres, "manners": reference.manners,
        "families": reference.terms.get("family", {}),
        "hazards": reference.terms.get("hazard", {}),
        "actions": reference.terms.get("action", {}),
        "tissues": reference.terms.get("tissue", {}),
        "abilities": reference.terms.get("ability", {}),
    }
    return [
        {"id": i, "name": one.name,
         "_words": " ".join(n.text for n in getattr(one, "names", ()))}
        for i, one in sorted(tables[kind].items())
    ]


def _family(reference: Reference, text: str) -> str:
    from etui.errors import UnknownTerm

    families = reference.terms.get("family", {})
    wanted = text.casefold().replace(" ", "_")
    for id_, term in families.items():
        if wanted == id_ or text.casefold() == term.name.casefold():
            return id_
    import difflib

    near = difflib.get_close_matches(wanted, families, n=3, cutoff=0.4)
    raise UnknownTerm(f'no family is called "{text}".',
                      nearest=tuple((i, families[i].name) for i in near))
