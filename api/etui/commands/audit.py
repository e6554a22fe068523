"""``etui audit``: all trays of a folder against all rules."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import click

from etui.commands import common
from etui.commands.cards import name_of
from etui.commands.page import Page
from etui.errors import BadInput, EtuiError

LISTS = (".csv", ".tsv", ".xlsx", ".ods", ".txt", ".json", ".ttl")
VERDICTS = ("unfit", "fit-with-remarks", "fit")


@click.command("audit")
@click.argument("places", nargs=-1, required=True, metavar="FOLDER_OR_FILE...")
@click.option("--procedure", "-p", "procedures", multiple=True, metavar="NAME",
              help="For lists that do not say what they are for.")
@click.option("--stock", metavar="FILE", default=None, help="Stock from which gaps may be filled.")
@click.option("--rules", multiple=True, metavar="FILE", help="A hospital's own shapes.")
@click.option("--uses", metavar="ITEM", default=None,
              help="Where is this pattern used, e.g. when it is withdrawn?")
@common.column_option
@common.json_option
def command(
    places: tuple[str, ...], procedures: tuple[str, ...], stock: str | None,
    rules: tuple[str, ...], uses: str | None, columns: tuple[str, ...], sheet: str | None,
    as_json: bool,
) -> int:
    """Check every tray in a folder: verdicts, findings by rule, what cannot be read.

    Exit code 0: all fit; 1: findings; 2: nothing could be checked.
    """
    from etui.trays import check

    files = _files(places)
    held = common.stock_from_file(stock)
    shapes = common.rule_files(rules)
    wanted = common.pattern_id(uses) if uses else None
    trays: list[dict[str, Any]] = []
    failed: list[dict[str, str]] = []
    counts: Counter[str] = Counter()
    for file in files:
        try:
            tray, _ = common.tray_from_file(str(file), columns=columns, sheet=sheet)
            if procedures and not tray.procedures:
                tray, _ = common.tray_from_file(str(file), columns=columns, sheet=sheet,
                                                procedures=procedures)
            tray = common.with_procedures(tray, str(file))
            report = check(tray, reference=common.reference(), reader=common.reader(),
                           judge=common.judge(), stock=held, rules=shapes)
        except EtuiError as error:
            failed.append({"file": str(file), "problem": error.line})
            continue
        found = Counter(f.rule for f in report.findings)
        counts.update(found)
        trays.append({
            "file": str(file), "title": report.title, "verdict": report.verdict,
            "procedures": list(report.procedures),
            "findings": dict(sorted(found.items())),
            "unfit_because": [f.text for f in report.findings if f.severity == "violation"],
            "uses": _uses(report, wanted) if wanted else [],
        })
    if not trays:
        raise BadInput(
            f"none of {len(files)} lists could be checked; the first: {failed[0]['problem']}")
    trays.sort(key=lambda t: (VERDICTS.index(t["verdict"]), t["file"]))
    data = {
        "trays": trays, "not_checked": failed,
        "verdicts": {v: sum(t["verdict"] == v for t in trays) for v in VERDICTS},
        "rules": dict(sorted(counts.items(), key=lambda c: (-c[1], c[0]))),
        "pattern": {"id": wanted, "name": name_of(common.reference(), wanted)} if wanted else None,
    }
    if as_json:
        common.out(common.to_json(data))
    else:
        _show(data)
    return 0 if all(t["verdict"] == "fit" for t in trays) and not failed else 1


def _files(places: tuple[str, ...]) -> list[Path]:
    files: list[Path] = []
    for place in places:
        path = Path(place)
        if path.is_dir():
            files += [p for p in path.rglob("*") if p.is_file() and p.suffix.lower() in LISTS]
        elif path.is_file():
            files.append(path)
        else:
            raise BadInput("there is no such file or folder.", where=place, mend="Check the path.")
    if not files:
        raise BadInput("there is no list here.", where=", ".join(places),
                       mend=f"Lists end in {', '.join(LISTS)}.")
    return sorted(dict.fromkeys(files))


def _uses(report: Any, wanted: str) -> list[str]:
    """Lines of a tray that name the pattern, with their places."""
    return [
        f"{line.place}: {line.text}" for line in report.readings
        if line.reading and any(i.pattern == wanted for i in line.reading.items)
    ]


def _show(data: dict[str, Any]) -> None:
    page = Page()
    told = ", ".join(f"{n} {v}" for v, n in data["verdicts"].items() if n)
    page.title(f"{len(data['trays'])} trays: {told}")
    for tray in data["trays"]:
        number = sum(tray["findings"].values())
        page.item(f"{tray['verdict'].upper() if tray['verdict'] == 'unfit' else tray['verdict']}: "
                  f"{tray['title']} ({tray['file']}), {number} findings")
        for text in tray["unfit_because"]:
            page.item(text, mark="!", indent=6)
    if data["not_checked"]:
        page.heading("Could not be checked")
        for one in data["not_checked"]:
            page.item(one["problem"])
    if data["rules"]:
        page.heading("Findings by rule")
        page.table([[str(n), rule] for rule, n in data["rules"].items()], indent=2)
    if data["pattern"]:
        page.heading(f"Where {data['pattern']['name']} is used")
        used = [u for t in data["trays"] for u in t["uses"]]
        for use in used:
            page.item(use)
        if not used:
            page.text("on none of these trays", indent=2)
    page.show()
