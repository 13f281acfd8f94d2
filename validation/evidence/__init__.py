"""Evidence of speed, accuracy and plausibility on whole welds: one module per piece.

``python -m validation.evidence --out DIR`` measures, prints a table of limit against measurement and
writes ``evidence.md`` with its figures. The cases of `validation` check parts of the model against
exact solutions and other people's numbers; this package measures the finished program.
"""
