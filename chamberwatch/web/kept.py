"""Static files: kept for good by browsers, and sent packed where they lie packed."""

from pathlib import Path
from typing import Final

from starlette.datastructures import Headers
from starlette.responses import FileResponse, Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

A_YEAR: Final = "public, max-age=31536000, immutable"


class Kept(StaticFiles):
    """Static files; with the mark of their content in the address they may be kept for good.

    A file beside which a packed one lies (`name.gz`, made when the package was built) is sent
    packed to whoever takes it so: a Pi then packs nothing.
    """

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Answer a file, and say how long it may be kept."""
        answer = await super().get_response(path, scope)
        if isinstance(answer, FileResponse):
            answer = _packed(answer, Headers(scope=scope))
        marked = scope["query_string"].startswith(b"v=")
        answer.headers["Cache-Control"] = A_YEAR if marked else "no-cache"
        return answer


def _packed(answer: FileResponse, asked: Headers) -> FileResponse:
    """Return the packed file in place of the plain one, where there is one."""
    packed = Path(f"{answer.path}.gz")
    if not packed.is_file():
        return answer
    if takes_gzip(asked.get("accept-encoding", "")) and "range" not in asked:
        answer = FileResponse(packed, media_type=answer.media_type)
        answer.headers["Content-Encoding"] = "gzip"
    # Caches between here and the browser must not hand one to who wants the other.
    answer.headers["Vary"] = "Accept-Encoding"
    return answer


def takes_gzip(accepted: str) -> bool:
    """Tell whether a browser takes gzip, by its header Accept-Encoding (RFC 9110, 12.5.3)."""
    for each in accepted.lower().split(","):
        coding, _, weight = each.replace(" ", "").partition(";q=")
        if coding in {"gzip", "x-gzip"}:
            return weight.strip("0.") != "" if weight else True
    return False
