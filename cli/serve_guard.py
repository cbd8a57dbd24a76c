"""Keeps other pages of the browser, other machines and oversized requests away from the served page.

What is guarded against: a foreign page posting here (token in a header that only our own page knows, Origin,
Sec-Fetch-Site), a foreign host name that resolves to this machine (Host), framing and loading from elsewhere
(headers of every answer), bodies larger or slower than a drawing needs.
"""

import asyncio
import json
from secrets import compare_digest
from typing import Any, ClassVar

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from uvicorn.protocols.http.h11_impl import H11Protocol

# base64 makes 4 characters of 3 bytes, hence more than the two limits together
MAX_BODY = 40_000_000  # bytes: a drawing and a sheet at their limits, as base64 within JSON
BODY_SECONDS = 30.0
TOKEN_HEADER = "x-droptrail-token"
HEADERS = {
    # nothing may load but our own scripts and styles, whatever ends up in the page
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; connect-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'",
    # a drawing must not stay behind in the browser's cache
    "cache-control": "no-store",
    # no answer may be taken for a script by its content
    "x-content-type-options": "nosniff",
    # for browsers that do not know frame-ancestors
    "x-frame-options": "DENY",
    # the address is nobody's business when a link is followed
    "referrer-policy": "no-referrer",
    # a page that opened ours gets no hold on it
    "cross-origin-opener-policy": "same-origin",
    # no other site may load what we answer, not even as a picture
    "cross-origin-resource-policy": "same-origin",
}


# Connections that have not yet said what they want. A browser opens a few in advance; a program that opens many and
# says nothing must not keep the others out: the oldest goes.
SILENT = 16
SILENT_SECONDS = 10.0


class Impatient(H11Protocol):
    """A connection of the server that is closed when its request does not come."""

    silent: ClassVar[list["Impatient"]] = []  # oldest first

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        # appended at the end, so the first in the list is the one that has waited longest
        self.silent.append(self)
        self._deadline = self.loop.call_later(SILENT_SECONDS, self._give_up)
        if len(self.silent) > SILENT:
            self.silent[0]._give_up()

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        # half a header is still silence: a sender may drip one letter a minute
        if self.cycle is not None:  # the headers are complete
            self._spoken()

    def connection_lost(self, exc: Exception | None) -> None:
        # before the parent closes: the list must not hold a dead connection
        self._spoken()
        super().connection_lost(exc)

    def _spoken(self) -> None:
        self._deadline.cancel()
        # called twice when a connection gives up and is then lost
        if self in self.silent:
            self.silent.remove(self)

    def _give_up(self) -> None:
        self._spoken()
        self.transport.close()


class Refused(Exception):
    """A request that is not answered: HTTP status and one line."""

    def __init__(self, status: int, message: str) -> None:
        super().__init__(message)
        self.status = status


class Guard:
    """Wraps an application: refuses what does not come from its own page, bounds bodies, adds headers."""

    def __init__(self, app: ASGIApp, port: int, token: str) -> None:
        self.app = app
        self.token = token
        # both names a browser may use for this machine; with the port, as Host has it
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        # no sockets and no start-up messages: less to guard
        if scope["type"] != "http":
            return
        answered = _with_headers(send)
        try:
            # before the body is taken in: what is refused sends nothing into memory
            self._admit(scope)
            # bounded in time as well: a slow body holds a place
            body = await asyncio.wait_for(_body(receive), BODY_SECONDS)
        except Refused as refusal:
            return await _answer(answered, refusal.status, str(refusal))
        except TimeoutError:
            return await _answer(answered, 408, "the file took too long to arrive; drop it again")
        # the body was taken from the channel and must be handed on again
        await self.app(scope, _replay(body, receive), answered)

    def _admit(self, scope: Scope) -> None:
        """Raises Refused unless the request comes from our own page or by hand."""
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        # another site's name that was made to point here (DNS rebinding) arrives with that name
        if host not in self.hosts:
            raise Refused(403, "this page answers only to 127.0.0.1 and localhost")
        # other methods are used by no page of ours
        if scope["method"] not in ("GET", "HEAD", "POST"):
            raise Refused(405, "only GET and POST are understood")
        if scope["method"] != "POST" and (_size(headers) or "transfer-encoding" in headers):
            # waiting for it would hold a place
            raise Refused(400, "nothing is expected to be sent with that")
        # by the header first: an honest sender is told before it has sent everything
        if _size(headers) > MAX_BODY:
            raise Refused(
                413,
                f"larger than the {MAX_BODY / 1e6:.0f} MB this page takes; use droptrail check on the "
                "command line",
            )
        if scope["method"] == "POST":
            self._admit_post(headers, host)

    def _admit_post(self, headers: Headers, host: str) -> None:
        # a page from elsewhere can send a form here, but cannot hide where it comes from
        # a program other than a browser sends no Origin, and needs the token all the same
        if headers.get("origin", f"http://{host}") != f"http://{host}":
            raise Refused(403, "refused: sent by another page")
        if headers.get("sec-fetch-site", "same-origin") != "same-origin":
            raise Refused(403, "refused: sent by another page")
        # in constant time, so that the token cannot be found out letter by letter
        if not compare_digest(headers.get(TOKEN_HEADER, "").encode(), self.token.encode()):
            raise Refused(
                403, "refused: the page is from an earlier start of droptrail; load it again"
            )
        # a plain form of another site cannot send this type without asking first
        if headers.get("content-type", "").partition(";")[0].strip() != "application/json":
            raise Refused(415, "refused: JSON is expected")


def _size(headers: Headers) -> int:
    text = headers.get("content-length", "0")
    if text.isdigit():
        # no number: refused as too large, since nothing is known of it
        return int(text)
    return MAX_BODY + 1


async def _body(receive: Receive) -> bytes:
    """The whole body, never more than MAX_BODY, whatever its header claimed."""
    # a list joined at the end: adding to bytes copies all of them every time
    parts = []
    size = 0
    while True:
        message = await receive()
        if message["type"] == "http.disconnect":
            raise Refused(400, "the connection broke off")
        parts.append(message.get("body", b""))
        size += len(parts[-1])
        # the header may have lied, so what really comes is counted
        if size > MAX_BODY:
            raise Refused(413, "larger than this page takes")
        if not message.get("more_body", False):
            return b"".join(parts)


def _replay(body: bytes, receive: Receive) -> Receive:
    """Hands the body that has been read to the application."""
    held: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def again() -> Message:
        # once; after that the channel itself tells when the page goes away
        if held:
            return held.pop()
        return await receive()

    return again


def _with_headers(send: Send) -> Send:
    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            # added to every answer, also to refusals and to what the application made itself
            own = [(name.encode(), value.encode()) for name, value in HEADERS.items()]
            message = {**message, "headers": [*message.get("headers", []), *own]}
        await send(message)

    return sent


async def _answer(send: Send, status: int, message: str) -> None:
    body = json.dumps({"error": message}).encode()
    headers: list[Any] = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
        # a refused body may still be under way; the next request must not begin in it
        (b"connection", b"close"),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
