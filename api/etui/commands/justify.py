"""``etui justify``: one document for the committee."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from etui.commands import common
from etui.errors import BadInput


@click.command("justify")
@click.argument("file", metavar="FILE")
@click.option("--procedure", "-p", "procedures", multiple=True, metavar="NAME",
              help="What the tray is for; overrules what the list says.")
@click.option("--operator", default=None, metavar="WHO", help="In whose hands it will be.")
@click.option("--rules", multiple=True, metavar="FILE", help="A hospital's own shapes.")
@click.option("--save", metavar="FILE", default=None,
              help="Write it as .html, .pdf, .docx or .md; without it, text is printed.")
@click.option("--force", is_flag=True, help="Let --save overwrite a file.")
@common.column_option
@common.json_option
def command(
    file: str, procedures: tuple[str, ...], operator: str | None, rules: tuple[str, ...],
    save: str | None, force: bool, columns: tuple[str, ...], sheet: str | None, as_json: bool,
) -> int:
    """Say for every item of a tray which steps it serves and what backs it up, what was left out
    and why, with sources."""
    from etui.trays import check_fully
    from etui.trays import justify_print as made
    from etui.trays.justify import justify

    forms: dict[str, Callable[[dict[str, Any]], bytes]] = {
        ".html": made.as_html, ".pdf": made.as_pdf, ".docx": made.as_docx,
        ".md": lambda data: made.as_text(data).encode(),
    }
    path = Path(save) if save else None
    if path is not None and path.suffix.lower() not in forms:
        raise BadInput(f'the ending "{path.suffix}" says no kind of document.', where=str(path),
                       mend=f"Use one of {', '.join(forms)}.")
    if path is not None and path.exists() and not force:
        raise BadInput("the file is there already and is not overwritten.", where=str(path),
                       mend="Give another name, or --force.")
    tray, taken = common.tray_from_file(file, columns=columns, sheet=sheet,
                                        procedures=procedures, operator=operator)
    done = check_fully(
        common.with_procedures(tray, file), reference=common.reference(),
        reader=common.reader(), judge=common.judge(), rules=common.rule_files(rules))
    data = justify(done, common.reference())
    if path is not None:
        try:
            path.write_bytes(forms[path.suffix.lower()](data))
        except OSError as error:
            raise BadInput(f"cannot be written ({error.strerror}).", where=str(path),
                           mend="Check folder and rights.") from error
        click.echo(f"written: {path}", err=True)
    if as_json:
        common.out(common.to_json(data))
    elif path is None:
        common.say_how(taken)
        common.out(made.as_text(data).rstrip())
    return 0
