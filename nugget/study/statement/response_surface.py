"""A sparse polynomial of the uncertain inputs, fitted to marched welds, that knows its own error.

Polynomials that are orthonormal under the spread of the inputs (Hermite for normal ones, Legendre
for ranges; Xiu and Karniadakis, SIAM J. Sci. Comput. 24 (2002) 619) are taken in one after the other, the
one first that explains most of what is left, as long as leaving single welds out says that it
pays (Blatman and Sudret, J. Comput. Phys. 230 (2011) 2345). Its error is that of folds which had no
part in choosing the terms. The equations: manual, theory-chances.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.study.inputs.uncertain import Inputs

Term = tuple[tuple[int, int], ...]
"""Columns and their degrees."""

Basis = dict[tuple[int, int], FloatArray]
"""Polynomials by column and degree, each at every row."""

FOLDS = 8
MOST_TERMS = 24
SHARE = 3
"""No more terms than one for so many welds."""
FINEST = 0.01
"""No fit is believed to be better than this share of a threshold."""


def degrees(inputs: Inputs) -> tuple[str, ...]:
    """What each column of the deviations is: ``normal``, ``range`` or ``sign``."""
    kinds = ["range" if one.spread.kind == "range" else "normal" for one in inputs.items]
    return (*kinds, *(("sign",) if inputs.either_spot else ()))


def basis(deviations: FloatArray, kinds: Sequence[str]) -> Basis:
    """Orthonormal polynomials of each column by (column, degree), each of shape (n,)."""
    from scipy.special import ndtr

    found: Basis = {}
    for k, kind in enumerate(kinds):
        z = deviations[:, k]
        if kind == "sign":
            found[k, 1] = np.where(z > 0.0, 1.0, -1.0)
        elif kind == "range":
            u = 2.0 * ndtr(z) - 1.0
            found[k, 1] = 3.0**0.5 * u
            found[k, 2] = 5.0**0.5 * 0.5 * (3.0 * u**2 - 1.0)
            found[k, 3] = 7.0**0.5 * 0.5 * (5.0 * u**3 - 3.0 * u)
        else:
            found[k, 1] = z
            found[k, 2] = (z**2 - 1.0) / 2.0**0.5
    return found


@dataclass(frozen=True)
class Response:
    """A fitted polynomial.

    Attributes
    ----------
    kinds : tuple of str
        Of the columns, see `degrees`.
    terms : tuple of Term
        The empty one, which is the mean, first.
    coefficients : ndarray, shape (terms,)
    error : float
        Standard deviation of what it misses, from folds.
    freedom : float
        Degrees of freedom behind `error`.
    missed : ndarray, shape (n,)
        What each weld is above what the fold without it said.
    """

    kinds: tuple[str, ...]
    terms: tuple[Term, ...]
    coefficients: FloatArray
    error: float
    freedom: float
    missed: FloatArray

    def __call__(self, deviations: FloatArray) -> FloatArray:
        """Values at independent deviations, shape (n, d) to (n,)."""
        return self.at(basis(deviations, self.kinds), len(deviations))

    def at(self, known: Basis, count: int) -> FloatArray:
        """Values at `count` rows whose `basis` is known."""
        return _columns(known, self.terms, count) @ self.coefficients

    @property
    def totals(self) -> FloatArray:
        """Share of its variance in which each column has a part, shape (d,): total effects."""
        found = np.zeros(len(self.kinds))
        for term, one in zip(self.terms, self.coefficients, strict=True):
            for column, _ in term:
                found[column] += one**2
        whole = float(np.sum(self.coefficients[1:] ** 2))
        return found / whole if whole > 0.0 else found


def fit(deviations: FloatArray, values: FloatArray, kinds: tuple[str, ...]) -> Response:
    """Fit the values of marched welds, shape (n,), at independent deviations, shape (n, d)."""
    count = len(values)
    terms, coefficients = _selected(deviations, values, kinds)
    missed = np.empty(count)
    for fold in range(FOLDS):
        out = np.arange(count) % FOLDS == fold
        some, weights = _selected(deviations[~out], values[~out], kinds)
        guess = _columns(basis(deviations[out], kinds), some, int(out.sum())) @ weights
        missed[out] = values[out] - guess
    error = max(float(np.sqrt(np.mean(missed**2))), FINEST)
    return Response(kinds, terms, coefficients, error, max(count - len(terms), 3), missed)


def _columns(known: Basis, terms: Sequence[Term], count: int) -> FloatArray:
    return np.array([_column(known, term, count) for term in terms]).T


def _column(known: Basis, term: Term, count: int) -> FloatArray:
    if not term:
        return np.ones(count)
    first, *others = (known[one] for one in term)
    for one in others:
        first = first * one
    return first


def _selected(
    deviations: FloatArray, values: FloatArray, kinds: Sequence[str]
) -> tuple[tuple[Term, ...], FloatArray]:
    """Terms and coefficients: forward, up to where leaving single welds out is best."""
    count = len(values)
    known = basis(deviations, kinds)
    terms: list[Term] = [()]
    best: tuple[float, int] = (_left_out(np.ones((count, 1)), values), 1)
    most = min(MOST_TERMS, count // SHARE)
    while len(terms) < most:
        offered = [term for term in _candidates(known, terms) if term not in terms]
        if not offered:
            break
        matrix = _columns(known, terms, count)
        q, _ = np.linalg.qr(matrix)
        left = values - q @ (q.T @ values)
        columns = _columns(known, offered, count)
        columns = columns - q @ (q.T @ columns)
        size = np.linalg.norm(columns, axis=0)
        gain = np.abs(left @ columns) / np.where(size > 1e-6 * count**0.5, size, np.inf)
        if gain.max() <= 1e-12:
            break
        terms.append(offered[int(np.argmax(gain))])
        best = min(best, (_left_out(_columns(known, terms, count), values), len(terms)))
    chosen = tuple(terms[: best[1]])
    coefficients, *_ = np.linalg.lstsq(_columns(known, chosen, count), values, rcond=None)
    return chosen, np.asarray(coefficients, dtype=np.float64)


def _candidates(known: Basis, terms: Sequence[Term]) -> list[Term]:
    """Single polynomials, and products of those first ones that are in already."""
    first = [term[0] for term in terms if len(term) == 1 and term[0][1] == 1]
    pairs = [(a, b) for i, a in enumerate(first) for b in first[i + 1 :]]
    return [*((one,) for one in known), *(tuple(sorted(pair)) for pair in pairs)]


def _left_out(matrix: FloatArray, values: FloatArray) -> float:
    """Mean square of what each weld is missed by a fit without it, raised for the terms it took."""
    q, _ = np.linalg.qr(matrix)
    count, terms = matrix.shape
    leverage = np.minimum(np.sum(q**2, axis=1), 1.0 - 1e-6)
    missed = (values - q @ (q.T @ values)) / (1.0 - leverage)
    return float(np.mean(missed**2) * count / max(count - terms, 1))
