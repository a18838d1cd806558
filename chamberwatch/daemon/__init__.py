"""Running the machine: threads, the web server, signals, and the watch over all of them."""

from chamberwatch.daemon.life import JOIN_S, Daemon
from chamberwatch.daemon.serving import ANSWERED_WITHIN_S, listen, serving_config
from chamberwatch.daemon.system import heed_hangup, heed_signals
from chamberwatch.systemd import tell_systemd, watch_every_s

__all__ = [
    "ANSWERED_WITHIN_S",
    "JOIN_S",
    "Daemon",
    "heed_hangup",
    "heed_signals",
    "listen",
    "serving_config",
    "tell_systemd",
    "watch_every_s",
]
