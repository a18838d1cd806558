"""The rotation: what to start when, so that a harvest keeps coming."""
