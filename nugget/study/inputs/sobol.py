"""A scrambled Sobol sequence, the points of all draws: even in every direction from few points on.

Direction numbers of S. Joe and F. Y. Kuo, SIAM J. Sci. Comput. 30 (2008) 2635 (`sobol.csv`: for each
dimension a primitive polynomial by its bits, and the first numbers), points in the order of the Gray code
(I. A. Antonov and V. M. Saleev, USSR Comput. Math. Math. Phys. 19 (1979) 252), scrambled by random lower
triangular matrices and a digital shift (J. Matousek, J. Complexity 14 (1998) 527). The points are those of
`scipy.stats.qmc.Sobol`, which a test holds them to: importing `scipy.stats` takes half a second and 65 MB,
more than half of what a weld takes.
"""

from __future__ import annotations

import functools
from pathlib import Path

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray

BITS = 30
"""Of each coordinate."""

Bits = npt.NDArray[np.uint32]


def sobol(dimensions: int, points: int, seed: int) -> FloatArray:
    """Points in the unit cube, shape (points, dimensions); more of them begin with the same ones.

    Raises
    ------
    ValueError
        For more dimensions than there are direction numbers.
    """
    known = _directions()
    if dimensions > len(known):
        raise ValueError(f"{dimensions} dimensions, and direction numbers for {len(known)}")
    random = np.random.default_rng(np.random.SeedSequence(seed).spawn(1)[0])
    size = dimensions, BITS
    powers = 2 ** np.arange(BITS, dtype=np.uint32)
    shift = random.integers(2, size=size, dtype=np.uint32) @ powers
    lower = np.tril(random.integers(2, size=(*size, BITS), dtype=np.uint32), -1)
    lower += np.eye(BITS, dtype=np.uint32)
    used = max(1, (points - 1).bit_length())
    digits = known[:dimensions, :used, None] >> _down() & 1
    scrambled = np.einsum("dpk,djk->djp", lower, digits) % 2 @ powers[::-1]
    index = np.arange(points, dtype=np.uint32)
    gray = index ^ index >> 1
    found = np.tile(shift.astype(np.uint32), (points, 1))
    for bit in range(used):
        found[gray >> bit & 1 == 1] ^= scrambled[:, bit].astype(np.uint32)
    return np.asarray(found * 2.0**-BITS, dtype=np.float64)


def _down() -> Bits:
    """By how much to shift for each digit, the most significant first."""
    return np.arange(BITS - 1, -1, -1, dtype=np.uint32)


@functools.cache
def _directions() -> Bits:
    """Direction numbers of each dimension, shape (dimensions, `BITS`)."""
    lines = (Path(__file__).parent / "sobol.csv").read_text(encoding="utf-8").splitlines()
    rows = [_numbers([int(word) for word in line.split(",")]) for line in lines if line[0].isdigit()]
    return np.array([[1] * BITS, *rows], dtype=np.uint32) << _down()


def _numbers(line: list[int]) -> list[int]:
    """All numbers of a dimension from its polynomial and the first ones, by their recurrence."""
    polynomial, *numbers = line
    degree = len(numbers)
    for j in range(degree, BITS):
        new = numbers[j - degree]
        for k in range(1, degree + 1):
            if polynomial >> (degree - k) & 1:
                new ^= numbers[j - k] << k
        numbers.append(new)
    return numbers
