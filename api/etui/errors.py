"""Errors that a user can mend.

EtuiError
 +-- BadInput       a file, line, value or request cannot be taken
 +-- UnknownTerm    a name that is not in the graph; carries the nearest names
 +-- BadRecord      the graph itself (or a rule file) is broken
"""

from __future__ import annotations


class EtuiError(Exception):
    """Base of all errors shown to a user: one line saying what, where and how to mend.

    ``status`` is the HTTP status that the same error has over HTTP; the command line exits 2.
    """

    status = 400
    title = "The request could not be carried out"

    def __init__(self, what: str, *, where: str = "", mend: str = "") -> None:
        self.what, self.where, self.mend = what, where, mend
        super().__init__(self.line)

    @property
    def line(self) -> str:
        """The one clear line: where, what, how to mend."""
        head = f"{self.where}: " if self.where else ""
        return " ".join(f"{head}{self.what.rstrip()} {self.mend}".split())


class BadInput(EtuiError):
    """A file, line, value or request that cannot be taken."""

    status = 422
    title = "The input could not be taken"


class UnknownTerm(EtuiError):
    """A name that the graph does not have.

    ``nearest``: (id, name) of the nearest ones, best first; ``mend`` is said when there is none.
    """

    status = 404
    title = "Not in the reference"

    def __init__(
        self, what: str, *, nearest: tuple[tuple[str, str], ...] = (), where: str = "",
        mend: str = "",
    ) -> None:
        self.nearest = nearest
        names = ", ".join(f"{name} ({id_})" for id_, name in nearest)
        super().__init__(what, where=where, mend=f"Did you mean: {names}?" if names else mend)


class BadRecord(EtuiError):
    """A file of the graph, of shapes or of local rules that is broken."""

    status = 500
    title = "A knowledge file is broken"
