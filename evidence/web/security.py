"""What a request must bring before any page sees it, and what every answer carries.

A local page is still reachable by every other page in the same browser. So: the host must be one we listen on (no
rebinding of names), the visitor must hold the token that `steelyard serve` printed, and a change must come from a
page of ours (Fetch Metadata, W3C; Origin, RFC 6454). Nothing is loaded from elsewhere (Content Security Policy 3).
"""

import hmac
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qsl, urlencode

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SAFE_METHODS = frozenset({"GET", "HEAD"})
LARGEST_BODY = 60_000_000  # bytes: a reference file of a large search, a workbook of a thesis
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


@dataclass(frozen=True, slots=True)
class Door:
    """Who may come in: the addresses we answer to, and the token of this run."""

    hosts: frozenset[str]  # as a browser writes them: "127.0.0.1:7433"
    token: str
    cookie: str  # cookies are shared by all ports of a machine, so its name holds ours
    largest_body: int = LARGEST_BODY


def make_door(port: int, token: str, *, largest_body: int = LARGEST_BODY) -> Door:
    """The door of a page served on this machine at `port`."""
    hosts = frozenset(f"{name}:{port}" for name in ("127.0.0.1", "localhost", "[::1]"))
    return Door(hosts, token, f"steelyard-{port}", largest_body)


class TooLarge(Exception):
    """The body of a request is larger than the limit, in bytes, and was not read to its end."""

    def __init__(self, limit: int) -> None:
        super().__init__(f"more than {limit} bytes")
        self.limit = limit


class Guard:
    """Stands before the application: refuses what should not reach it, and marks what leaves it."""

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self.app = app
        self.door = door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let an allowed request through."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return  # nothing else is spoken here
        sending = marked(send, private=not str(scope["path"]).startswith("/static/"))
        refusal = refuse(scope, self.door)
        if refusal is not None:
            await refusal(scope, receive, sending)
            return
        await self.app(scope, limited(receive, self.door.largest_body), sending)


def refuse(scope: Scope, door: Door) -> Response | None:
    """Why this request goes no further; None: it may."""
    headers = Headers(scope=scope)
    host = headers.get("host", "")
    if host not in door.hosts:
        return PlainTextResponse("This page answers only on this machine's own address.\n", status_code=421)
    if scope["method"] not in SAFE_METHODS and not comes_from_us(headers, host):
        return PlainTextResponse("A change must come from a page of Steelyard itself.\n", status_code=403)
    length = headers.get("content-length", "0")
    if not length.isdecimal() or int(length) > door.largest_body:
        return too_large(door.largest_body)
    if holds_token(headers, door):
        return None
    return admit(scope, door) or PlainTextResponse(
        "Open the address that `steelyard serve` printed: it holds the key to this page.\n", status_code=403
    )


def comes_from_us(headers: Headers, host: str) -> bool:
    """Whether a change was sent by a page of this very address."""
    site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    if site is not None and site != "same-origin":
        return False
    if origin is not None:
        return origin == f"http://{host}"
    return site == "same-origin"


def holds_token(headers: Headers, door: Door) -> bool:
    """Whether the visitor was let in before."""
    try:
        cookie = SimpleCookie(headers.get("cookie", "")).get(door.cookie)
    except CookieError:
        return False
    return cookie is not None and hmac.compare_digest(cookie.value.encode(), door.token.encode())


def admit(scope: Scope, door: Door) -> Response | None:
    """Trade the token in the address for a cookie, and leave the token out of the address from then on."""
    asked = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
    token = dict(asked).get("token", "")
    if scope["method"] not in SAFE_METHODS or not hmac.compare_digest(token.encode(), door.token.encode()):
        return None
    rest = urlencode([(name, value) for name, value in asked if name != "token"])
    path = "/" + scope["path"].lstrip("/")  # never //host: that would lead elsewhere
    response = RedirectResponse(f"{path}?{rest}" if rest else path, status_code=303)
    response.set_cookie(door.cookie, door.token, httponly=True, samesite="strict", path="/")
    return response


def too_large(limit: int) -> Response:
    """What is said of a body beyond the limit, in bytes."""
    return PlainTextResponse(
        f"That is more than {limit / 1e6:.0f} MB. Bring larger files in with the command `steelyard refs add`.\n",
        status_code=413,
    )


def limited(receive: Receive, largest: int) -> Receive:
    """The body as it comes in, counted: what a request says of its own length need not be true."""
    received = 0

    async def counted() -> Message:
        nonlocal received
        message = await receive()
        received += len(message.get("body", b""))
        if received > largest:
            raise TooLarge(largest)
        return message

    return counted


def marked(send: Send, *, private: bool) -> Send:
    """Answers with the headers that every one of them carries; pages are not kept by the browser's cache."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
            headers["Cache-Control"] = "no-store" if private else "max-age=3600"
        await send(message)

    return sending
