"""Serving the page on this machine: only here, behind a token, until Ctrl+C."""

import secrets
import socket
from collections.abc import Callable

from evidence.errors import BadInput
from evidence.web.application import make_application
from evidence.web.security import make_door
from evidence.web.site import Site
from evidence.web.warming import warm_up
from evidence.workflows.opening import Catalogue

HOME = "127.0.0.1"
PORT = 7433  # no registered service; a fixed port, so that bookmarks and what a browser keeps stay valid


def serve(
    catalogue: Catalogue,
    who: str,
    port: int,
    tell: Callable[[str], None],
    open_browser: Callable[[str], object] | None,
) -> None:
    """Serve until interrupted. Raises `BadInput` where the port is taken."""
    import uvicorn

    listening = listen(port)
    port = listening.getsockname()[1]
    token = secrets.token_urlsafe(24)
    site = Site(catalogue, who)
    app = make_application(site, make_door(port, token))
    place = f"http://{HOME}:{port}/?token={token}"
    tell(f"Steelyard is open at {place}\nIt answers only on this machine. Stop it with Ctrl+C.")
    warm_up()
    if open_browser is not None:
        open_browser(place)
    config = uvicorn.Config(app, log_level="warning", access_log=False, server_header=False, lifespan="off")
    try:
        uvicorn.Server(config).run(sockets=[listening])
    finally:
        site.works.close()


def listen(port: int) -> socket.socket:
    """A socket that listens at `port` of this machine, at any free one for 0. Raises `BadInput` where it cannot."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((HOME, port))
        listening.listen()  # whoever comes before the page is ready waits in line, instead of being turned away
    except (OSError, OverflowError) as fault:
        listening.close()
        raise BadInput(
            f"Port {port} cannot be used ({getattr(fault, 'strerror', None) or fault}).",
            hint="Perhaps Steelyard is open already. Choose another with --port, or --port 0 for any free one.",
        ) from fault
    return listening
