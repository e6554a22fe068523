"""From the statements of the graph to the one :class:`~etui.knowledge.model.Reference`."""

from __future__ import annotations

from etui.knowledge import model as m
from etui.knowledge.fields import label, names
from etui.knowledge.instrument_records import InstrumentRecords
from etui.knowledge.procedure_records import ProcedureRecords
from etui.knowledge.store import RDF_TYPE, Index, short
from etui.knowledge.vocabulary_records import VocabularyRecords


class Assembler(InstrumentRecords, ProcedureRecords, VocabularyRecords):
    """Builds all records of one index."""


def assemble(index: Index, version: str) -> m.Reference:
    """Build the whole reference from an index.

    Raises:
        BadRecord: If a record lacks what no reader can do without (label, how known, parent).
    """
    a = Assembler(index)
    procedures, steps = a.procedures()
    manoeuvres = {
        short(v.iri): m.Manoeuvre(id=short(v.iri), name=label(v), names=names(v))
        for v in a.views("Manoeuvre")
        if v.nodes(RDF_TYPE)
    }
    return m.Reference(
        version=version,
        patterns=a.patterns(),
        units=a.units(),
        manoeuvres=manoeuvres,
        manners=a.manners(),
        procedures=procedures,
        steps=steps,
        sources=a.sources(),
        features=a.features(),
        terms=a.terms(),
        contrasts=a.contrasts(),
        class_names=a.class_names(),
        abbreviations=a.abbreviations(),
        sizes=a.sizes(),
        matches=a.matches(),
        abilities=a.abilities(),
    )
