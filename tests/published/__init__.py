"""Checks against things outside the project; the source stands beside every row of data/."""
