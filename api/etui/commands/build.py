"""``etui build``: what is derived from the graph."""

from __future__ import annotations

import click

from etui.commands import common


@click.command("build")
@click.option("--check", is_flag=True, help="Write nothing; fail when something is stale.")
@click.option("--no-reasoner", "no_reasoner", is_flag=True,
              help="Leave the reasoner out (needs no Java): only the generated pages.")
@common.json_option
def command(check: bool, no_reasoner: bool, as_json: bool) -> int:
    """Check every record, classify the patterns by their features and write what is derived from
    the graph, or check that it is fresh and free of contradictions. The reasoner needs the extra
    "build"."""
    from msgspec import to_builtins

    from etui.knowledge.build import build

    report = build(check, reason=not no_reasoner)
    if as_json:
        common.out(common.to_json({**to_builtins(report), "problems": list(report.problems)}))
        return 0 if report.ok else 1
    click.echo(
        f"{report.triples:,} triples, {report.statements:,} statements, {report.sources} sources, "
        f"{report.patterns} patterns; {report.abilities} abilities found "
        f"{report.abilities_found:,} times; loading {report.loading:.1f} s, reasoning "
        f"{report.reasoning:.1f} s"
    )
    click.echo(
        f"every record checked against {report.rules_checked} rules in {report.validating:.1f} s: "
        f"{len(report.remarks)} open questions"
    )
    for path in report.written:
        click.echo(f"written: {path}")
    for problem in report.problems:
        click.echo(problem)
    if report.ok and not report.written:
        click.echo("everything derived is fresh")
    return 0 if report.ok else 1
