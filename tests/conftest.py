"""What the tests share: repeatable properties, and a few marches that many tests look at."""

from __future__ import annotations

from hypothesis import settings

# The same examples every time, so that a run says what the change did and nothing else; no
# deadline, as other work on the machine makes single examples slow.
settings.register_profile("tests", deadline=None, derandomize=True, max_examples=60)
settings.load_profile("tests")
