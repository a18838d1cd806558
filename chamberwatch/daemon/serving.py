"""The web server and its port."""

import socket
from types import FrameType
from typing import Final

import uvicorn
from starlette.types import ASGIApp

from chamberwatch.core.errors import RefusedError
from chamberwatch.web.succession import Succession

ANSWERED_WITHIN_S: Final = 3
"""So long requests under way are waited for when it stops."""
BELIEVED: Final = "127.0.0.1,::1"
"""Proxies that say for whom they ask; stated, so that nothing in the environment widens it."""


class Server(uvicorn.Server):
    """A server that lets go of open live streams when it is told to stop."""

    front: Succession | None = None

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Stop, and say so to the streams."""
        self.close()
        super().handle_exit(sig, frame)

    def close(self) -> None:
        """Stop as soon as the requests under way are answered."""
        if self.front is not None:
            self.front.close()
        self.should_exit = True


def serving_config(app: ASGIApp) -> uvicorn.Config:
    """Return how the pages are served."""
    return uvicorn.Config(
        app,
        log_level="warning",
        lifespan="off",
        timeout_graceful_shutdown=ANSWERED_WITHIN_S,
        forwarded_allow_ips=BELIEVED,
    )


def listen(host: str, port: int) -> socket.socket:
    """Open the port of the pages.

    Raises:
        RefusedError: it is taken, or not ours to open.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
        listener.listen(128)
    except OSError as error:
        listener.close()
        reason = "is taken" if port else "can't be opened"
        raise RefusedError(
            f"Port {port} on {host} {reason} ({error.strerror}); choose another."
        ) from error
    return listener
