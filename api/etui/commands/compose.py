"""``etui compose``: the shortest fit tray from a stock."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from etui.commands import common
from etui.commands.page import Page
from etui.errors import BadInput


@click.command("compose")
@click.argument("file", metavar="FILE")
@click.option("--procedure", "-p", "procedures", multiple=True, metavar="NAME",
              help="What the tray is for; needed when FILE is a plain stock list.")
@click.option("--operator", default=None, metavar="WHO", help="In whose hands it will be.")
@click.option("--alongside", multiple=True, metavar="THING", help="What is kept beside the tray.")
@click.option("--ceiling", type=click.IntRange(1, 500), default=None, metavar="N",
              help="At most this many pieces.")
@click.option("--must", multiple=True, metavar="ITEM", help="Must be on the tray.")
@click.option("--must-not", multiple=True, metavar="ITEM", help="Must not be on the tray.")
@click.option("--without", multiple=True, metavar="LINE", help="Do without this stock line.")
@click.option("--alternatives", type=click.IntRange(0, 10), default=0, metavar="N",
              help="Also give the N next best trays.")
@click.option("--save", metavar="FILE", default=None,
              help="Write the tray as CSV, XLSX, TXT, JSON or Turtle.")
@click.option("--force", is_flag=True, help="Let --save overwrite a file.")
@common.column_option
@common.json_option
@common.why_option
def command(
    file: str, procedures: tuple[str, ...], operator: str | None, alongside: tuple[str, ...],
    ceiling: int | None, must: tuple[str, ...], must_not: tuple[str, ...],
    without: tuple[str, ...], alternatives: int, save: str | None, force: bool,
    columns: tuple[str, ...], sheet: str | None, as_json: bool, why: bool,
) -> int:
    """Choose the shortest tray from a stock that is fit and survives the loss of a piece.

    FILE is a brief as JSON {"title", "procedures", "operator", "stock": [{"name", "count"}],
    "constraints"}, or a stock list of any kind together with --procedure.
    Exit code 0: a fit tray; 1: remarks or an honest no; 2: could not run.
    """
    from etui.trays.compose import compose

    brief = _brief(file, columns, sheet)
    if procedures:
        brief["procedures"] = list(procedures)
    if operator:
        brief["operator"] = operator
    if ceiling:
        brief["piece_ceiling"] = ceiling
    for key, given in (("kept_alongside", alongside), ("must_have", must),
                       ("must_not", must_not)):
        if given:
            brief[key] = [*(brief.get(key) or []), *given]
    if not brief.get("procedures"):
        raise BadInput("no procedure is named.", where=file, mend="Give --procedure NAME.")
    data = compose(brief, common.reference(), common.reader(), common.judge(),
                   alternatives=alternatives, without=without)
    if save:
        _save(data, Path(save), force=force)
    if as_json:
        common.out(common.to_json(data))
    else:
        _show(data, why=why)
    return 0 if data["verdict"] == "fit" else 1


def _brief(file: str, columns: tuple[str, ...], sheet: str | None) -> dict[str, Any]:
    from etui.exchange import open_stock, stock_data
    from etui.exchange.machine import load_json
    from etui.exchange.source import Source

    given, shown = common.given_file(file)
    source = Source(given, name=shown)
    if source.kind() == "json":
        return load_json(source)
    stock, taken = open_stock(given, name=shown, columns=common.parse_columns(columns),
                              sheet=sheet)
    common.say_how(taken)
    return stock_data(stock)


def _save(data: dict[str, Any], path: Path, *, force: bool) -> None:
    from etui.exchange import write_tray
    from etui.trays.model import Line, Tray

    if not data["tray"]:
        raise BadInput("there is no fit tray to write.", where=str(path),
                       mend="See the gaps that the answer names.")
    write_tray(Tray(
        title=str(data.get("title") or "Tray"), procedures=tuple(data.get("procedures", ())),
        contents=tuple(Line(text=e["name"], qty=e["count"]) for e in data["tray"]),
    ), path, overwrite=force)


def _show(data: dict[str, Any], *, why: bool) -> None:
    page = Page()
    words = {"fit": "FIT", "fit-with-remarks": "FIT, WITH REMARKS", "unfit": "NO FIT TRAY"}
    page.title(f"{data.get('title') or 'Tray'}: {words[data['verdict']]}")
    if data.get("why"):
        page.text(data["why"])
    if data["tray"]:
        page.heading(f"On the tray ({data.get('pieces', '?')} pieces)")
        for entry in data["tray"]:
            steps = f" - for {'; '.join(map(_name, entry['for']))}" if why and entry["for"] else ""
            page.item(f"{entry['count']} x {entry['name']}{steps}")
    if data.get("set_aside"):
        page.heading("May be set aside meanwhile")
        for entry in data["set_aside"]:
            page.item(f"{entry['count']} x {entry['name']}")
    if data["gaps"]:
        page.heading("Gaps")
        for gap in data["gaps"]:
            page.item(gap["text"])
            if gap["obtain"]:
                page.text("Obtain: " + "; ".join(map(_name, gap["obtain"])), indent=4)
            if gap["by_hand"]:
                page.text("By hand meanwhile: " + "; ".join(map(_name, gap["by_hand"])), indent=4)
    proof = data.get("proof") or {}
    page.heading("How sure")
    page.text("Proven: no shorter tray from this stock does as well." if proof.get("optimal")
              else f"Not proven best; the least possible is {proof.get('bound')}.", indent=2)
    for key, heading in (("understood", "Wishes heeded"), ("unresolved", "Not understood")):
        if data.get(key):
            page.heading(heading)
            for entry in data[key]:
                page.item(f"{entry['text']}: {entry.get('meaning') or entry.get('why') or ''}")
    if why and data.get("left_out"):
        page.heading("Left out")
        for entry in data["left_out"]:
            page.item(f"{_name(entry)}: {entry.get('why', '')}" if isinstance(entry, dict)
                      else str(entry))
    for number, other in enumerate(data.get("alternatives") or [], 1):
        page.heading(f"Next best {number}")
        for entry in other.get("tray", []):
            page.item(f"{entry['count']} x {entry['name']}")
    page.gap()
    page.text(str(data.get("limits", "")))
    page.show()


def _name(entry: object) -> str:
    if isinstance(entry, dict):
        grade = f" ({entry['grade']})" if entry.get("grade") else ""
        return str(entry.get("name") or entry.get("text") or entry.get("id")) + grade
    return str(entry)
