"""Readings held against bands, over time, and the reminders that follow."""
