"""From what a list or a user calls an operation to ids of the graph."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence

from etui.errors import UnknownTerm

Match = Callable[[str], tuple[str | None, Sequence[tuple[str, str, float]]]]
"""Text -> (id or None, nearest as (id, name, score), best first)."""


def resolve_procedures(texts: Iterable[str], match: Match, *, where: str = "") -> tuple[str, ...]:
    """Ids of the procedures named, in the order named, each once.

    A text is first taken whole, since names hold commas and "and"; then in parts.

    Raises:
        UnknownTerm: With the nearest names.
    """
    found: list[str] = []
    for text in texts:
        whole, nearest = match(text)
        if whole:
            found.append(whole)
            continue
        parts = [p.strip() for p in re.split(r",|;|/|\+|&|\band\b|\bor\b", text) if p.strip()]
        for part in parts if len(parts) > 1 else [text]:
            id_, near = match(part) if part != text else (whole, nearest)
            if id_ is None:
                raise UnknownTerm(
                    f'no procedure is called "{part}".', where=where,
                    nearest=tuple((i, name) for i, name, _ in (near or nearest)[:3]),
                    mend='"etui list procedures" names all that the reference has.',
                )
            found.append(id_)
    return tuple(dict.fromkeys(found))
