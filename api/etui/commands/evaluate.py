"""``etui evaluate``: hide each stated judgement, derive it, compare."""

from __future__ import annotations

from pathlib import Path

import click

from etui.commands import common


@click.command("evaluate")
@click.option("--write", metavar="FILE", type=click.Path(dir_okay=False, path_type=Path),
              default=None, help="Write the report as Markdown to FILE.")
@click.option("--refit", is_flag=True,
              help="First fit the points of the rules anew and write them into rules.ttl.")
@common.json_option
def command(write: Path | None, refit: bool, as_json: bool) -> int:
    """Measure how well derived grades agree with stated ones: each stated judgement is hidden,
    derived from the rules and its neighbours, and compared. Takes about half a minute."""
    from etui.judging import Judge
    from etui.judging import evaluation_report as report
    from etui.judging.evaluate import leave_one_out, tally
    from etui.judging.evaluate import refit as fit_anew
    from etui.judging.rulebook import load_rulebook
    from etui.knowledge import ontology_dir

    judge = common.judge()
    if refit:
        fitted, shares = fit_anew(judge)
        changed = report.write_numbers(ontology_dir() / "rules.ttl", fitted, shares)
        click.echo(f"rules.ttl: numbers of {changed} records changed", err=True)
        load_rulebook.cache_clear()
        judge = Judge(common.reference())
    tried = leave_one_out(judge)
    if write is not None:
        write.write_text(report.page(judge.reference, tried), encoding="utf-8")
        click.echo(f"written: {write}", err=True)
    if as_json:
        common.out(common.to_json(report.as_json(tried)))
        return 0
    found = tally("all", tried)
    click.echo(
        f"{found.cases} stated judgements; answered {found.answered / found.cases:.1%}, of these "
        f"within one grade {found.share(found.within):.1%}, exact {found.share(found.exact):.1%}, "
        f"dangerous {found.share(found.dangerous):.1%} ({found.dangerous}), over-refused "
        f"{found.share(found.refused):.1%}"
    )
    return 0
