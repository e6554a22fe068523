"""``etui read``: what a line names."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any

import click

from etui.commands import common
from etui.commands.page import Page
from etui.errors import BadInput
from etui.exchange.source import MAX_LINE, clean_text


@click.command("read")
@click.argument("text", nargs=-1)
@click.option("--file", "file", metavar="FILE", default=None,
              help="Read every line of a list (- = standard input).")
@click.option("--save", "save", metavar="FILE", default=None,
              help="With --file: write the readings as CSV or XLSX.")
@click.option("--force", is_flag=True, help="Let --save overwrite a file.")
@common.column_option
@common.batch_option
@common.json_option
@common.why_option
def command(
    text: tuple[str, ...], file: str | None, save: str | None, force: bool,
    columns: tuple[str, ...], sheet: str | None, batch: str | None, as_json: bool, why: bool,
) -> int:
    """Say what a line of a count sheet names: which instrument, how many, what size.

    TEXT is one line, e.g.: etui read "2 x curved Kelly 5 1/2 in"
    """
    ways = sum((bool(text), file is not None, batch is not None))
    if ways != 1:
        raise click.UsageError('give a text, --file FILE or --batch FILE, e.g. etui read "Kelly"')
    if save and file is None:
        raise click.UsageError("--save goes with --file")
    if batch is not None:
        common.run_batch(batch, lambda q: answer(common.wanted_text(q, "text")))
    elif file is not None:
        _read_file(file, columns, sheet, as_json=as_json, why=why, save=save, force=force)
    else:
        data = answer(" ".join(text))
        if as_json:
            common.out(common.to_json(data))
        else:
            _show(data, why=why)
    return 0


def answer(text: str, quantity: int | None = None) -> dict[str, Any]:
    """The reading of one line in the machine contract."""
    from etui.reading.contract import read_json

    if len(text) > MAX_LINE:
        raise BadInput(f"the text is longer than {MAX_LINE:,} characters.",
                       mend="Give one line of a list.")
    clean = clean_text(text)
    if not clean.strip():
        raise BadInput("the text is empty.", mend="Give one line of a list.")
    data = dict(read_json(common.reader().read(clean), common.reference()))
    if quantity is not None:
        data["quantity"] = quantity
    return data


def _read_file(
    file: str, columns: tuple[str, ...], sheet: str | None, *, as_json: bool, why: bool,
    save: str | None, force: bool,
) -> None:
    rows: list[list[str | int | None]] = []
    counts: dict[str, int] = {}
    for place, quantity, text, data in _readings(file, columns, sheet):
        counts[data["kind"]] = counts.get(data["kind"], 0) + 1
        if as_json:
            common.out(common.to_json({"place": place, **data}, pretty=False))
        elif save is None:
            common.out(_line(place, data, why=why))
        if save is not None:
            rows.append([place, quantity, text, data["kind"], _name(data), data.get("why")])
    if save is not None:
        from pathlib import Path

        _save(Path(save), rows, force=force)
    total = sum(counts.values())
    told = ", ".join(f"{n} {kind}" for kind, n in sorted(counts.items(), key=lambda c: -c[1]))
    click.echo(f"{total} lines: {told}", err=True)


def _readings(
    file: str, columns: tuple[str, ...], sheet: str | None
) -> Iterator[tuple[str, int | None, str, dict[str, Any]]]:
    from etui.exchange import iter_lines

    source, shown = common.given_file(file)
    progress = _Progress(source)
    try:
        for line in iter_lines(source, name=shown, columns=common.parse_columns(columns),
                               sheet=sheet):
            yield str(line.place), line.qty, line.text, answer(line.text, line.qty)
            progress.step(len(line.text) + 8)
    finally:
        progress.stop()


class _Progress:
    """A bar on standard error, shown to a terminal when reading takes more than a second."""

    def __init__(self, source: bytes | str) -> None:
        from pathlib import Path

        self._total = len(source) if isinstance(source, bytes) else (
            Path(source).stat().st_size if Path(source).is_file() else 0)
        self._started = time.monotonic()
        self._done = 0
        self._bar: Any = None
        self._task: Any = None

    def step(self, size: int) -> None:
        self._done += size
        if self._bar is None:
            stream = common.term_stream()
            if time.monotonic() - self._started < 1 or not stream.isatty():
                return
            from rich.console import Console
            from rich.progress import Progress

            self._bar = Progress(console=Console(file=stream), transient=True)
            self._task = self._bar.add_task("reading", total=self._total)
            self._bar.start()
        self._bar.update(self._task, completed=min(self._done, self._total))

    def stop(self) -> None:
        if self._bar is not None:
            self._bar.stop()


def _save(path: Any, rows: list[list[str | int | None]], *, force: bool) -> None:
    from etui.exchange import csv_bytes, xlsx_bytes

    header = ("place", "quantity", "as written", "kind", "read as", "why")
    if path.exists() and not force:
        raise BadInput("the file is there already and is not overwritten.", where=str(path),
                       mend="Give another name, or --force.")
    if path.suffix.lower() == ".csv":
        data = csv_bytes(header, rows)
    elif path.suffix.lower() == ".xlsx":
        data = xlsx_bytes("Readings", header, rows)
    else:
        raise BadInput(f'the ending "{path.suffix}" says no kind of file.', where=str(path),
                       mend="Use .csv or .xlsx.")
    try:
        path.write_bytes(data)
    except OSError as error:
        raise BadInput(f"cannot be written ({error.strerror}).", where=str(path),
                       mend="Check folder and rights.") from error


def _name(data: dict[str, Any]) -> str:
    if data.get("parts"):
        return " + ".join(p["name"] for p in data["parts"] if p.get("name"))
    found = data.get("instrument")
    return found["name"] if found else ""


def _line(place: str, data: dict[str, Any], *, why: bool) -> str:
    count = "" if data.get("quantity") is None else f"{data['quantity']} x "
    told = _name(data) or _asked(data)
    reason = f"  [{data['why']}]" if why and data.get("why") else ""
    return f"{place}\t{count}{data['text']}\t{data['kind']}\t{told}{reason}"


def _asked(data: dict[str, Any]) -> str:
    near = ", ".join(a["name"] for a in data.get("alternatives", [])[:3])
    return f"which: {near}?" if near else ""


def _show(data: dict[str, Any], *, why: bool) -> None:
    page = Page()
    name = _name(data)
    page.title(name or f"{data['kind']}: {data['text']}")
    attributes = {k: v for k, v in (data.get("attributes") or {}).items() if v not in (None, [])}
    page.facts([
        ("as written", data["text"]),
        ("kind", data["kind"]),
        ("id", (data.get("instrument") or {}).get("id", "")),
        ("quantity", "" if data.get("quantity") is None else str(data["quantity"])),
        *((k.replace("_mm", " (mm)").replace("_", " "),
           ", ".join(map(str, v)) if isinstance(v, list) else f"{v:g}"
           if isinstance(v, float) else str(v)) for k, v in attributes.items()),
    ])
    alternatives = data.get("alternatives") or []
    if alternatives:
        page.heading("Could also be" if name else "Could be")
        for other in alternatives[:6]:
            page.item(f"{other['name']} ({other['id']}, likeness {other['score']:.2f})")
    names = (data.get("instrument") or {}).get("names") or []
    if why and names:
        page.heading("Also called")
        page.text("; ".join(names), indent=2)
    if why or not name:
        page.heading("Why")
        page.text(data.get("why") or "no reason given", indent=2)
    page.show()
