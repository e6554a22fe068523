"""``etui show``: everything that is stated about one thing."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import click

from etui.commands import common
from etui.commands.cards import Card, card_for
from etui.commands.page import Page
from etui.commands.rules import find_rule

GRADE_WORDS = {
    "preferred": "preferred", "acceptable": "acceptable", "improvised": "improvised",
    "unsafe": "UNSAFE", "unable": "cannot",
}


@click.command("show")
@click.argument("thing", nargs=-1, required=True)
@common.json_option
@common.why_option
def command(thing: tuple[str, ...], as_json: bool, why: bool) -> int:
    """Show one instrument, procedure, step, source or rule, by id or by name.

    E.g.: etui show haemostat-crile; etui show "Adson tissue forceps" --why
    """
    text = " ".join(thing)
    card = find_rule(text)
    if card is None:
        card = card_for(common.reference(), text)
    if as_json:
        common.out(common.to_json(card))
        return 0
    page = Page()
    page.title(str(card.get("name") or card.get("title") or card["id"]))
    {"instrument": _instrument, "step": _step, "procedure": _procedure, "source": _source}.get(
        card["kind"], _other
    )(page, card, why)
    page.show()
    return 0


def _names(things: Iterable[dict[str, Any]]) -> str:
    return "; ".join(f"{t['name']} ({t['id']})" for t in things)


def _words(value: object) -> str:
    text = str(value).replace("_", " ")
    return text[:-2] if text.endswith(".0") else text


def _numbers(low_high: list[float] | None, unit: str) -> str:
    if not low_high:
        return ""
    low, high = low_high
    return f"{low:g} {unit}" if low == high else f"{low:g} to {high:g} {unit}"


def _instrument(page: Page, card: Card, why: bool) -> None:
    page.text(card["definition"])
    page.gap()
    page.facts([
        ("id", card["id"]), ("family", card["family"]["name"]),
        ("also called", "; ".join(n["text"] for n in card["names"] if n["text"] != card["name"])),
        ("length", _numbers(card["length_mm"], "mm")),
        *((_words(k), ", ".join(map(_words, v))) for k, v in card["features"].items()),
        *((_words(k), _numbers(v, "")) for k, v in card["measures"].items()),
        ("care", _words(card["care"] or "")),
    ])
    for heading, key in (("Used for", "used_for"), ("Never for", "never_for")):
        if card[key]:
            page.heading(heading)
            for text in card[key]:
                page.item(text)
    if card["abilities"]:
        page.heading("By its features it")
        page.text(_names(card["abilities"]), indent=2)
    if card["offers"] and why:
        page.heading("What it offers")
        for offer in card["offers"]:
            told = [f"as {_words(offer['role'])}" if offer["role"] else "",
                    f"strength {offer['strength']}" if offer["strength"] is not None else "",
                    _words(offer["fineness"] or ""), _words(offer["trauma"] or ""),
                    offer["limits"] or "", f"known: {offer['how_known']}"]
            page.item(f"{offer['action']}: {', '.join(t for t in told if t)}")
    if card["steps"]:
        page.heading("Graded for these steps")
        shown = card["steps"] if why else [s for s in card["steps"] if s["grade"] != "unable"]
        for step in shown:
            role = f" as {_words(step['role'])}" if step["role"] else ""
            page.item(f"{GRADE_WORDS[step['grade']]}{role}: {step['name']} ({step['id']})"
                      f"{_reason(step, why)}")
        if len(shown) < len(card["steps"]):
            page.text(f"and cannot do {len(card['steps']) - len(shown)} further steps (--why)",
                      indent=2)
    for heading, key in (("Easily confused with", "confused_with"), ("Goes with", "pairs_with")):
        if card[key]:
            page.heading(heading)
            page.text(_names(card[key]), indent=2)
    _sources(page, card)


def _reason(step: Card, why: bool) -> str:
    told = []
    if step["grade"] == "unsafe" and step.get("hazard"):
        told.append(step["hazard"])
    if why:
        told += [step["because"] or "", f"only if {step['condition']}" if step["condition"] else "",
                 f"known: {step['how_known']}", step["source"] or ""]
    text = "; ".join(t for t in told if t)
    return f" - {text}" if text else ""


def _sources(page: Page, card: Card) -> None:
    if not card["sources"]:
        return
    page.heading("Sources")
    for source in card["sources"]:
        title = source["title"] or "common practice, no source"
        more = f" {source['address']}" if source["address"] else ""
        covers = f" (for {source['covers']})" if source["covers"] else ""
        page.item(f"{title}{more}{covers} [{source['how_known']}]")


def _step(page: Page, card: Card, why: bool) -> None:
    page.facts([
        ("id", card["id"]), ("procedure", card["procedure"]["name"]), ("need", card["need"]),
        ("when", card["when"] or ""), ("also called", "; ".join(card["also_called"])),
        ("does", f"{card['action']}: {card['target']} (to {card['fate']})"),
        ("ways", ", ".join(card["approaches"])),
        ("pieces at once", str(card["pieces_together"])), ("note", card["note"] or ""),
    ])
    if card["at_risk"]:
        page.heading("At risk")
        for risk in card["at_risk"]:
            page.item(f"{risk['tissue']}: {risk['how']}. Guard: {risk['guard']}")
    if card["demands"]:
        page.heading("Asks of a piece")
        for demand in card["demands"]:
            values = " to ".join(demand["values"]) if demand["compare"] == "between" else \
                " or ".join(demand["values"])
            told = f"{demand['level']}: {_words(demand['feature'])} {_words(demand['compare'])} " \
                f"{_words(values)}"
            told += f", when {_words(demand['condition'])}" if demand["condition"] else ""
            page.item(told + (f" - {demand['because']}" if demand["because"] else ""))
    if card["judged"]:
        page.heading("Stated to serve or not")
        for one in card["judged"]:
            role = f" as {_words(one['role'])}" if one["role"] else ""
            page.item(f"{GRADE_WORDS[one['grade']]}: {one['name']} ({one['id']}){role}"
                      f"{_reason(one, why)}")
    for one in card["techniques"]:
        page.item(f"{GRADE_WORDS[one['grade']]}: {one['technique']}"
                  f"{' - ' + one['because'] if one['because'] else ''}")
    _disputes(page, card)
    _sources(page, card)


def _disputes(page: Page, card: Card) -> None:
    for dispute in card["disputes"]:
        page.heading(f"In dispute: {dispute['question']}")
        for side in dispute["sides"]:
            page.item(side)


def _procedure(page: Page, card: Card, why: bool) -> None:
    page.text(card["purpose"][:1].upper() + card["purpose"][1:].rstrip(".") + ".")
    page.gap()
    page.facts([("id", card["id"]), ("also called", "; ".join(card["also_called"])),
                ("done by", card["done_by"] or ""),
                ("kept alongside", "; ".join(card["kept_alongside"]))])
    page.heading("Ways")
    for approach in card["approaches"]:
        page.item(f"{approach['name']} ({approach['id']})"
                  f"{': ' + approach['note'] if approach['note'] else ''}")
    page.heading("Steps in order")
    for step in card["steps"]:
        best = "; ".join(p["name"] for p in step["preferred"]) or "see the step"
        ways = [a for a in step["approaches"] if a != "all"]
        only = f", way {' or '.join(ways)} only" if ways and len(ways) < len(
            card["approaches"]) else ""
        page.item(f"{step['name']} ({step['need']}{only}): {best}")
        if why:
            page.text(step["id"], indent=6)
    page.heading("Cautions")
    for caution in card["cautions"]:
        page.item(caution)
    if card["not_wanted"]:
        page.heading("Not wanted on the tray")
        for one in card["not_wanted"]:
            page.item(f"{one['name']}: {one['because']}")
    _disputes(page, card)
    if why:
        _sources(page, card)


def _source(page: Page, card: Card, why: bool) -> None:
    page.facts([("id", card["id"]), ("kind", _words(card["source_kind"])),
                ("year", card["year"] or ""), ("address", card["address"] or "")])
    if card["instruments"]:
        page.heading("Instruments that rest on it")
        page.text(_names(card["instruments"]), indent=2)
    if card["judgements"]:
        page.heading(f"Grades that rest on it: {len(card['judgements'])}")
        for one in card["judgements"] if why else card["judgements"][:20]:
            page.item(f"{one['name']} - {one['step']} ({one['step_id']})")


def _other(page: Page, card: Card, why: bool) -> None:
    """A thing of a kind with no page of its own: what is stated, name by name."""
    shown = {k: v for k, v in card.items() if k not in ("name", "names", "instruments") and v}
    if not why:
        shown.pop("trace", None)
    pairs = []
    for key, value in shown.items():
        if isinstance(value, dict):
            value = "; ".join(f"{_words(k)}: {_words(v)}" for k, v in value.items())
        elif isinstance(value, list):
            value = "; ".join(
                ", ".join(f"{_words(k)} {_words(v)}" for k, v in entry.items() if v)
                if isinstance(entry, dict) else _words(entry) for entry in value)
        pairs.append((_words(key), _words(value)))
    page.facts(pairs)
    names = card.get("names") or []
    if names:
        page.heading("Names")
        page.text("; ".join(n["text"] if isinstance(n, dict) else n for n in names), indent=2)
    if card.get("instruments"):
        page.heading("Instruments")
        page.text(_names(card["instruments"]), indent=2)
