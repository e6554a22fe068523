"""Reading what people write: lines of count sheets, requisitions and notes to patterns."""

from etui.reading.contract import read_json
from etui.reading.model import Alternative, Attributes, Item, Kind, Reading
from etui.reading.procedures import match_procedure
from etui.reading.reader import Reader
from etui.reading.writer import Namer, Style

__all__ = [
    "Alternative",
    "Attributes",
    "Item",
    "Kind",
    "Namer",
    "Reader",
    "Reading",
    "Style",
    "match_procedure",
    "read_json",
]
