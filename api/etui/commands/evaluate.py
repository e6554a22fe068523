"""``etui evaluate``: how well derived grades agree with stated ones."""

from __future__ import annotations

from pathlib import Path

import click

from etui.commands import common
from etui.commands.page import Page


@click.command("evaluate")
@click.option("--save", metavar="FILE", default=None,
              help="Write the whole report as Markdown, e.g. docs/reference/evaluation.md.")
@click.option("--refit", is_flag=True,
              help="Fit the numbers of the rules anew and write them into ontology/rules.ttl.")
@click.option("--check", is_flag=True,
              help="Only say whether the numbers of the rules are those that fitting gives.")
@common.json_option
@common.why_option
def command(save: str | None, refit: bool, check: bool, as_json: bool, why: bool) -> int:
    """Hide each stated grade, derive it by the rules, and compare (takes a few minutes).

    A dangerous answer is one that derives as usable what is stated to be unsafe or unable.
    """
    from etui.errors import BadInput

    if refit or check:
        return _fit(write=refit)
    from etui.judging.evaluate import leave_one_out
    from etui.judging.evaluation_report import as_json as numbers
    from etui.judging.evaluation_report import page as report

    tried = leave_one_out(common.judge())
    if save:
        try:
            Path(save).write_text(report(common.reference(), tried), encoding="utf-8")
        except OSError as error:
            raise BadInput(f"cannot be written ({error.strerror}).", where=save,
                           mend="Check folder and rights.") from error
    if as_json:
        common.out(common.to_json(numbers(tried)))
        return 0
    answered = [t for t in tried if t.answered]
    asked = len(tried) - len(answered)
    page = Page()
    page.title("Derived grades against stated ones, each hidden in turn")
    page.facts([
        ("stated grades", f"{len(tried):,}"),
        ("answered", _share(len(answered), len(tried))),
        ("asked instead", _share(asked, len(tried))),
        ("within one grade", _share(sum(t.within for t in answered), len(answered))),
        ("exact", _share(sum(t.exact for t in answered), len(answered))),
        ("dangerous", _share(sum(t.dangerous for t in answered), len(answered))),
        ("over-refused", _share(sum(t.refused for t in answered), len(answered))),
    ])
    if why:
        page.heading("Dangerous ones")
        for one in tried:
            if one.dangerous:
                page.item(f"{one.subject} at {one.step}: stated {one.stated}, derived "
                          f"{one.derived}{' - ' + one.because if one.because else ''}")
    page.show()
    return 0


def _fit(*, write: bool) -> int:
    from etui.judging.evaluate import refit
    from etui.judging.evaluation_report import stale, write_numbers
    from etui.knowledge import ontology_dir

    judge = common.judge()
    fitted, shares = refit(judge)
    if write:
        changed = write_numbers(ontology_dir() / "rules.ttl", fitted, shares)
        click.echo(f"{changed} numbers changed in rules.ttl")
        return 0
    old = stale(judge, fitted, shares)
    for name in old:
        click.echo(f"stale: {name}")
    if not old:
        click.echo("the numbers of the rules are fresh")
    return 1 if old else 0


def _share(part: int, whole: int) -> str:
    return f"{part:,} ({100 * part / whole:.1f} %)" if whole else "0"
