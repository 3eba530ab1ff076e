"""How the hot core is compiled: strict arithmetic, and a cache on disk that cannot go stale.

numba looks only at a function's own file to decide whether its compiled form is still good, though other
files' functions and constants are compiled into it. So the cache is kept per state of all sources together.
"""

import hashlib
from pathlib import Path
from typing import Any

import llvmlite.binding
import numba
from numba.core import cgutils, types
from numba.core.errors import TypingError
from numba.extending import intrinsic

from feedproof.kept import kept_folder

_PACKAGE = Path(__file__).resolve().parents[1]
_COMPILED_FOLDERS = ("circuit", "inference", "faults")


def _digest() -> str:
    """State of all sources that compiled code may depend on, and of the compiler."""
    state = hashlib.sha256(numba.__version__.encode())
    for folder in _COMPILED_FOLDERS:
        for path in sorted((_PACKAGE / folder).glob("*.py")):
            state.update(path.name.encode() + b"\0" + path.read_bytes())
    return state.hexdigest()[:16]


_FOLDER = kept_folder(_digest())
KEPT = _FOLDER is not None
"""Whether compiled functions are kept on disk. Where they are not, each start compiles."""
numba.config.CACHE_DIR = str(_FOLDER or "")  # type: ignore[attr-defined]
# What runs side by side is written so; looking for more of it doubles the time to compile and finds nothing.
numba.config.LOOP_VECTORIZE = 0  # type: ignore[attr-defined]
numba.config.SLP_VECTORIZE = 0  # type: ignore[attr-defined]

_ALWAYS: Any = {"cache": KEPT, "error_model": "numpy", "nogil": True}
#: Every compiled function of the package: strict IEEE order (the same bytes on every run), cached on disk.
compiled: Any = numba.njit(**_ALWAYS)
#: The same for small pieces of the innermost loop: put in place, so that no array handle is passed.
inlined: Any = numba.njit(**_ALWAYS, inline="always")
_INSIDE: Any = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
#: The same for functions that only compiled code calls: without the part that takes arguments from Python.
within: Any = numba.njit(**_ALWAYS, **_INSIDE)
#: The same for functions that make no arrays: nobody counts references to those that they are given.
counting_nothing: Any = numba.njit(**_ALWAYS, **(_INSIDE | {"_nrt": False}))
#: For the bodies that `shared` gives.
called: Any = intrinsic


def direct(function: Any) -> Any:
    """Call a compiled function without looking at the types of its arguments each time.

    With records of dozens of arrays that look takes longer than to hand them over.

    Parameters
    ----------
    function : dispatcher
        Compiled as `compiled`.

    Returns
    -------
    callable
        Of the same arguments. Those of the first call settle the types: arrays of all later calls must have the same
        numbers of axes and kinds of numbers, and lie row after row, since nobody looks any more.
    """
    entry: Any = None

    def call(*given: Any) -> Any:
        nonlocal entry
        if entry is None:
            found = function(*given)
            entry = function.overloads[tuple(function.typeof_pyval(one) for one in given)].entry_point
            return found
        return entry(*given)

    return call


def shared(function: Any, variants: tuple[tuple[Any, ...], ...], name: str) -> Any:
    """Compile a large function once, for compiled code to call by its address.

    The compiler takes a copy of every function into each that calls it, and works through all of it again. That is
    what makes small functions fast, and what makes a large one with many callers take minutes to compile.

    Parameters
    ----------
    function : dispatcher
        Compiled as `within` or `compiled`; it returns nothing.
    variants : tuple of tuple
        Types of its arguments, for the compiler, once for each way to call it.
    name : str
        By which it is known in the process.

    Returns
    -------
    callable
        For the body of a function decorated as `called`, which compiled code can call.
    """
    if numba.config.DISABLE_JIT:  # type: ignore[attr-defined]
        # Nothing is compiled and nothing has an address: what needs no solution can be run all the same.
        return function
    symbols = {}
    for number, arguments in enumerate(variants):
        function.compile(arguments)
        made = function.overloads[arguments]
        symbols[arguments] = f"feedproof_{name}_{number}"
        address = made.library.get_pointer_to_function(made.fndesc.llvm_func_name)
        llvmlite.binding.add_symbol(symbols[arguments], address)

    def typed(*given: Any) -> Any:
        if given not in symbols:
            raise TypingError(f"{name} takes {variants}, not {given}")

        def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:  # noqa: ARG001
            kind = context.call_conv.get_function_type(types.none, given)
            target = cgutils.get_or_insert_function(builder.module, kind, symbols[given])
            status, result = context.call_conv.call_function(builder, target, types.none, given, args)
            with cgutils.if_unlikely(builder, status.is_error):
                context.call_conv.return_status_propagate(builder, status)
            return result

        return types.none(*given), lower

    return typed
