"""Machine code for the inner loops of a march, where numba is installed (`pip install nugget[fast]`).

One module a group of kernels; `seam` decides once per process whether they serve. Each stands for a piece
of numpy beside it, which stays the reference and is what runs without them.
"""
