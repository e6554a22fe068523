"""The committee document as blocks, the same for every form of it."""

from __future__ import annotations

from typing import Any, NamedTuple

_SHOWN = 5
"""Steps named per item; the rest is counted."""
_KNOWN = {
    "read": "from a source that was opened",
    "memory": "from memory",
    "practice": "common practice without a source",
    "derived": "worked out by rules",
}


class Block(NamedTuple):
    """One piece of the document.

    ``kind``: title, heading, text, note, list or table.  ``content``: a text, a list of texts, or
    a list of rows with the header first.  ``widths``: shares of a table's columns.
    """

    kind: str
    content: Any
    widths: tuple[int, ...] = ()


def blocks(data: dict[str, Any]) -> list[Block]:
    """The document in order: what the tray is, its items, its steps, what is left open, sources."""
    out = [
        Block("title", f"{data['title']}"),
        Block("note", "Why each item is on this tray"),
        Block("table", _facts(data), (1, 4)),
        Block("text", data["limits"]),
        Block("heading", "Items"),
        Block(
            "table",
            [
                ["No.", "Item as written", "What it is there for", "Not for"],
                *(_item_row(item) for item in data["items"]),
            ],
            (1, 5, 10, 6),
        ),
    ]
    for procedure in dict.fromkeys(s["procedure"] for s in data["steps"]):
        rows = [_step_row(s) for s in data["steps"] if s["procedure"] == procedure]
        out += [
            Block("heading", f"Steps: {procedure}"),
            Block("table", [["Step", "Need", "Done with", "Backed up by"], *rows], (7, 3, 6, 6)),
        ]
    out += _open_points(data)
    out += _left_out(data)
    if data["cautions"]:
        out.append(Block("heading", "Cautions"))
        out.append(
            Block(
                "list",
                list(dict.fromkeys(c for entry in data["cautions"] for c in entry["cautions"])),
            )
        )
    if data["disputes"]:
        out.append(Block("heading", "Questions on which sources differ"))
        out.append(
            Block(
                "list",
                [
                    f"{d['question'][:1].upper()}{d['question'][1:]}: {'; or: '.join(d['sides'])}."
                    for d in data["disputes"]
                ],
            )
        )
    return out + _sources(data)


def mark(entry: dict[str, Any]) -> str:
    """The number of a source in brackets, or nothing."""
    return f" [{entry['number']}]" if entry.get("number") else ""


def _facts(data: dict[str, Any]) -> list[list[str]]:
    pieces = sum(i["count"] or 1 for i in data["items"])
    essential = [s for s in data["steps"] if s["need"] == "essential"]
    by_tray = sum(1 for s in essential if s["by"])
    facts = [
        ["For", "; ".join(data["procedures"])],
        ["In whose hands", data["operator"] or "not said"],
        ["Readiness", data["verdict_words"]],
        ["Way reckoned with", "; ".join(data["ways"]) or "there is one way only"],
        ["Kept alongside", "; ".join(data["kept_alongside"]) or "nothing is said to be"],
        ["Size", f"{len(data['items'])} lines, {pieces} pieces"],
        ["Essential steps", f"{len(essential)}, of which {by_tray} have a piece of this tray"],
    ]
    return [["", ""], *facts]


def _item_row(item: dict[str, Any]) -> list[str]:
    count = "" if item["count"] is None else str(item["count"])
    if not item["understood"]:
        return [count, item["line"], "not understood, so not reckoned with", ""]
    read = "; ".join(item["read_as"])
    name = item["line"] if read.lower() == item["line"].lower() else f"{item['line']}\n({read})"
    return [count, name, _purposes(item), _not_for(item)]


def _purposes(item: dict[str, Any]) -> str:
    if not item["serves"]:
        return "No step of the way reckoned with."
    first = [s for s in item["serves"] if s["role"] == "first" and s["grade"] != "improvised"]
    reserve = [s for s in item["serves"] if s["role"] != "first" and s["grade"] != "improvised"]
    makeshift = [s for s in item["serves"] if s["grade"] == "improvised"]
    parts = []
    for title, entries in (("First choice", first), ("Reserve", reserve)):
        if entries:
            parts.append(f"{title}: {_steps(entries)}.")
    if makeshift and not parts:
        parts.append(f"Makeshift only: {_steps(makeshift)}.")
    elif makeshift:
        parts.append(f"Makeshift at {len(makeshift)} more.")
    mates = sorted({m for s in item["serves"] for m in s["with"]})
    if mates and all(s["with"] for s in item["serves"]):
        parts.append(f"Works with: {', '.join(mates[:4])}.")
    return "\n".join(parts)


def _steps(entries: list[dict[str, Any]]) -> str:
    shown = [f"{e['name']} ({e['grade']}){mark(e)}" for e in entries[:_SHOWN]]
    more = len(entries) - len(shown)
    return "; ".join(shown) + (f"; and {more} more" if more > 0 else "")


def _not_for(item: dict[str, Any]) -> str:
    return "\n".join(
        f"{n['name']}: {n['because'] or (n['hazard'] or 'it harms').replace('_', ' ')}{mark(n)}."
        for n in item["not_for"][:3]
    )


def _step_row(step: dict[str, Any]) -> list[str]:
    need = step["need_words"]
    if step["when"] and step["need"] == "conditional":
        need = f"if needed: {step['when']}"
    if step["by"]:
        done = f"{step['by']} ({step['grade']}){mark(step)}"
    elif step["beside"]:
        done = f"kept alongside: {' or '.join(step['beside'])}"
    elif step["by_hand"]:
        done = f"by hand: {step['by_hand']}"
    else:
        done = "nothing"
    backed = step["backed_by"][:3]
    if step["by"] and step["by_hand"] and len(backed) < 2:
        backed.append(f"by hand: {step['by_hand']}")
    if not backed and step["makeshifts"]:
        backed.append(f"a makeshift only: {step['makeshifts'][0]}")
    return [step["name"], need, done, "; ".join(backed) or "nothing"]


def _open_points(data: dict[str, Any]) -> list[Block]:
    out = []
    if data["findings"]:
        rows = [[f["words"], f["text"], f["fix"]] for f in data["findings"]]
        out += [
            Block("heading", "What the check found"),
            Block("table", [["Weight", "Finding", "Mend"], *rows], (3, 10, 7)),
        ]
    if data["single_points"]:
        out += [
            Block("heading", "Pieces without a reserve"),
            Block("text", "If one of these is dropped or spoilt, the steps beside it stop."),
            Block(
                "table",
                [
                    ["Piece", "Steps that stop", "Saved by"],
                    *(
                        [
                            p["piece"] + (" (easily dropped)" if p["drop_prone"] else ""),
                            "; ".join(p["steps"]),
                            "; ".join(p["saved_by"][:3]) or "nothing known",
                        ]
                        for p in data["single_points"]
                    ),
                ],
                (5, 8, 7),
            ),
        ]
    return out


def _left_out(data: dict[str, Any]) -> list[Block]:
    out = []
    unserving = [i["line"] for i in data["items"] if i["understood"] and not i["serves"]]
    if data["left_out"]:
        rows = [
            [
                x["name"],
                x["because"] + (" It is on this tray." if x["here"] else ""),
                x["procedure"],
            ]
            for x in data["left_out"]
        ]
        out += [
            Block("heading", "Left out, and why"),
            Block("table", [["Item", "Why it is not wanted", "In"], *rows], (5, 9, 5)),
        ]
    if unserving:
        out += [
            Block("heading", "On the tray without a step"),
            Block(
                "text",
                "No step of the way reckoned with is served by: "
                f"{'; '.join(unserving)}. Each lengthens the count.",
            ),
        ]
    if data["must_not"]:
        rows = [
            [
                m["step_name"],
                m["name"] + mark(m),
                m["because"] or (m["hazard"] or "it harms").replace("_", " "),
            ]
            for m in data["must_not"]
        ]
        out += [
            Block("heading", "Never in place of the right piece"),
            Block("table", [["Step", "Not this", "Because"], *rows], (6, 5, 8)),
        ]
    return out


def _sources(data: dict[str, Any]) -> list[Block]:
    total = sum(data["known"].values())
    parts = [
        f"{count} {_KNOWN.get(how, how)}"
        for how, count in sorted(data["known"].items(), key=lambda pair: (-pair[1], pair[0]))
    ]
    out = [
        Block("heading", "Sources"),
        Block(
            "text",
            f"Of {total} statements on what these items do here: {'; '.join(parts)}. "
            "A number in brackets names the source; without one there is none.",
        ),
    ]
    if data["sources"]:
        out.append(
            Block(
                "list",
                [
                    f"[{s['number']}] {s['title']}"
                    + (f", {s['year']}" if s["year"] else "")
                    + (f". {s['address']}" if s["address"] else "")
                    for s in data["sources"]
                ],
            )
        )
    return out
