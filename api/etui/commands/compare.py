"""``etui compare``: two instruments side by side."""

from __future__ import annotations

from typing import Any

import click

from etui.commands import common
from etui.commands.page import Page


@click.command("compare")
@click.argument("a", required=False)
@click.argument("b", required=False)
@common.batch_option
@common.json_option
@common.why_option
def command(
    a: str | None, b: str | None, batch: str | None, as_json: bool, why: bool
) -> int:
    """Tell two instruments apart, and say what happens if they are swapped.

    E.g.: etui compare "Kelly forceps" "Kocher forceps"
    """
    if batch is not None:
        if a or b:
            raise click.UsageError("--batch takes its questions from the file alone")
        common.run_batch(batch, lambda q: answer(
            common.wanted_text(q, "a"), common.wanted_text(q, "b")))
        return 0
    if not a or not b:
        raise click.UsageError('name two instruments, e.g. etui compare "Kelly" "Kocher"')
    data = answer(a, b)
    if as_json:
        common.out(common.to_json(data))
    else:
        _show(data, why=why)
    return 0


def answer(a: str, b: str) -> dict[str, Any]:
    """The comparison of two instruments, by id or in words, in the machine contract."""
    from etui.judging.compare import compare

    return compare(common.pattern_id(a), common.pattern_id(b), common.reference())


def _show(data: dict[str, Any], *, why: bool) -> None:
    page = Page()
    page.title(f"{data['a']['name']} / {data['b']['name']}")
    page.facts([("alike at a glance", data["resemblance"])])
    page.heading("Tell them apart by")
    page.text(data["tells"] or "nothing that the reference states", indent=2)
    if data["differences"]:
        page.heading("Differences")
        for text in data["differences"]:
            page.item(text)
    page.heading("If they are swapped")
    page.text(data["harm_if_swapped"] or "no harm is stated", indent=2)
    if why:
        for one in data.get("steps", []):
            told = f"{one['step']['name']}: meant {one['meant']}, taken {one['taken']}"
            rest = "; ".join(t for t in (one["because"], one["hazard"], one["source"],
                                         one["how_known"]) if t)
            page.item(f"{told} - {rest}")
    page.show()
