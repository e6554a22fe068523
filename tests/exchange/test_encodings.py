"""Encodings are told from the bytes."""

from __future__ import annotations

import pytest

from etui.exchange import open_tray

TEXT = "Mayo scissors 6½ in – “curved”\nPéan é\nKelly\n"


@pytest.mark.parametrize("encoding", [
    "utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encodings(encoding: str) -> None:
    tray, _ = open_tray(TEXT.encode(encoding), name="a.txt")
    assert [x.text for x in tray.contents] == TEXT.split("\n")[:3]


def test_mac_and_dos() -> None:
    for encoding in ("mac_roman", "cp850"):
        tray, taken = open_tray("Péan curved\nKelly é\n".encode(encoding), name="a.txt")
        assert tray.contents[0].text == "Péan curved"
        assert taken.encoding == encoding


def test_mixed_encodings_are_read_and_told() -> None:
    data = "Péan\n".encode() + "Péan 6½\n".encode("cp1252") + b"Kelly\n"
    tray, taken = open_tray(data, name="a.txt")
    assert [x.text for x in tray.contents] == ["Péan", "Péan 6½", "Kelly"]
    assert any("mixes encodings" in note and "line 2" in note for note in taken.how())


def test_old_line_ends() -> None:
    tray, _ = open_tray(b"Kelly\rMayo\rAdson", name="a.txt")
    assert [(x.place.row, x.text) for x in tray.contents] == [(1, "Kelly"), (2, "Mayo"),
                                                              (3, "Adson")]
