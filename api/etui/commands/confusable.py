"""``etui list --confusable``: look-alikes on one tray whose mix-up harms."""

from __future__ import annotations

import click

from etui.commands import common
from etui.commands.cards import name_of
from etui.commands.page import Page


def list_pairs(
    file: str, columns: tuple[str, ...], sheet: str | None, *, as_json: bool
) -> int:
    """Print the dangerous pairs among the lines of a tray; exit code 1 when there are any."""
    from etui.exchange import resolve_procedures
    from etui.judging.confusable import confusable

    tray, taken = common.tray_from_file(file, columns=columns, sheet=sheet)
    reference, reader = common.reference(), common.reader()
    patterns = [
        item.pattern for line in tray.contents for item in reader.read(line.text).items
        if item.pattern and item.quantity != 0 and line.qty != 0
    ]
    steps = None
    if tray.procedures:
        ids = resolve_procedures(tray.procedures, common.procedure_matcher(), where=file)
        steps = [s for i in ids for s in reference.procedures[i].steps]
    pairs = confusable(patterns, reference, steps=steps)
    if as_json:
        common.out(common.to_json([
            {"a": {"id": p.a, "name": name_of(reference, p.a)},
             "b": {"id": p.b, "name": name_of(reference, p.b)},
             "resemblance": p.resemblance, "tells": p.tells,
             "swaps": [{"step": s.step, "name": s.name, "meant": s.meant, "taken": s.taken,
                        "grade": s.taken_grade, "because": s.because} for s in p.swaps]}
            for p in pairs
        ]))
        return 1 if pairs else 0
    common.say_how(taken)
    if not pairs:
        click.echo("no dangerous look-alikes among these lines")
        return 0
    page = Page()
    for pair in pairs:
        page.heading(f"{name_of(reference, pair.a)} / {name_of(reference, pair.b)} "
                     f"(alike: {pair.resemblance})")
        page.text(f"Tell them apart: {pair.tells}", indent=2)
        for swap in pair.swaps[:3]:
            page.item(f"{swap.name}: {name_of(reference, swap.taken)} in place of "
                      f"{name_of(reference, swap.meant)} is {swap.taken_grade}"
                      f"{' - ' + swap.because if swap.because else ''}")
    page.show()
    return 1
