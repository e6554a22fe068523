"""A real server on loopback and a real headless Chromium."""

from __future__ import annotations

import os
import shutil
import socket
import threading
import time
from collections.abc import Iterator

import pytest
import uvicorn
from playwright.sync_api import Browser, sync_playwright

from etui.web import create_app
from etui.web.desk import Desk

NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")
SILENT = (
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync",
    "--disable-component-update", "--disable-default-apps", "--disable-extensions",
    "--disable-features=OptimizationHints,MediaRouter,Translate", "--no-first-run", "--no-pings",
)  # fmt: skip
"""Chromium must not speak to anyone but the server under test."""


def chromium() -> str | None:
    """The program named by ETUI_CHROMIUM, else the first Chromium on the path."""
    return os.environ.get("ETUI_CHROMIUM") or next(
        (found for name in NAMES if (found := shutil.which(name))), None
    )


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    program = chromium()
    if program is None:
        why = "no Chromium was found; install it or name it in ETUI_CHROMIUM"
        if os.environ.get("CI"):
            pytest.fail(why)
        print(f"browser tests are skipped: {why}")
        pytest.skip(why)
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=program, args=list(SILENT))
        yield found
        found.close()


@pytest.fixture(scope="session")
def site() -> Iterator[str]:
    desk = Desk()
    desk.warm()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = uvicorn.Server(
        uvicorn.Config(create_app(desk), host="127.0.0.1", port=port, log_level="warning")
    )
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join(timeout=10)
