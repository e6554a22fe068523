"""``etui check``: is this tray fit for what it is meant for?"""

from __future__ import annotations

import click

from etui.commands import common
from etui.commands.page import width


@click.command("check")
@click.argument("file", metavar="FILE")
@click.option("--procedure", "-p", "procedures", multiple=True, metavar="NAME",
              help="What the tray is for (may be repeated); overrules what the list says.")
@click.option("--operator", default=None, metavar="WHO", help="In whose hands it will be.")
@click.option("--alongside", multiple=True, metavar="THING",
              help="Something that is kept beside the tray (may be repeated).")
@click.option("--stock", metavar="FILE", default=None,
              help="A stock list from which gaps may be filled.")
@click.option("--rules", multiple=True, metavar="FILE",
              help="A hospital's own shapes, in Turtle (may be repeated).")
@click.option("--format", "form", type=click.Choice(["text", "json", "turtle"]), default="text",
              help="How to answer; turtle is a SHACL validation report.")
@common.column_option
@common.json_option
@common.why_option
def command(
    file: str, procedures: tuple[str, ...], operator: str | None, alongside: tuple[str, ...],
    stock: str | None, rules: tuple[str, ...], form: str, columns: tuple[str, ...],
    sheet: str | None, as_json: bool, why: bool,
) -> int:
    """Say whether a tray does its procedures, what is wrong, and what mends it.

    FILE is a list in CSV, TSV, XLSX, ODS, plain text, JSON or Turtle; - is standard input.
    Exit code 0: fit; 1: findings; 2: could not run.
    """
    from etui.trays import check, check_graph
    from etui.trays.report import report_json, report_text

    tray, taken = common.tray_from_file(
        file, columns=columns, sheet=sheet, procedures=procedures, operator=operator,
        alongside=alongside,
    )
    tray = common.with_procedures(tray, file)
    held = common.stock_from_file(stock)
    files = common.rule_files(rules)
    reference, reader, judge = common.reference(), common.reader(), common.judge()
    if form == "turtle" and not as_json:
        graph = check_graph(tray, reference=reference, reader=reader, judge=judge, stock=held,
                            rules=files)
        common.out(graph.serialize(format="turtle").rstrip())
        return 0 if _conforms(graph) else 1
    report = check(tray, reference=reference, reader=reader, judge=judge, stock=held, rules=files)
    if as_json or form == "json":
        data = report_json(report, reference)
        data["read"] = list(taken.how())
        common.out(common.to_json(data))
    else:
        common.say_how(taken)
        common.out(report_text(report, reference, why=why, width=width()).rstrip())
    return 0 if report.verdict == "fit" else 1


def _conforms(graph: object) -> bool:
    """Whether a SHACL report says that nothing worse than a remark to know was found."""
    from rdflib import Graph, Namespace

    assert isinstance(graph, Graph)
    shacl = Namespace("http://www.w3.org/ns/shacl#")
    return not any(
        severity in (shacl.Violation, shacl.Warning)
        for severity in graph.objects(None, shacl.resultSeverity)
    )
