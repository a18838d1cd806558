"""A broker to try things with: for the demo and the tests, never for `run`.

It is a child process that listens on this machine only, keeps everything in memory, and ends with
us: its standard input is a pipe that we hold, and it goes when that closes, whatever we die of.
"""

import importlib
import socket
from types import ModuleType, TracebackType
from typing import Any, Final, Self

from chamberwatch.core.errors import BrokerError

LOOPBACK: Final = "127.0.0.1"
READY_S: Final = 20.0
ATTEMPTS: Final = 5


class TrialBroker:
    """A broker for as long as the block lasts.

    Attributes:
        host: where it listens.
        port: where it listens.
    """

    def __init__(self, port: int | None = None) -> None:
        """Choose the port; None takes a free one."""
        self.host = LOOPBACK
        self.port = port or 0
        self._chosen = port
        self._attempts = ATTEMPTS if port is None else 1
        self._broker: Any = None

    def __enter__(self) -> Self:
        """Start it and wait until it accepts connections.

        Raises:
            BrokerError: it is not installed, its port is taken, or it does not come up.
        """
        try:
            iotcore = importlib.import_module("iotcore")
        except ImportError:
            raise BrokerError(
                "The trial broker is not installed: pip install 'chamberwatch[broker]'"
            ) from None
        while True:
            self._attempts -= 1
            try:
                self._broker = self._started(iotcore)
            except OSError as error:
                # Somebody may take a free port between our look at it and its use.
                if not self._attempts:
                    raise BrokerError(
                        f"Port {self.port} on {self.host} is taken; end what listens there, "
                        "or choose another."
                    ) from error
            except RuntimeError as error:
                raise BrokerError(
                    f"The trial broker does not start ({error}); try again."
                ) from error
            else:
                return self

    def _started(self, iotcore: ModuleType) -> Any:  # noqa: ANN401 - published without types
        self.port = self._chosen or _free_port()
        broker = iotcore.Broker(port=self.port, listen=self.host)
        broker.start(READY_S)
        return broker

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End it; no process is left."""
        self.stop()

    def stop(self) -> None:
        """End it now. Safe to call twice."""
        if self._broker is not None:
            self._broker.stop()
            self._broker = None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind((LOOPBACK, 0))
        port: int = probe.getsockname()[1]
        return port
