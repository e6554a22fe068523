"""What every request passes: a limit on its size, safe headers on its answer, HEAD as GET."""

from __future__ import annotations

import json
from contextlib import suppress

from starlette.types import ASGIApp, Message, Receive, Scope, Send

MAX_BODY = 2 * 1024 * 1024
"""Largest request body in bytes: a workbook of a few thousand lines is well below it."""

HEADERS: tuple[tuple[str, str], ...] = (
    (
        "content-security-policy",
        "default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; "
        "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "no-referrer"),
    ("x-frame-options", "DENY"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", "camera=(), geolocation=(), microphone=()"),
)
"""Sent with every answer.  No host but this one may be reached from a page."""


class _TooLarge(Exception):
    """Raised into the application while it reads a body that has grown too large."""


class Guard:
    """ASGI middleware around the whole application."""

    def __init__(self, app: ASGIApp, max_body: int = MAX_BODY) -> None:
        self.app, self.max_body = app, max_body

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        head = scope["method"] == "HEAD"
        if head:
            scope = {**scope, "method": "GET"}
        size = 0
        refused = False

        async def guarded_send(message: Message) -> None:
            if size > self.max_body and not refused:
                return  # whatever the application makes of its broken body, 413 is the answer
            if message["type"] == "http.response.start":
                present = {k.lower() for k, _ in message["headers"]}
                message["headers"] = [
                    *message["headers"],
                    *((k.encode(), v.encode()) for k, v in HEADERS if k.encode() not in present),
                ]
            elif head and message["type"] == "http.response.body":
                message = {**message, "body": b""}
            await send(message)

        async def counted() -> Message:
            nonlocal size
            message = await receive()
            size += len(message.get("body", b""))
            if size > self.max_body:
                raise _TooLarge
            return message

        declared = dict(scope["headers"]).get(b"content-length", b"0")
        if declared.isdigit() and int(declared) > self.max_body:
            await self._refuse(scope, guarded_send)
            return
        with suppress(_TooLarge):
            await self.app(scope, counted, guarded_send)
        if size > self.max_body:
            refused = True
            await self._refuse(scope, guarded_send)

    async def _refuse(self, scope: Scope, send: Send) -> None:
        from etui.web.problems import KINDS, MEDIA_TYPE

        code, title = KINDS[413]
        body = json.dumps(
            {
                "type": f"/problems#{code}",
                "title": title,
                "status": 413,
                "detail": f"At most {self.max_body // 1024} KiB are taken; send a shorter list.",
                "instance": scope["path"],
                "nearest": [],
                "errors": [],
            }
        ).encode()
        await send(
            {
                "type": "http.response.start",
                "status": 413,
                "headers": [
                    (b"content-type", MEDIA_TYPE.encode()),
                    (b"content-length", str(len(body)).encode()),
                    (b"connection", b"close"),
                ],
            }
        )
        await send({"type": "http.response.body", "body": body})
