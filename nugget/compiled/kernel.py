"""How a kernel is made: for the arrays that it names, from the folder of compiled code where it is there."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol, TypeVar, cast

import numba

Function = TypeVar("Function", bound=Callable[..., Any])


class Kernel(Protocol):
    """Keeps what is known of a function's arguments."""

    def __call__(self, function: Function, /) -> Function: ...


ROUNDING = {"contract", "reassoc"}
"""Sums may be put in another order and a product be rounded together with a sum; what is infinite or not a
number counts as ever."""


def kernel(signature: str) -> Kernel:
    """Compile a function for one signature as its module is imported; it may call what its module holds.

    Numba tells by the text of that one file whether compiled code is still good.
    """

    def made(function: Function) -> Function:
        compiled = numba.njit(signature, cache=True, error_model="numpy", fastmath=ROUNDING)
        return cast(Function, compiled(function))

    return made


def inlined(function: Function) -> Function:
    """A part of the kernels of its module."""
    return cast(Function, numba.njit(error_model="numpy", fastmath=ROUNDING)(function))
