"""Validation suite: what every part of the model was checked against, and how far off it is."""
