"""Speed, measured: ``python -m validation.benchmark --out DIR``."""
