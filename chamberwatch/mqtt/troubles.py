"""What keeps the link to the broker down, in plain words that say what to do."""

import socket
import ssl
from dataclasses import dataclass, field
from typing import Final

PASSWORD: Final = "the password (CHAMBERWATCH_MQTT_PASSWORD)"  # noqa: S105 - where it is set
"""Not a key of the settings file, where it is refused."""

REFUSALS: Final[dict[int, str]] = {
    132: "does not speak MQTT 3.1.1; update it, or use another broker.",
    133: "does not accept the name {client_id}; choose another mqtt.client_id.",
    134: f"refuses the user name or password; correct mqtt.username and {PASSWORD}.",
    135: f"does not let us in; check mqtt.username, {PASSWORD} and what the broker allows.",
    136: "is not ready; look at the broker's log.",
}
"""By reason code. Source: MQTT 5.0, table 3-1; paho gives those of 3.1.1 as the same codes."""


@dataclass(frozen=True, slots=True)
class BrokerAddress:
    """Where the broker is and how to enter.

    Attributes:
        host: name or IP address.
        port: TCP port.
        username: None: enter without.
        password: None: enter without; never shown.
        tls: whether the connection is encrypted.
        client_id: our name; the broker keeps our session under it.
        ca_file: certificates to trust in place of the system's, in PEM.
    """

    host: str
    port: int
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    tls: bool = False
    client_id: str = "chamberwatch"
    ca_file: str | None = None

    def __str__(self) -> str:
        """Read as host:port."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{host}:{self.port}"


def of_answer(code: int, said: str, address: BrokerAddress) -> str:
    """Return why the broker refused us."""
    words = REFUSALS.get(code, f"refuses the connection ({said}); look at the broker's log.")
    return f"The broker at {address} {words.format(client_id=address.client_id)}"


def of_connecting(error: BaseException | None, address: BrokerAddress) -> str:
    """Return why no connection came about."""
    match error:
        case socket.gaierror():
            why = f"{address.host} is not known on this network; check mqtt.host."
        case ConnectionRefusedError():
            why = "nothing listens there; start it, or correct mqtt.host and mqtt.port."
        case ssl.SSLCertVerificationError():
            why = (
                f"its certificate is not trusted ({error.verify_message}); "
                "name its authority in mqtt.ca_file."
            )
        case ssl.SSLError():
            why = "it does not answer in TLS; check mqtt.port and mqtt.tls."
        case ConnectionResetError():
            why = "it hung up at once; check mqtt.port and mqtt.tls."
        case TimeoutError():
            why = "it does not answer; check that it is switched on."
        case _:
            why = f"{error}; check the network."
    return f"Can't reach the broker at {address}: {why}"


def of_losing(address: BrokerAddress, *, answered: bool) -> str:
    """Return what is known when a connection ended by itself."""
    if answered:
        return f"The connection to the broker at {address} was lost; trying again."
    return (
        f"The broker at {address} hung up without an answer; check mqtt.port and mqtt.tls, "
        f"and mqtt.username and {PASSWORD}: some brokers say no to these in this way."
    )
