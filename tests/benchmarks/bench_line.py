"""The update of a line, by its number of cells: against the same update by NumPy slices, and against what the core can do at all.

Two limits, measured beside it. Bytes: each cell's voltage and current are read and written, 32 bytes; two kernels of next to no arithmetic
move as many bytes through as much memory, the triad a = b + s c (24 bytes an element, its arrays in the first cache up to 1000 cells) and a
rotation of (v, i), which reads and writes two arrays in place as the update does. The faster of the two counts. (From 1e5 cells that is the
rotation: the triad has to fetch what it overwrites, which its 24 bytes do not count.) Arithmetic: the update takes 4 multiplications (or
fused ones) a cell, with the four sums of the ledger 8, and the core's rate of them is that of a long polynomial. Additions alone are not
counted, as many cores have units of their own for them. The slower of the two limits is the limit.
"""

from __future__ import annotations

import numba
import numpy as np
import pytest

from bouncesim.march.jit import FASTMATH
from bouncesim.march.line import advance_cells, advance_cells_bare, at_rest

SIZES = (100, 200, 1000, 10_000, 100_000, 1_000_000)
CELLS_A_ROUND = 1_000_000  # at least one step; a third of a millisecond
ROUNDS = 150
BYTES, TRIAD_BYTES = 32, 24
PRODUCTS, PRODUCTS_WITH_SUMS = 4, 8
POWERS = 16  # products of an element of `polynomial`
COEFFICIENTS = (0.999, 0.5, 0.998, 0.5)
COSINE, SINE = 0.8, 0.6
SHARE_OF_CORE, SHARE_OF_MEMORY, FLAT = 45, 90, 1.3  # per cent, per cent, largest cost of a cell against the least

per_cell: dict[int, float] = {}
kernel = numba.njit(fastmath=FASTMATH, error_model="numpy")


@kernel
def update(steps, v, i, a_i, b_i, a_v, b_v):
    for _ in range(steps):
        advance_cells_bare(v, i, a_i, b_i, a_v, b_v)


@kernel
def update_with_sums(steps, v, i, a_i, b_i, a_v, b_v):
    total = 0.0
    for _ in range(steps):
        vv, ii, pp, vw = advance_cells(v, i, a_i, b_i, a_v, b_v)
        total += vv + ii + pp + vw
    return total


@kernel
def triad(steps, a, b, c, s):
    for _ in range(steps):
        for k in range(a.size):
            a[k] = b[k] + s * c[k]


@kernel
def rotation(steps, a, b, cosine, sine):
    for _ in range(steps):
        for k in range(a.size):
            x, y = a[k], b[k]
            a[k] = cosine * x + sine * y
            b[k] = cosine * y - sine * x


@kernel
def polynomial(steps, a, s, t):
    for _ in range(steps):
        for k in range(a.size):
            x = a[k]
            x = (((x * s + t) * s + t) * s + t) * s + t
            x = (((x * s + t) * s + t) * s + t) * s + t
            x = (((x * s + t) * s + t) * s + t) * s + t
            a[k] = (((x * s + t) * s + t) * s + t) * s + t


def by_slices(steps, v, i, a_i, b_i, a_v, b_v):
    for _ in range(steps):
        i *= a_i
        i += b_i * (v[:-1] - v[1:])
        inner = v[1:-1]
        inner *= a_v
        inner += b_v * (i[:-1] - i[1:])


def alike(cells: int) -> tuple[np.ndarray, np.ndarray]:
    """v and i of a line, placed as the solver places them."""
    v, i = at_rest(cells + 1, cells)
    v[:] = 1e-3
    return v, i


@pytest.mark.parametrize("cells", SIZES)
def test_update(bench, cells: int) -> None:
    steps, few = max(CELLS_A_ROUND // cells, 1), max(CELLS_A_ROUND // 20 // cells, 1)
    bare, summed, sliced = (alike(cells) for _ in range(3))
    three = [np.full(cells * 2 // 3, 1e-3) for _ in range(3)]
    two, powers = [array[1:cells] for array in alike(cells)], np.full(512, 1e-3)
    times = bench.in_turns(
        lambda: update(steps, *bare, *COEFFICIENTS),
        lambda: update_with_sums(steps, *summed, *COEFFICIENTS),
        lambda: by_slices(few, *sliced, *COEFFICIENTS),
        lambda: triad(steps, *three, SINE),
        lambda: rotation(steps, *two, COSINE, SINE),
        lambda: polynomial(200, powers, SINE, COSINE),
        rounds=ROUNDS if cells < SIZES[-1] else ROUNDS // 3,
    )
    numbers = (steps * cells, steps * cells, few * cells, steps * three[0].size, steps * two[0].size, 200 * powers.size * POWERS)
    each, with_sums, slices, of_triad, of_rotation, product = (1e9 * took / number for took, number in zip(times, numbers, strict=True))
    a_byte = min(of_triad / TRIAD_BYTES, of_rotation / BYTES)
    per_cell[cells] = each
    name = f"line of {cells:,} cells"
    in_memory = cells >= 100_000
    asked = f"at least {SHARE_OF_MEMORY} %" if in_memory else f"at least {SHARE_OF_CORE} %" if 200 <= cells <= 1000 else ""
    for what, took, products in (("", each, PRODUCTS), (", with the ledger's sums", with_sums, PRODUCTS_WITH_SUMS)):
        limit = max(BYTES * a_byte, products * product)
        figure = f"{1 / took:.2f} G cells/s"
        bench.row(f"{name}{what}: share of the limit", figure, f"{100 * limit / took:.0f} %", asked)
    bench.row(f"{name}: as fast as NumPy slices", f"{1 / slices:.2f} G cells/s", f"{slices / each:.1f} times")
    flat = [per_cell[size] for size in SIZES if 200 <= size <= 10_000 and size in per_cell]
    if cells == 10_000:
        bench.row("cost of a cell, 200 to 10,000 cells", f"{min(flat):.3f} ns", f"{max(flat) / min(flat):.2f}", f"at most {FLAT}")
