"""The physics of moist air in a small chamber."""
