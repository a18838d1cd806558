"""Somebody before the pages about what grows, without a browser."""

import re
from html import unescape

from fastapi.testclient import TestClient

from chamberwatch.core.growing.batch import Batch, Entry
from chamberwatch.web.app import create_app
from tests.web.growing_scenes import GrowingPlayed


class Visitor:
    """Somebody who fills in forms as a browser without script does."""

    def __init__(self, played: GrowingPlayed) -> None:
        self.played = played
        self.marks = 0
        self.client = TestClient(
            create_app(played.desk), base_url="http://localhost", follow_redirects=False
        )

    def get(self, address: str, **headers: str) -> str:
        answer = self.client.get(address, headers=headers)
        assert answer.status_code == 200, answer.text
        return unescape(answer.text)

    def sent(self, address: str, **fields: str) -> str:
        """Send a form and return where it led."""
        answer = self.client.post(address, data={"once": self.once(), **fields})
        assert answer.status_code == 303, unescape(answer.text)
        return answer.headers["location"]

    def refused(self, address: str, **fields: str) -> str:
        """Send a form that is not taken; return the page that came back."""
        answer = self.client.post(address, data={"once": self.once(), **fields})
        assert answer.status_code == 422, answer.text
        return unescape(answer.text)

    def once(self) -> str:
        self.marks += 1
        return f"mark-{self.marks:08d}"

    def batch(self, number: int) -> Batch:
        return self.played.grown.record.batch(number)

    def last(self, number: int) -> Entry:
        return self.played.grown.record.entries(number)[-1]


def wrong(page: str, field: str) -> str:
    """Return what is said at a field, which must be tied to it for a screen reader."""
    found = re.search(rf'<p class="wrong" id="{field}-wrong" role="alert">([^<]*)</p>', page)
    assert found, f"nothing is said at {field}"
    assert f'aria-describedby="{field}-wrong"' in page
    return found[1]
