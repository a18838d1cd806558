"""Entity tags: what has not changed is not sent again (RFC 9110 section 13.1.2)."""

import hashlib

from fastapi import Request, Response
from pydantic import BaseModel


def tag_of(content: bytes) -> str:
    """Return the tag of some content."""
    return f'"{hashlib.sha256(content).hexdigest()[:24]}"'


def matches(if_none_match: str | None, tag: str) -> bool:
    """Compare weakly with a list of tags, or with `*`."""
    if if_none_match is None:
        return False
    asked = [part.strip().removeprefix("W/") for part in if_none_match.split(",")]
    return "*" in asked or tag.removeprefix("W/") in asked


def tagged(request: Request, shape: BaseModel) -> Response:
    """Answer in JSON with a tag, or with 304 if the asker has it already."""
    return tagged_bytes(request, shape.model_dump_json(by_alias=True).encode(), "application/json")


def tagged_bytes(request: Request, content: bytes, media: str) -> Response:
    """Answer some content with a tag, or with 304 if the asker has it already."""
    tag = tag_of(content)
    headers = {"ETag": tag, "Cache-Control": "no-cache"}
    if matches(request.headers.get("if-none-match"), tag):
        return Response(status_code=304, headers=headers)
    return Response(content, headers={**headers, "Content-Type": media})
