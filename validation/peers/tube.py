"""An equipotential disc in a tube: the exact constriction, and a plain five-point answer on even cells."""

from __future__ import annotations

import math

import numpy as np
from scipy.sparse import diags_array
from scipy.sparse.linalg import spsolve

from nugget.arrays import FloatArray


def psi(eps: float, functions: int = 5, terms: int = 100_000) -> float:
    """Constriction factor of an equipotential disc of radius a in a tube of radius b, eps = a/b.

    Galerkin: flux basis (1 - u^2)^(m - 1/2) on the disc, whose Hankel transforms are Sonine's
    (Gradshteyn and Ryzhik 6.567.1), against the Fourier-Bessel series of the tube. One side has
    R = rho L / (pi b^2) + psi rho / (4 a).
    """
    from scipy.special import gamma, j0, j1, jv

    d = (np.arange(1, terms + 1) + 0.25) * np.pi
    for _ in range(4):
        d -= j1(d) / (j0(d) - j1(d) / d)
    x = d * eps
    transform = np.array(
        [2 ** (m - 0.5) * gamma(m + 0.5) * x ** -(m + 0.5) * jv(m + 0.5, x) for m in range(functions)]
    )
    transform *= eps**2
    matrix = (transform * (2.0 / (d * j0(d) ** 2))) @ transform.T
    total = np.array([eps**2 / (2 * m + 1) for m in range(functions)])
    return float(2.0 * eps / (math.pi * total @ np.linalg.solve(matrix, total)))


def covered(radius: float, faces: FloatArray) -> FloatArray:
    """Share of each ring between `faces` that lies within `radius`, by area."""
    inside = np.minimum(faces, radius) ** 2
    return np.asarray(np.diff(inside) / np.diff(faces**2), dtype=np.float64)


def five_point(share: FloatArray, height: float, rows: int) -> float:
    """Resistance of a tube of unit resistivity on cells of unit width, from a covered plane to its far end.

    Five-point finite volumes, assembled here for this one problem. `share` is the covered share of each
    ring of the plane, which lies half a cell below the lowest row; the far end is one equipotential.
    """
    nr = len(share)
    faces = np.arange(nr + 1.0)
    area = math.pi * np.diff(faces**2)
    along_r = np.tile(np.append(2.0 * math.pi * faces[1:-1] * height, 0.0), rows)[:-1]
    along_z = np.tile(area / height, rows)[: nr * (rows - 1)]
    plane, end = 2.0 * area / height * share, 2.0 * area / height
    diagonal = np.zeros(nr * rows)
    diagonal[:-1] += along_r
    diagonal[1:] += along_r
    diagonal[:-nr] += along_z
    diagonal[nr:] += along_z
    diagonal[:nr] += plane
    diagonal[-nr:] += end
    matrix = diags_array(
        [-along_z, -along_r, diagonal, -along_r, -along_z], offsets=[-nr, -1, 0, 1, nr], format="csc"
    )
    source = np.zeros(nr * rows)
    source[-nr:] = end
    volts = spsolve(matrix, source)
    return 1.0 / float(plane @ volts[:nr])
