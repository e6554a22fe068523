"""``etui replace``: is this a stand-in, or what else could be?"""

from __future__ import annotations

from typing import Any

import click

from etui.commands import common
from etui.commands.page import Page
from etui.commands.show import GRADE_WORDS
from etui.errors import BadInput


@click.command("replace")
@click.option("--procedure", "-p", default=None, metavar="TEXT", help="The operation.")
@click.option("--step", "-s", default=None, metavar="TEXT",
              help="What is to be done, in your words or as an id.")
@click.option("--missing", "-m", default=None, metavar="TEXT", help="What is not there.")
@click.option("--candidate", "-c", default=None, metavar="TEXT",
              help="What you think of using, and how; leave it out to list what could stand in.")
@click.option("--tray", metavar="FILE", default=None, help="Look on this tray.")
@click.option("--stock", metavar="FILE", default=None, help="Look in this stock.")
@common.batch_option
@common.json_option
@common.why_option
def command(
    procedure: str | None, step: str | None, missing: str | None, candidate: str | None,
    tray: str | None, stock: str | None, batch: str | None, as_json: bool, why: bool,
) -> int:
    """Grade a stand-in for a missing item at a step, or list what can stand in.

    E.g.: etui replace -p "wound repair" -s "drive the needle" -m "needle holder"
    -c "mosquito forceps"

    In a batch, each line is {"procedure", "step", "missing", "candidate"}; without a candidate,
    "tray" and "stock" may hold lists of lines.
    """
    if batch is not None:
        if procedure or step or missing or candidate:
            raise click.UsageError("--batch takes its questions from the file alone")
        common.run_batch(batch, answer)
        return 0
    if not step:
        raise click.UsageError(
            'say the step, e.g. etui replace -p "wound repair" -s "drive the needle" '
            '-m "needle holder"')
    query: dict[str, Any] = {"procedure": procedure, "step": step, "missing": missing,
                             "candidate": candidate}
    if tray:
        lines = common.tray_from_file(tray)[0].contents
        query["tray"] = [{"qty": line.qty, "text": line.text} for line in lines]
    held = common.stock_from_file(stock)
    if held:
        query["stock"] = [{"name": line.text, "count": line.qty} for line in held.lines]
    data = answer(query)
    if as_json:
        common.out(common.to_json(data))
    else:
        _show(data, query, why=why)
    return 0


def answer(query: dict[str, Any]) -> dict[str, Any]:
    """The answer to one question in the machine contract."""
    from etui.judging.ask import replace

    if not isinstance(query.get("step"), str) or not query["step"].strip():
        raise BadInput('"step" is missing or is not text.',
                       mend='Give {"procedure", "step", "missing", "candidate"}.')
    return replace(query, common.reference(), common.reader(), common.judge())


def _show(data: dict[str, Any], query: dict[str, Any], *, why: bool) -> None:
    page = Page()
    step = data["step"]
    if step["id"] is None:
        page.title(data["asks"] or "Not answered")
        for text in data["unresolved"]:
            page.item(text)
        page.show()
        return
    if query.get("candidate"):
        grade = data["grade"]
        what = " with ".join(r["name"] for r in data["candidate"]["resolved"]) \
            or str(query["candidate"])
        page.title(f"{GRADE_WORDS[grade].upper() if grade else 'IT DEPENDS'}: {what}")
        if grade is None and data["asks"]:
            page.text(data["asks"])
            if data["careful"]:
                page.text(f"Until that is known: {GRADE_WORDS[data['careful']]}.")
    else:
        page.title(f"Stand-ins for {query.get('missing') or 'this step'}")
    page.facts([
        ("step", f"{step['name']} ({step['id']})"),
        ("in what manner", ", ".join(data["candidate"]["manner"])),
        ("hazards", ", ".join(data["hazards"])),
        ("known", "stated in the reference" if data["stated"] else "derived by rules"
         if data["grade"] else ""),
        ("in dispute", "sources differ; the more careful answer is given"
         if data.get("disputed") else ""),
    ])
    if data["reasons"]:
        page.heading("Why")
        for reason in data["reasons"] if why else data["reasons"][:3]:
            told = " - ".join(t for t in (reason["demand"], reason["offer"],
                                          reason["consequence"]) if t)
            page.item(told)
            if why:
                page.text(f"[{reason['how_known']}] {reason['source'] or 'no source'}", indent=4)
        if len(data["reasons"]) > 3 and not why:
            page.text(f"and {len(data['reasons']) - 3} more with --why", indent=2)
    for heading, key in (("Can stand in, best first", "substitutes"),
                         ("Do not use", "do_not_use"), ("Better, if at hand", "better")):
        if data.get(key):
            page.heading(heading)
            for one in data[key]:
                page.item(_substitute(one, why))
    if data["unresolved"]:
        page.heading("Not understood")
        for text in data["unresolved"]:
            page.item(text)
    page.gap()
    page.text("Improvised is not permission. Local protocol and licensed judgement prevail.")
    page.show()


def _substitute(one: dict[str, Any], why: bool) -> str:
    where = f", {one['from']}" if one.get("from") and one["from"] != "reference" else ""
    more = []
    for key in ("costs", "because", "hazard", "note"):
        value = one.get(key)
        if value:
            more.append("; ".join(map(str, value)) if isinstance(value, list) else str(value))
    if why and one.get("source"):
        more.append(str(one["source"]))
    told = f" - {'; '.join(more)}" if more else ""
    return f"{GRADE_WORDS[one['grade']]}: {one['name']} ({one['id']}{where}){told}"
