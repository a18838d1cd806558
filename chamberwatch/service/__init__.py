"""The story of each job, told through ports."""
