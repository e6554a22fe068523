"""The graph: where it lies, how it is loaded, and the records that the rest of Etui works with.

The Turtle files are parsed once; the records are then kept in the user's cache folder under a
fingerprint of the files, so that a second start reads one small file instead of all of them.  A
cache that cannot be written or read is ignored: it only saves time.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from functools import lru_cache
from pathlib import Path

import msgspec

from etui.errors import BadRecord
from etui.knowledge.model import Reference

__all__ = ["is_prepared", "load_reference", "ontology_dir", "shapes_dir"]

CACHE_FORMAT = 1
"""Raised when the records change shape, so that an old cache is never misread."""


def _data_dir(name: str) -> Path:
    """Folder *name* of an installed package, else of the source tree."""
    here = Path(__file__).resolve()
    for folder in (here.parents[1] / "data" / name, here.parents[3] / name):
        if folder.is_dir():
            return folder
    raise BadRecord(
        f"The folder {name} is missing.",
        where=str(here.parents[3]),
        mend="Install the package again.",
    )


def ontology_dir() -> Path:
    """Folder of the Turtle files that hold the knowledge."""
    return _data_dir("ontology")


def shapes_dir() -> Path:
    """Folder of the SHACL shapes."""
    return _data_dir("shapes")


def _cache_file(key: str) -> Path:
    from platformdirs import user_cache_path

    return user_cache_path("etui") / f"reference-{CACHE_FORMAT}-{key}.msgpack"


def _model_key() -> str:
    """Part of the cache key that changes with the code that makes the records."""
    import hashlib

    folder = Path(__file__).parent
    seal = hashlib.blake2b(digest_size=8)
    for name in (
        "model.py", "store.py", "fields.py", "assemble.py", "instrument_records.py",
        "procedure_records.py", "vocabulary_records.py",
    ):
        seal.update((folder / name).read_bytes())
    return seal.hexdigest()


def is_prepared(ontology: Path | None = None) -> bool:
    """Whether a current cache spares the parsing, so that a start is quick."""
    from etui.knowledge.store import digest, turtle_files

    files = turtle_files(ontology or ontology_dir())
    return _cache_file(f"{digest(files)}-{_model_key()}").is_file()


@lru_cache(maxsize=4)
def load_reference(ontology: Path | None = None, *, use_cache: bool = True) -> Reference:
    """Load the reference, from the cache when it is current.

    Args:
        ontology: Folder of Turtle files; the one that comes with the package when absent.
        use_cache: Read and write the user's cache folder.

    Raises:
        BadRecord: If a file is not Turtle or a record lacks what it must state.
    """
    from etui.knowledge.store import Index, digest, turtle_files

    files = turtle_files(ontology or ontology_dir())
    key = f"{digest(files)}-{_model_key()}"
    file = _cache_file(key)
    if use_cache and file.is_file():
        with contextlib.suppress(OSError, msgspec.MsgspecError):
            return msgspec.msgpack.decode(file.read_bytes(), type=Reference)
    from etui.knowledge.assemble import assemble

    reference = assemble(Index().read(files), key)
    if use_cache:
        with contextlib.suppress(OSError):
            _write(file, msgspec.msgpack.encode(reference))
    return reference


def _write(file: Path, content: bytes) -> None:
    """Write whole or not at all, and drop caches of older versions of the graph."""
    file.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=file.parent)
    with os.fdopen(handle, "wb") as stream:
        stream.write(content)
    Path(name).replace(file)
    for old in file.parent.glob("reference-*.msgpack"):
        if old != file:
            old.unlink(missing_ok=True)
