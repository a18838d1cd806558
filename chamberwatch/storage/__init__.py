"""The edge to the database; the only room that knows SQLAlchemy."""
