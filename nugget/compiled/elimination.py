"""Checkerboard elimination, banded Cholesky and back substitution of five-point operators, in one call each.

The method is that of `nugget.field.checkerboard`. A band is stored row by row: element (row, column) of the
upper triangle at ``row * stride + column``, ``stride`` a multiple of `LANES`, so that columns lie under each
other and `LANES` of them are worked on at once. Behind its last element each row has room for what such
blocks reach below the diagonal of the next rows, which nobody reads.

Sizes are unsigned: numba would otherwise test each index for a negative one.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from llvmlite import ir
from numba.core import cgutils, types
from numba.extending import intrinsic

from nugget.arrays import FloatArray
from nugget.compiled.kernel import inlined, kernel

LANES, PIVOTS, ROWS = 8, 4, 4
PANEL = 128
"""Longest row of a panel, so that its rows lie a constant apart: half bandwidths up to `WIDEST`."""
WIDEST = PANEL - LANES

_0, _1, _2, _3, _4, _8 = (np.uint64(n) for n in (0, 1, 2, 3, 4, 8))
_P, _2P, _3P = np.uint64(PANEL), np.uint64(2 * PANEL), np.uint64(3 * PANEL)


def sizes(slow: int, half: int) -> tuple[int, int, int]:
    """Unknowns, stride and length of a band for `slow` rows of `half` cells that are kept each."""
    unknowns = -(-slow * half // PIVOTS) * PIVOTS
    stride = _width(2 * half) + LANES
    return unknowns, stride, (unknowns + PIVOTS) * (stride + 1) + PANEL


def _width(bandwidth: int) -> int:
    return -(-(bandwidth + PIVOTS) // LANES) * LANES


@intrinsic  # type: ignore[untyped-decorator]
def _subtract(context: Any, band: Any, at: Any, stride: Any, panel: Any, first: Any, end: Any) -> Any:
    """Subtract from `ROWS` rows of the band, `stride` apart, what the pivots of a panel take from them.

    Row i begins at ``band[at + i * stride]`` and loses ``panel[q, first + i] * panel[q, x]`` of each pivot q,
    in its columns x from `first`, rounded down to a block, to before `end`. As loops it took two to three
    times as long: the compiler cannot know that the rows do not overlap.
    """
    signature = types.void(band, types.uint64, types.uint64, panel, types.uint64, types.uint64)
    number, count, place = ir.DoubleType(), ir.IntType(64), ir.IntType(32)
    lanes = ir.VectorType(number, LANES)

    def generate(target: Any, builder: Any, signature: Any, given: Any) -> Any:
        band, at, stride, panel, first, end = given
        band = target.make_array(signature.args[0])(target, builder, band).data
        panel = target.make_array(signature.args[3])(target, builder, panel).data
        multiply_add = cgutils.get_or_insert_function(
            builder.module, ir.FunctionType(lanes, [lanes] * 3), f"llvm.fma.v{LANES}f64"
        )

        def pointer(base: Any, index: Any, kind: Any) -> Any:
            return builder.bitcast(builder.gep(base, [index]), kind.as_pointer())

        def of_pivot(pivot: int, index: Any) -> Any:
            return builder.add(index, count(pivot * PANEL))

        def share(pivot: int, row: int) -> Any:
            """Minus one number of the panel, in all lanes."""
            one = builder.load(pointer(panel, of_pivot(pivot, builder.add(first, count(row))), number))
            undefined = ir.Constant(lanes, ir.Undefined)
            alone = builder.insert_element(undefined, builder.fneg(one), place(0))
            everywhere = ir.Constant(ir.VectorType(place, LANES), [0] * LANES)
            return builder.shuffle_vector(alone, undefined, everywhere)

        shares = [[share(pivot, row) for pivot in range(PIVOTS)] for row in range(ROWS)]
        rows = [builder.add(at, builder.mul(stride, count(row))) for row in range(ROWS)]
        start = builder.and_(first, count(-LANES))
        with cgutils.for_range_slice(builder, start, end, count(LANES), intp=count) as (x, _):
            pivots = [
                builder.load(pointer(panel, of_pivot(pivot, x), lanes), align=8) for pivot in range(PIVOTS)
            ]
            for begin, factors in zip(rows, shares, strict=True):
                here = pointer(band, builder.add(begin, x), lanes)
                left = builder.load(here, align=8)
                for factor, pivot in zip(factors, pivots, strict=True):
                    left = builder.call(multiply_add, [factor, pivot, left])
                builder.store(left, here, align=8)
        return target.get_dummy_value()

    return signature, generate


@inlined
def _fill(
    i: int, diagonal: FloatArray, east: FloatArray, north: FloatArray, inverse: FloatArray,
    band: FloatArray, half: int, step: int,
) -> None:  # fmt: skip
    """Put the cells of row `i` that are kept into the band, each with what its neighbours pass on."""
    first = i * half * step
    band[first : first + half * step] = 0.0
    p = i % 2
    for m in range(half):
        at, j = first + m * step, 2 * m + p
        if j >= diagonal.shape[1]:  # where the shorter side is odd, every second row has a cell too many
            band[at] = 1.0
            continue
        e, w, n, s = east[i + 1, j + 1], east[i + 1, j], north[i + 1, j + 1], north[i, j + 1]
        to_e, to_w, to_n = e * inverse[i + 1, j + 2], w * inverse[i + 1, j], n * inverse[i + 2, j + 1]
        band[at] += diagonal[i, j] - (e * to_e + w * to_w + n * to_n + s * s * inverse[i, j + 1])
        band[at + 1] -= to_e * east[i + 1, j + 2]
        band[at + 2 * half] -= to_n * north[i + 2, j + 1]
        band[at + half - 1 + p] -= to_w * north[i + 1, j] + to_n * east[i + 2, j]
        band[at + half + p] -= to_e * north[i + 1, j + 2] + to_n * east[i + 2, j + 1]


@kernel("b1(f8[:,:], f8[:,:], f8[:,:], f8[:,::1], f8[:,::1], f8[:,::1], f8[::1], f8[::1])")
def factor(
    diagonal: FloatArray,
    inner: FloatArray,
    outer: FloatArray,
    east: FloatArray,
    north: FloatArray,
    inverse: FloatArray,
    band: FloatArray,
    panel: FloatArray,
) -> bool:
    """Eliminate every second cell and factor what is left; whether the operator is positive definite.

    What is not a number passes, as it does in LAPACK, and is found in the answer.

    Parameters
    ----------
    diagonal, inner, outer : ndarray, shape (slow, fast), (slow, fast - 1), (slow - 1, fast)
    east, north, inverse : ndarray, shape (slow + 2, 2 * half + 2)
        Couplings and one over the diagonal, with a rim of zeros around them. Filled here, as is `band`.
    band : ndarray
        See `sizes`. The factor, its diagonal inverted.
    panel : ndarray, shape (PIVOTS * PANEL,)
        Room for work.
    """
    slow, fast = diagonal.shape
    half = (fast + 1) // 2
    for i in range(slow):
        for j in range(fast):
            if diagonal[i, j] <= 0.0:
                return False
            inverse[i + 1, j + 1] = 1.0 / diagonal[i, j]
        for j in range(fast - 1):
            east[i + 1, j + 1] = inner[i, j]
    for i in range(slow - 1):
        for j in range(fast):
            north[i + 1, j + 1] = outer[i, j]

    unknowns = -(-slow * half // PIVOTS) * PIVOTS
    width = -(-(2 * half + PIVOTS) // LANES) * LANES
    step = width + LANES + 1
    n, bandwidth, columns = np.uint64(unknowns), np.uint64(2 * half), np.uint64(width)
    stride = columns + _8
    filled = 0
    for k in range(_0, n, _4):
        # Rows of the band are made just before the first pivot that reaches them, while they are at hand.
        while filled < slow and filled * half < np.int64(k) + 2 * half + 2 * PIVOTS:
            _fill(filled, diagonal, east, north, inverse, band, half, step)
            filled += 1
            if filled == slow:
                band[slow * half * step :] = 0.0
                for row in range(slow * half, unknowns):
                    band[row * step] = 1.0
        a = k * stride + k
        b = a + stride
        c = b + stride
        d = c + stride
        p0 = band[a]
        i0 = 1.0 / np.sqrt(p0)
        ab, ac, ad = band[a + _1] * i0, band[a + _2] * i0, band[a + _3] * i0
        p1 = band[b + _1] - ab * ab
        i1 = 1.0 / np.sqrt(p1)
        bc, bd = (band[b + _2] - ab * ac) * i1, (band[b + _3] - ab * ad) * i1
        p2 = band[c + _2] - ac * ac - bc * bc
        i2 = 1.0 / np.sqrt(p2)
        cd = (band[c + _3] - ac * ad - bc * bd) * i2
        p3 = band[d + _3] - ad * ad - bd * bd - cd * cd
        i3 = 1.0 / np.sqrt(p3)
        if p0 <= 0.0 or p1 <= 0.0 or p2 <= 0.0 or p3 <= 0.0:
            return False
        for x in range(columns):
            panel[x] = band[a + x]
            panel[x + _P] = band[b + x]
            panel[x + _2P] = band[c + x]
            panel[x + _3P] = band[d + x]
        for x in range(columns):
            u = panel[x] * i0
            v = (panel[x + _P] - ab * u) * i1
            w = (panel[x + _2P] - ac * u - bc * v) * i2
            panel[x + _3P] = (panel[x + _3P] - ad * u - bd * v - cd * w) * i3
            panel[x], panel[x + _P], panel[x + _2P] = u, v, w
        for x in range(columns):
            band[a + x] = panel[x]
        for x in range(_1, columns):
            band[b + x] = panel[x + _P]
        for x in range(_2, columns):
            band[c + x] = panel[x + _2P]
        for x in range(_3, columns):
            band[d + x] = panel[x + _3P]
        band[a], band[b + _1], band[c + _2], band[d + _3] = i0, i1, i2, i3
        for row in range(_4, min(_4 + bandwidth, n - k), _4):
            _subtract(band, a + row * stride, stride, panel, row, columns)
    return True


@inlined
def _inflow(i: int, j: int, east: FloatArray, north: FloatArray, found: FloatArray) -> float:
    """What the four neighbours of a cell add to it; places without the rim."""
    return float(
        east[i + 1, j + 1] * found[i + 1, j + 2]
        + east[i + 1, j] * found[i + 1, j]
        + north[i + 1, j + 1] * found[i + 2, j + 1]
        + north[i, j + 1] * found[i, j + 1]
    )


@kernel("void(f8[:,:], f8[:,:], f8[:,::1], f8[:,::1], f8[:,::1], f8[::1], f8[:,::1], f8[::1])")
def solve(
    given: FloatArray,
    answer: FloatArray,
    east: FloatArray,
    north: FloatArray,
    inverse: FloatArray,
    band: FloatArray,
    found: FloatArray,
    b: FloatArray,
) -> None:
    """Back substitution with what `factor` left.

    Parameters
    ----------
    given, answer : ndarray, shape (slow, fast)
        Right-hand side and, filled here, its answer.
    found : ndarray, shape (slow + 2, 2 * half + 2)
        Room for work, with a rim of zeros.
    b : ndarray, shape (unknowns + PANEL,)
        Room for work.
    """
    slow, fast = given.shape
    half = (fast + 1) // 2
    for i in range(slow):
        for j in range(1 - i % 2, fast, 2):
            found[i + 1, j + 1] = given[i, j] * inverse[i + 1, j + 1]
    b[:] = 0.0
    for i in range(slow):
        for j in range(i % 2, fast, 2):
            b[i * half + j // 2] = given[i, j] + _inflow(i, j, east, north, found)

    n, end = np.uint64(b.size - PANEL), np.uint64(2 * half + PIVOTS)
    stride = np.uint64(-(-(2 * half + PIVOTS) // LANES) * LANES + LANES)
    for k in range(_0, n, _4):
        r = k * stride + k
        s, t, v = r + stride, r + _2 * stride, r + _3 * stride
        b0 = b[k] * band[r]
        b1 = (b[k + _1] - b0 * band[r + _1]) * band[s + _1]
        b2 = (b[k + _2] - b0 * band[r + _2] - b1 * band[s + _2]) * band[t + _2]
        b3 = (b[k + _3] - b0 * band[r + _3] - b1 * band[s + _3] - b2 * band[t + _3]) * band[v + _3]
        b[k], b[k + _1], b[k + _2], b[k + _3] = b0, b1, b2, b3
        for x in range(_4, end):
            b[k + x] -= b0 * band[r + x] + b1 * band[s + x] + b2 * band[t + x] + b3 * band[v + x]
    for back in range(_4, n + _1, _4):
        last = n - back
        r = last * stride + last
        s, t, v = r + stride, r + _2 * stride, r + _3 * stride
        b0, b1, b2, b3 = b[last], b[last + _1], b[last + _2], b[last + _3]
        for x in range(_4, end):
            known = b[last + x]
            b0 -= band[r + x] * known
            b1 -= band[s + x] * known
            b2 -= band[t + x] * known
            b3 -= band[v + x] * known
        b3 = b3 * band[v + _3]
        b2 = (b2 - band[t + _3] * b3) * band[t + _2]
        b1 = (b1 - band[s + _3] * b3 - band[s + _2] * b2) * band[s + _1]
        b0 = (b0 - band[r + _3] * b3 - band[r + _2] * b2 - band[r + _1] * b1) * band[r]
        b[last], b[last + _1], b[last + _2], b[last + _3] = b0, b1, b2, b3

    for i in range(slow):
        for j in range(i % 2, fast, 2):
            answer[i, j] = found[i + 1, j + 1] = b[i * half + j // 2]
    for i in range(slow):
        for j in range(1 - i % 2, fast, 2):
            answer[i, j] = (given[i, j] + _inflow(i, j, east, north, found)) * inverse[i + 1, j + 1]
