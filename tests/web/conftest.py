"""One application for all tests of the server."""

from __future__ import annotations

import warnings
from collections.abc import Iterator

import pytest

from etui.web import create_app
from etui.web.desk import Desk

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from fastapi.testclient import TestClient


@pytest.fixture(scope="session")
def desk() -> Desk:
    desk = Desk()
    desk.warm()
    return desk


@pytest.fixture(scope="session")
def client(desk: Desk) -> Iterator[TestClient]:
    # Errors must come back as answers, not as exceptions in the test.
    with TestClient(create_app(desk), raise_server_exceptions=False) as client:
        yield client
