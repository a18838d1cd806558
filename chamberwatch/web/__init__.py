"""The edge to people: HTTP API and pages; the only room that knows FastAPI."""
