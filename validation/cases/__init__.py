"""One module per case; each holds a tuple ``CASES``."""
