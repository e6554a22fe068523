"""Etui: a reference of surgical and emergency instruments as a knowledge graph.

What each instrument is for, what can stand in for it, and whether a tray is complete.  For
planning and teaching: local protocol, manufacturers' instructions, sterile-processing rules and
licensed judgement prevail.

The public surface is what the sub-packages export: ``etui.knowledge`` (the graph),
``etui.exchange`` (files), ``etui.reading`` (lines of text), ``etui.judging`` (stand-ins),
``etui.trays`` (readiness), ``etui.errors``.
"""

__version__ = "0.1.0"

__all__ = ["__version__"]
