"""Words that pages use for grades, needs, findings and how a statement is known."""

from __future__ import annotations

from typing import Any

LIMITS = (
    "A reference for planning and teaching. Local protocol, manufacturers’ instructions, "
    "sterile-processing rules and licensed judgement prevail. “Improvised” is not permission; "
    "what is unknown stays unknown."
)

GRADE_WORDS: dict[str, tuple[str, str]] = {
    "preferred": ("Preferred", "first line for this step"),
    "acceptable": ("Acceptable", "works safely, with a shortfall"),
    "improvised": ("Improvised", "only when nothing better is at hand; not permission"),
    "unsafe": ("Do not use", "it harms, or fails dangerously"),
    "unable": ("Cannot do it", "cannot perform the action"),
    "open": ("Not settled", "a fact is missing"),
}
"""Grade -> (word on the page, what it means)."""

NEED_WORDS = {
    "essential": "essential",
    "conditional": "if needed",
    "optional": "optional",
    "closing": "closing",
}

FINDING_GROUPS: tuple[tuple[str, str, str], ...] = (
    ("danger", "Dangerous", "Take out, mend or keep apart before the tray is used."),
    ("missing", "Missing", "The procedure cannot be done, or not wholly, without these."),
    (
        "add",
        "Add or set right",
        "The tray works; these make it safe against a lost piece or a slip.",
    ),
    ("lines", "Lines not understood", "Asked about, never guessed. Say what is meant."),
    ("remark", "Remarks", "To know."),
)
"""Groups in which findings are shown: key, heading, what to do."""

KNOWN_WORDS = {
    "read": "source read",
    "memory": "recalled, source not opened",
    "practice": "common practice, no source",
    "derived": "worked out by rules",
}


def plain(value: Any) -> str:
    """A word of the vocabulary as people write it."""
    return str(value).replace("_", " ")


def first_up(text: str) -> str:
    """A name with a capital first letter, the rest as written."""
    return text[:1].upper() + text[1:]


def known(value: str | None) -> str:
    """How a statement is known, in words."""
    return KNOWN_WORDS.get(value or "", value or "not stated")


def size(low_high: Any, unit: str = "mm") -> str:
    """A range of a size in words."""
    if not low_high:
        return ""
    low, high = low_high
    return f"{low:g} {unit}" if low == high else f"{low:g} to {high:g} {unit}"


def group_of(kind: str, severity: str) -> str:
    """The group in which a finding is shown."""
    if kind in ("unsafe_item", "look_alike"):
        return "remark" if severity == "info" else "danger"
    if kind == "assembly_fault":
        return "danger" if severity == "violation" else "add"
    if kind == "unresolved_line":
        return "lines"
    if kind == "missing_step":
        return "missing" if severity == "violation" else "add"
    if severity == "violation":
        return "danger"
    if severity == "info":
        return "remark"
    return "add"
