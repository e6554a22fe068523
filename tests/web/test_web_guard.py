"""Safe headers on everything, and a server that only reads."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

import etui.web
from etui.web.guard import HEADERS

EVERYTHING = ["/", "/api", "/api/instruments/none", "/static/etui.css",
              "/drawings/haemostat-crile.svg",
              "/problems", "/nothing", "/api/openapi.json"]  # fmt: skip


@pytest.mark.parametrize("address", EVERYTHING)
def test_safe_headers_on_every_answer(client: TestClient, address: str) -> None:
    answer = client.get(address)
    for name, _ in HEADERS:
        assert name in answer.headers, name
    policy = answer.headers["content-security-policy"]
    assert "http" not in policy and "*" not in policy
    assert "default-src 'none'" in policy
    assert not re.search(r"script-src[^;]*unsafe", policy)


def test_nothing_in_the_pages_names_another_host() -> None:
    folder = Path(etui.web.__file__).parent
    for file in [*folder.glob("templates/*"), *folder.glob("static/*")]:
        found = re.findall(r"https?://[^\s\"')]+", file.read_text())
        assert [f for f in found if not f.startswith("http://www.w3.org/")] == [], file.name


def test_no_cookie_is_set(client: TestClient) -> None:
    for address in EVERYTHING:
        assert "set-cookie" not in client.get(address).headers
