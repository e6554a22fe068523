"""The reader on the lines of eight published lists, as printed."""

from __future__ import annotations

from etui.knowledge import load_reference
from etui.reading import Reader
from tests.published.reading_share import shares


def test_nearly_all_lines_of_eight_published_lists_are_read_right() -> None:
    right, silent, wrong = shares(Reader(load_reference()))
    total = len(right) + len(silent) + len(wrong)
    assert total >= 65
    assert len(right) / total >= 0.9, (silent, wrong)
    assert len(wrong) / total <= 0.03, wrong
