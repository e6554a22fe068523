"""What a file is, judged by its bytes: kind, encoding, and whether it can be taken at all.

Nothing here trusts a file name further than to choose between two readings of the same text.
Text is handed on line by line, so that a list of any length is read in bounded memory.
"""

from __future__ import annotations

import codecs
import io
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, Literal

from etui.errors import BadInput

FileKind = Literal["text", "workbook", "json", "turtle"]
Given = str | os.PathLike[str] | bytes

MAX_LINE = 4_000
"""Characters; the longest line of a real count sheet is a few hundred."""
MAX_BYTES = 256 * 1024 * 1024
_HEAD = 64 * 1024

_FOREIGN = (
    (b"%PDF", "a PDF", "Copy its text into a .txt file, or export the list as CSV or XLSX."),
    (b"{\\rtf", "an RTF document", "Save it as plain text (.txt)."),
    (b"\x89PNG", "a picture", "Type or paste the list as text."),
    (b"\xff\xd8\xff", "a picture", "Type or paste the list as text."),
    (b"GIF8", "a picture", "Type or paste the list as text."),
    (b"\x1f\x8b", "a gzip archive", "Unpack it first."),
    (b"7z\xbc\xaf", "a 7z archive", "Unpack it first."),
    (b"Rar!", "a RAR archive", "Unpack it first."),
    (b"SQLite format 3", "a database", "Export the list as CSV."),
    (b"\x7fELF", "a program", "Give a list instead."),
    (b"MZ", "a program", "Give a list instead."),
)
_WORKBOOK_MAGIC = (b"PK\x03\x04", b"PK\x05\x06", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")
_ADVICE = "Give a CSV, TSV, XLSX, ODS, TXT, JSON or Turtle file."


class Source:
    """One input: its name as shown to people, and its bytes, read when asked for."""

    def __init__(self, given: Given, *, name: str | None = None) -> None:
        self._bytes: bytes | None = None
        self._path: Path | None = None
        if isinstance(given, bytes):
            self._bytes, self.name = given, name or "pasted text"
        else:
            self._path = Path(given)
            self.name = name or str(given)
        self.suffix = Path(self.name).suffix.lower()
        self._check_readable()

    def _check_readable(self) -> None:
        if self._path is None:
            return
        if not self._path.exists():
            raise BadInput("there is no such file.", where=self.name, mend="Check the path.")
        if self._path.is_dir():
            raise BadInput("is a folder, not a file.", where=self.name, mend="Name a file in it.")
        with self.open() as stream:
            size = stream.seek(0, io.SEEK_END) if stream.seekable() else 0
        if size > MAX_BYTES:
            raise BadInput(
                f"the file has {size // 1_000_000} MB; {MAX_BYTES // 1_000_000} MB are taken.",
                where=self.name, mend="Split it.",
            )

    @contextmanager
    def open(self) -> Iterator[BinaryIO]:
        """The bytes as a stream; an unreadable file becomes one clear line."""
        if self._path is None:
            yield io.BytesIO(self._bytes or b"")
            return
        try:
            with self._path.open("rb") as stream:
                yield stream
        except OSError as error:
            reason = error.strerror or type(error).__name__
            raise BadInput(
                f"cannot be read ({reason}).", where=self.name, mend="Check the file's rights."
            ) from error

    def size(self) -> int:
        """Bytes in the source, for progress."""
        return len(self._bytes or b"") if self._path is None else self._path.stat().st_size

    def head(self) -> bytes:
        with self.open() as stream:
            return stream.read(_HEAD)

    def all_bytes(self) -> bytes:
        with self.open() as stream:
            return stream.read()

    def kind(self) -> FileKind:
        """Judge what the bytes are.

        Raises:
            BadInput: For an empty file and for anything that is no list.
        """
        head = self.head()
        if not head.strip(b"\x00\t\r\n \xef\xbb\xbf"):
            raise BadInput("the file is empty.", where=self.name, mend="Give a list of items.")
        if head.startswith(_WORKBOOK_MAGIC):
            return "workbook"
        for magic, what, mend in _FOREIGN:
            if head.startswith(magic):
                raise BadInput(f"this is {what}, not a list.", where=self.name, mend=mend)
        encoding = _encoding_by_mark(head)
        if encoding is None and b"\x00" in head:
            raise BadInput("this is a binary file, not a list.", where=self.name, mend=_ADVICE)
        start = head.decode(encoding or "utf-8", "replace").lstrip("\ufeff \t\r\n")
        if _share_of_controls(start) > 0.02:
            raise BadInput("this is a binary file, not a list.", where=self.name, mend=_ADVICE)
        lowered = start[:200].lower()
        if lowered.startswith(("<!doctype html", "<html")):
            raise BadInput(
                "this is a web page, not a list.", where=self.name, mend="Copy the list as text."
            )
        if self.suffix == ".ttl" or lowered.startswith(("@prefix", "@base", "prefix ", "base <")):
            return "turtle"
        if self.suffix == ".json" or start.startswith("{"):
            return "json"
        return "text"


def _share_of_controls(text: str) -> float:
    if not text:
        return 0.0
    sample = text[:8_192]
    odd = sum(1 for c in sample if (c < " " and c not in "\t\r\n\f\x0b") or c == "\x7f")
    return odd / len(sample) if odd > 8 else 0.0


def _encoding_by_mark(head: bytes) -> str | None:
    """UTF-8 or UTF-16 told by a byte-order mark or, for UTF-16, by where the zero bytes lie."""
    if head.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    sample = head[:2_000]
    if len(sample) >= 4 and b"\x00" in sample:
        even, odd = sample[0::2].count(0), sample[1::2].count(0)
        half = len(sample) / 2
        if odd > 0.6 * half and even < 0.05 * half:
            return "utf-16-le"
        if even > 0.6 * half and odd < 0.05 * half:
            return "utf-16-be"
    return None


_TYPED = frozenset(
    "½¼¾⅛⅜⅝⅞×–—’‘“”″′°µ®™•…·±£€«»\u00a0éèêëáàâäãåæçíìîïñóòôöõøœúùûüýßÉÈÊÁÀÂÄÅÆÇÍÑÓÖØÚÜ"
)


def _plausible(text: str) -> bool:
    """Are the non-ASCII signs what people type in a list (fractions, accents, dashes)?

    A capital with an accent inside a word of small letters is a sign of the wrong encoding.
    """
    for before, sign, after in zip(" " + text, text, text[1:] + " ", strict=False):
        if sign.isascii():
            continue
        if sign not in _TYPED or (sign.isupper() and before.isalpha() and after.islower()):
            return False
    return True


def _mixed(line: bytes, encoding: str) -> str:
    """Decode as UTF-8, and what is not UTF-8 by *encoding*: lists are pasted together."""
    out: list[str] = []
    rest = line
    while rest:
        try:
            out.append(rest.decode("utf-8"))
            break
        except UnicodeDecodeError as error:
            out.append(rest[:error.start].decode("utf-8"))
            out.append(rest[error.start:error.end].decode(encoding, "replace"))
            rest = rest[error.end:]
    return "".join(out)


_SINGLE_BYTE = ("cp1252", "mac_roman", "cp850")


def _eight_bit(sample: bytes) -> str:
    """The likeliest 8-bit encoding of text that is not all UTF-8."""
    for encoding in _SINGLE_BYTE:
        if _plausible(_mixed(sample, encoding)):
            return encoding
    from charset_normalizer import from_bytes

    best = from_bytes(sample).best()
    if best is None or "cp1252" in best.could_be_from_charset:
        return "cp1252"
    return best.encoding


class TextLines:
    """The lines of a text source, decoded and cleaned, with notes on what was done to them.

    Iterating gives (line number, text) with line ends removed.  Control characters and signs
    that turn the direction of writing are replaced by a space: they can hide what a line says.
    """

    def __init__(self, source: Source) -> None:
        self.source = source
        self.encoding = "utf-8"
        self.bytes_read = 0
        self._stray: list[int] = []
        self._cleaned: list[int] = []

    def __iter__(self) -> Iterator[tuple[int, str]]:
        head = self.source.head()
        mark = _encoding_by_mark(head)
        self._stray, self._cleaned, self.bytes_read = [], [], 0
        lines = self._wide(mark) if mark and mark.startswith("utf-16") else self._narrow(head)
        for number, text in lines:
            if len(text) > MAX_LINE:
                raise BadInput(
                    f"this line is longer than {MAX_LINE:,} characters.",
                    where=f"{self.source.name}:{number}",
                    mend="A line names one item: check that the file is a list.",
                )
            clean = _clean(text)
            if clean is not text:
                self._cleaned.append(number)
            yield number, clean

    def _wide(self, encoding: str) -> Iterator[tuple[int, str]]:
        self.encoding = encoding
        with self.source.open() as raw:
            text = io.TextIOWrapper(raw, encoding=encoding, errors="strict", newline=None)
            number = 0
            try:
                while line := text.readline(MAX_LINE + 2):
                    number += 1
                    self.bytes_read += 2 * len(line)
                    yield number, line.rstrip("\n").lstrip("\ufeff")
            except UnicodeError as error:
                raise BadInput(
                    "the file is broken: it begins as UTF-16 and does not go on so.",
                    where=f"{self.source.name}:{number + 1}", mend="Save it again as UTF-8.",
                ) from error
            finally:
                text.detach()

    def _narrow(self, head: bytes) -> Iterator[tuple[int, str]]:
        fallback: str | None = None
        utf8_seen = 0
        with self.source.open() as raw:
            number = 0
            while line := raw.readline(4 * MAX_LINE):
                self.bytes_read += len(line)
                if b"\x00" in line:
                    raise BadInput(
                        "a zero byte stands in this line; the file is not plain text.",
                        where=f"{self.source.name}:{number + 1}", mend=_ADVICE,
                    )
                if number == 0 and line.startswith(codecs.BOM_UTF8):
                    line = line[3:]
                try:
                    text = line.decode("utf-8")
                    utf8_seen += not text.isascii()
                except UnicodeDecodeError:
                    if fallback is None:
                        fallback = _eight_bit(_not_utf8(head) or line)
                    text = (_mixed(line, fallback) if fallback in _SINGLE_BYTE
                            else line.decode(fallback, "replace"))
                    utf8_seen += fallback in _SINGLE_BYTE and text != line.decode(
                        fallback, "replace")
                    self._stray.append(number + 1)
                # A lone carriage return is the line end of old Macintosh files.
                pieces = text.rstrip("\r\n").split("\r")
                for piece in pieces:
                    number += 1
                    yield number, piece
        if fallback is not None:
            self.encoding = f"utf-8 and {fallback}" if utf8_seen else fallback

    def notes(self) -> tuple[str, ...]:
        """What was done to the text, one sentence each; complete after iterating."""
        notes = []
        if " and " in self.encoding:
            notes.append(
                f"the file mixes encodings ({self.encoding}): look at "
                f"{_lines(self._stray)} for wrong signs"
            )
        if self._cleaned:
            notes.append(
                f"control signs were taken out of {_lines(self._cleaned)}"
            )
        return tuple(notes)


def _lines(numbers: list[int]) -> str:
    shown = ", ".join(str(n) for n in numbers[:5])
    more = f" and {len(numbers) - 5} more" if len(numbers) > 5 else ""
    return f"line{'s' if len(numbers) > 1 else ''} {shown}{more}"


def _not_utf8(head: bytes) -> bytes:
    """The lines of *head* that are not UTF-8, as a sample for telling their encoding."""
    bad = []
    for line in head.splitlines()[:-1]:
        try:
            line.decode("utf-8")
        except UnicodeDecodeError:
            bad.append(line)
    return b"\n".join(bad)


_INVISIBLE = re.compile("[\ufeff\u200b\u00ad]")
_HARMFUL = re.compile(
    "[\x00-\x08\x0a-\x1f\x7f-\x9f\u200e\u200f\u061c\u2028\u2029\u202a-\u202e\u2066-\u2069]"
)


def _clean(text: str) -> str:
    """*text* itself when there is nothing to clean, else a cleaned copy."""
    if text.isascii() and text.isprintable():
        return text
    if not (_HARMFUL.search(text) or _INVISIBLE.search(text)):
        return text
    return _HARMFUL.sub(" ", _INVISIBLE.sub("", text))


def clean_text(text: str) -> str:
    """*text* without control and direction-turning signs, as used for cells of workbooks."""
    return _clean(text.replace("\r\n", " ").replace("\n", " ").replace("\r", " "))
