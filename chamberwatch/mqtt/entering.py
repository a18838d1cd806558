"""How a client enters the broker: its name and password, and how the connection is encrypted."""

import ssl

import paho.mqtt.client as paho

from chamberwatch.core.errors import BrokerError
from chamberwatch.mqtt.troubles import BrokerAddress


def prepare(client: paho.Client, address: BrokerAddress) -> None:
    """Give a client what it needs to enter; nothing is connected yet.

    Raises:
        BrokerError: the host can't be one, or the certificates can't be used.
    """
    check_host(address)
    if address.username is not None:
        client.username_pw_set(address.username, address.password)
    if not address.tls:
        return
    try:
        client.tls_set(ca_certs=address.ca_file)
    except (OSError, ssl.SSLError) as error:
        raise BrokerError(
            f"The certificates in {address.ca_file} can't be used ({error}); correct mqtt.ca_file."
        ) from error


def check_host(address: BrokerAddress) -> None:
    """Refuse what no network can look up.

    Raises:
        BrokerError: the host can't be one.
    """
    try:
        address.host.encode("idna")
    except UnicodeError:
        raise BrokerError(f"{address.host!r} can't be a host; correct mqtt.host.") from None
