"""Trays and stock as JSON: the machine contract."""

from __future__ import annotations

from typing import Any

import msgspec

from etui.errors import BadInput
from etui.exchange.quantity import check_count, read_quantity
from etui.exchange.source import MAX_LINE, Source, clean_text
from etui.trays.model import Line, Place, Stock, Tray

_TRAY = 'A tray is {"title", "procedures": [], "operator", "kept_alongside": [], "contents": ' \
    '[{"qty", "text"}]}.'
_STOCK = 'A stock is {"title", "stock": [{"name", "count"}]}.'


def load_json(source: Source) -> dict[str, Any]:
    """The JSON object in *source*.

    Raises:
        BadInput: Not JSON (with line and column) or not an object.
    """
    import json

    data = source.all_bytes()
    try:
        text = data.decode(json.detect_encoding(data))
        # msgspec says no line; the standard parser is slower and says it.
        found = json.loads(text)
    except UnicodeDecodeError as error:
        raise BadInput("the JSON is not UTF-8.", where=source.name, mend="Save it as UTF-8.") \
            from error
    except json.JSONDecodeError as error:
        raise BadInput(
            f"this is not JSON ({error.msg[:1].lower()}{error.msg[1:]}, column {error.colno}).",
            where=f"{source.name}:{error.lineno}", mend="Mend the text at that place.",
        ) from error
    except RecursionError as error:
        raise BadInput("the JSON is nested too deep.", where=source.name, mend=_TRAY) from error
    if isinstance(found, list):
        found = {"contents": found}
    if not isinstance(found, dict):
        raise BadInput("the JSON is not an object.", where=source.name, mend=_TRAY)
    return found


def tray_from(data: dict[str, Any], *, file: str | None, fallback_title: str = "") -> Tray:
    """A tray from the machine contract; every line keeps its number in the list as its row.

    Raises:
        BadInput: A key of the wrong kind or a broken quantity, naming the key.
    """
    where = file or "tray"
    if "contents" not in data:
        raise BadInput('the tray has no "contents".', where=where, mend=_TRAY)
    contents = _items(data["contents"], "contents", where, file)
    return Tray(
        title=_text(data.get("title"), "title", where) or fallback_title,
        procedures=tuple(_texts(data.get("procedures"), "procedures", where)),
        operator=_text(data.get("operator"), "operator", where) or None,
        kept_alongside=_items(data.get("kept_alongside") or [], "kept_alongside", where, file),
        contents=contents,
    )


def stock_from(data: dict[str, Any], *, file: str | None, fallback_title: str = "") -> Stock:
    """A stock from ``{"stock": [{"name", "count"}]}`` (or from "contents", as in a tray)."""
    where = file or "stock"
    key = "stock" if "stock" in data else "contents"
    if key not in data:
        raise BadInput('there is no "stock".', where=where, mend=_STOCK)
    return Stock(
        title=_text(data.get("title"), "title", where) or fallback_title,
        lines=_items(data[key], key, where, file),
    )


def _items(value: object, key: str, where: str, file: str | None) -> tuple[Line, ...]:
    if not isinstance(value, list):
        raise BadInput(f'"{key}" is not a list.', where=where, mend=_TRAY)
    lines = []
    for number, entry in enumerate(value, 1):
        at = f"{where}, {key} {number}"
        place = Place(file=file, row=number)
        if isinstance(entry, str):
            text, quantity = entry, None
        elif isinstance(entry, dict):
            found = next((entry[k] for k in ("text", "name", "item") if k in entry), None)
            text = _text(found, "text", at)
            count = next((entry[k] for k in ("qty", "count", "quantity") if k in entry), None)
            if isinstance(count, str):
                read = read_quantity(count, where=at)
                quantity, text = read.count, f"{read.words} {text}".strip()
            else:
                if isinstance(count, float) and count.is_integer():
                    count = int(count)
                quantity = check_count(count, where=at)
        else:
            raise BadInput("the entry is neither text nor an object.", where=at, mend=_TRAY)
        if len(text) > MAX_LINE:
            raise BadInput(f"the text is longer than {MAX_LINE:,} characters.", where=at,
                           mend="An entry names one item.")
        text = " ".join(clean_text(text).split())
        if not text:
            raise BadInput("the entry has no text.", where=at, mend="Name the item or delete it.")
        lines.append(Line(text=text, qty=quantity, place=place))
    return tuple(lines)


def _text(value: object, key: str, where: str) -> str:
    if value is None:
        return ""
    if not isinstance(value, str):
        raise BadInput(f'"{key}" is not text.', where=where, mend=_TRAY)
    return " ".join(clean_text(value).split())


def _texts(value: object, key: str, where: str) -> list[str]:
    if value is None:
        return []
    if isinstance(value, str):
        return [value]
    if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
        raise BadInput(f'"{key}" is not a list of texts.', where=where, mend=_TRAY)
    return [t for v in value if (t := _text(v, key, where))]


def tray_data(tray: Tray) -> dict[str, Any]:
    """A tray in the machine contract."""
    def items(lines: tuple[Line, ...]) -> list[dict[str, Any]]:
        return [{"qty": line.qty, "text": line.text} for line in lines]

    return {
        "title": tray.title,
        "procedures": list(tray.procedures),
        "operator": tray.operator,
        "kept_alongside": [line.text for line in tray.kept_alongside],
        "contents": items(tray.contents),
    }


def stock_data(stock: Stock) -> dict[str, Any]:
    """A stock in the machine contract."""
    return {
        "title": stock.title,
        "stock": [{"name": line.text, "count": line.qty} for line in stock.lines],
    }


def encode(data: object) -> bytes:
    """JSON for people and programs: two spaces, UTF-8, a line end."""
    return msgspec.json.format(msgspec.json.encode(data), indent=2) + b"\n"
