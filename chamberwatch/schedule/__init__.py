"""The edge to wall-clock jobs; the only room that knows APScheduler."""
