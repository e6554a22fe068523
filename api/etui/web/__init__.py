"""The server: the JSON interface and the pages, read-only, on loopback unless told otherwise."""

from __future__ import annotations

from etui.web.app import create_app

__all__ = ["create_app"]
