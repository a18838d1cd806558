"""Receivers of messages on loopback that fail in every way there is, and remember what they took.

A message counts as taken once the receiver has said so, and not before.
"""

import json
import socketserver
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes
from email.header import decode_header, make_header
from typing import Final

LOOPBACK: Final = "127.0.0.1"
SECRET: Final = "hunter2"  # noqa: S105 - invented, and it must never be seen
END_S: Final = 10.0


@dataclass
class Receiver:
    """What one receiver is told to do, and what came of it.

    Attributes:
        fault: how it fails; empty: it is well.
        tries: connections on which a whole message or a login was tried.
        taken: titles of the messages that it said it took.
        pictures: the attachments of those.
        port: where it listens.
        over: set when it ends, so that nothing waits on.
    """

    fault: str = ""
    tries: int = 0
    taken: list[str] = field(default_factory=list)
    pictures: list[bytes] = field(default_factory=list)
    port: int = 0
    over: threading.Event = field(default_factory=threading.Event)


_RAW: Final = {"half": b"HTTP/1.1 2", "garbage": b"\x00\xfe\xff no such thing\r\n\r\n"}


class _Http(socketserver.StreamRequestHandler):
    """Speaks as much of HTTP/1.1 as is asked for."""

    told: Receiver

    def handle(self) -> None:
        head = b""
        while not head.endswith(b"\r\n\r\n"):
            line = self.rfile.readline()
            if not line:
                return
            head += line
        sizes = [x for x in head.split(b"\r\n") if x.lower().startswith(b"content-length:")]
        body = json.loads(self.rfile.read(int(sizes[0].split(b":")[1])))
        self.told.tries += 1
        self._answer(body)

    def _answer(self, body: dict[str, object]) -> None:
        fault, over = self.told.fault, self.told.over
        if fault == "silent":
            over.wait(END_S)
        elif fault in ("drip", "slow yes"):
            self._drip(body)
        elif fault in _RAW:
            self.wfile.write(_RAW[fault])
        elif fault.isdigit() or (fault == "no picture" and body["attachments"]):
            self._say(int(fault) if fault.isdigit() else 413)
        elif fault != "closed":
            self.told.taken.append(str(body["title"]))
            attached = body["attachments"]
            assert isinstance(attached, list)
            self.told.pictures += [each["base64"] for each in attached]
            self._say(200)

    def _drip(self, body: dict[str, object]) -> None:
        fault = self.told.fault
        if fault == "slow yes":
            self.told.taken.append(str(body["title"]))
        status = b"200" if fault == "slow yes" else b"503"
        self.wfile.write(b"HTTP/1.1 " + status + b" X\r\nX-Slow: ")
        while not self.told.over.wait(0.05) and self.told.fault == fault:
            self.wfile.write(b"x")

    def _say(self, status: int) -> None:
        more = {429: "Retry-After: 120\r\n", 302: "Location: /elsewhere\r\n"}.get(status, "")
        text = f"HTTP/1.1 {status} X\r\n{more}Content-Length: 0\r\nConnection: close\r\n\r\n"
        self.wfile.write(text.encode())


class _Mail(socketserver.StreamRequestHandler):
    """Speaks as much of SMTP (RFC 5321) as a sender needs."""

    told: Receiver

    def handle(self) -> None:
        self.told.tries += 1
        fault = self.told.fault
        if fault == "silent":
            self.told.over.wait(END_S)
            return
        greeting = {"421": "421 no time", "garbage": "\x01 no such thing"}.get(fault, "220 here")
        self._say(greeting)
        if greeting.startswith("220"):
            self._converse()

    def _converse(self) -> None:
        while line := self.rfile.readline():
            verb = line.split()[0].upper().decode() if line.split() else ""
            if verb == "DATA":
                if not self._take():
                    return
            elif verb == "QUIT":
                self._say("221 bye")
                return
            else:
                self._say(self._reply(verb))

    def _reply(self, verb: str) -> str:
        fault = self.told.fault
        refused = {"535": "AUTH", "450": "MAIL", "550": "RCPT"}
        if refused.get(fault) == verb:
            return f"{fault} not so"
        return {"EHLO": "250-here\r\n250 AUTH PLAIN", "AUTH": "235 come in"}.get(verb, "250 yes")

    def _take(self) -> bool:
        self._say("354 go on")
        text = b""
        while (line := self.rfile.readline()) not in (b".\r\n", b""):
            text += line
        if self.told.fault == "dropped after DATA":
            return False
        mail = message_from_bytes(text)
        images = [p for p in mail.walk() if p.get_content_maintype() == "image"]
        if self.told.fault == "552" or (self.told.fault == "no picture" and images):
            self._say("552 too big")
            return True
        self.told.taken.append(str(make_header(decode_header(mail["Subject"]))))
        self.told.pictures += [bytes(p.get_payload(decode=True)) for p in images]
        self._say("250 taken")
        return True

    def _say(self, text: str) -> None:
        self.wfile.write(text.encode() + b"\r\n")


class _Server(socketserver.ThreadingTCPServer):
    daemon_threads = True
    allow_reuse_address = True

    def handle_error(self, request: object, client_address: object) -> None:
        """Keep quiet: whoever asked has hung up, which is what is being tried."""


@contextmanager
def _serving(handler: type[_Http] | type[_Mail]) -> Iterator[Receiver]:
    told = Receiver()
    bound = type("Bound", (handler,), {"told": told})
    with _Server((LOOPBACK, 0), bound) as server:
        told.port = server.server_address[1]
        thread = threading.Thread(target=server.serve_forever, args=(0.01,))
        thread.start()
        try:
            yield told
        finally:
            told.over.set()
            server.shutdown()
            thread.join()


@contextmanager
def http_receiver() -> Iterator[Receiver]:
    """Serve a phone service."""
    with _serving(_Http) as told:
        yield told


@contextmanager
def mail_receiver() -> Iterator[Receiver]:
    """Serve a mail server."""
    with _serving(_Mail) as told:
        yield told


def http_address(port: int, wait_s: float = 30.0) -> str:
    """Return the address of a phone service, with how long it is waited for."""
    return f"json://grower:{SECRET}@{LOOPBACK}:{port}/{SECRET}?cto={wait_s}&rto={wait_s}"


def mail_address(port: int, wait_s: float = 30.0) -> str:
    """Return the address of a mail server, with how long it is waited for."""
    who = "to=grower@mail.example&from=tent@mail.example"
    return f"mailto://grower:{SECRET}@{LOOPBACK}:{port}?{who}&cto={wait_s}&rto={wait_s}"
