"""Eight numbers at once: a value of compiled code that the processor adds and multiplies in one instruction.

A draw of the circuit is a few hundred multiplications in an order that never changes, so eight draws go through it
side by side, one in each lane. The compiler does not find this by itself: it cannot know that the arrays of a
circuit's solution do not overlap. So the lanes are a type of their own here, with the arithmetic they need, and the
code that uses them reads like that for one number. Where a processor has shorter registers, the compiler splits the
lanes; what comes out is the same on all, since no operation mixes lanes or depends on their number.

In arrays the lanes are the last axis: shape (..., 8), row-major.
"""

import math
import operator
from typing import Any, TypeAlias

import numpy as np
from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.core.typing.templates import ConcreteTemplate, infer_global, signature
from numba.extending import intrinsic, lower_builtin, models, register_model
from numpy.typing import NDArray

from feedproof.circuit.compiling import compiled

FloatArray = NDArray[np.float64]

LANES = 8
"""How many draws go side by side [1]."""

_F64, _I64 = ir.DoubleType(), ir.IntType(64)
_VECTOR = ir.VectorType(_F64, LANES)
_INTEGERS = ir.VectorType(_I64, LANES)
#: Arrays of numpy begin where a number may begin, not where eight may.
_ALIGN = 8


#: A function of compiled code, whose own type checks its arguments: outside it has none.
_public: Any = intrinsic
Lanes: TypeAlias = Any
"""Eight numbers, in compiled code."""


class LanesType(types.Type):
    """Type of eight numbers side by side, for the compiler."""

    def __init__(self) -> None:
        super().__init__(name="Lanes")


lanes_type = LanesType()


@register_model(LanesType)
class _LanesModel(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: Any) -> None:
        super().__init__(manager, kind, _VECTOR)


# --- arithmetic -----------------------------------------------------------------------------------------------------


def _splat(builder: Any, number: Any) -> Any:
    """All lanes alike."""
    one = builder.insert_element(ir.Constant(_VECTOR, ir.Undefined), number, ir.Constant(ir.IntType(32), 0))
    zeros = ir.Constant(ir.VectorType(ir.IntType(32), LANES), None)
    return builder.shuffle_vector(one, ir.Constant(_VECTOR, ir.Undefined), zeros)


def _as_lanes(builder: Any, kind: Any, value: Any) -> Any:
    return value if isinstance(kind, LanesType) else _splat(builder, value)


def _arithmetic(function: Any, instruction: str) -> None:
    """Let the compiler know one of the four operations on lanes, and on lanes and a number."""
    pairs = ((lanes_type, lanes_type), (lanes_type, types.float64), (types.float64, lanes_type))

    class _Template(ConcreteTemplate):
        cases = [signature(lanes_type, *pair) for pair in pairs]  # noqa: RUF012

    infer_global(function)(_Template)

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:  # noqa: ARG001
        left, right = (_as_lanes(builder, kind, value) for kind, value in zip(sig.args, args, strict=True))
        return getattr(builder, instruction)(left, right)

    for pair in pairs:
        lower_builtin(function, *pair)(lower)


for _function, _instruction in (
    (operator.add, "fadd"),
    (operator.iadd, "fadd"),
    (operator.sub, "fsub"),
    (operator.isub, "fsub"),
    (operator.mul, "fmul"),
    (operator.imul, "fmul"),
    (operator.truediv, "fdiv"),
):
    _arithmetic(_function, _instruction)


@infer_global(operator.neg)
class _Negation(ConcreteTemplate):
    cases = [signature(lanes_type, lanes_type)]  # noqa: RUF012


@lower_builtin(operator.neg, lanes_type)
def _negate(context: Any, builder: Any, sig: Any, args: Any) -> Any:  # noqa: ARG001
    return builder.fneg(args[0])


# --- to and from arrays ---------------------------------------------------------------------------------------------


def _pointer(context: Any, builder: Any, array_type: Any, array: Any, indices: list[Any]) -> Any:
    """Address of the first lane at an index."""
    made = context.make_array(array_type)(context, builder, array)
    whole = [*indices, ir.Constant(_I64, 0)]
    at = cgutils.get_item_pointer(context, builder, array_type, made, whole, wraparound=False)
    return builder.bitcast(at, _VECTOR.as_pointer())


def _index(context: Any, builder: Any, kind: Any, value: Any) -> list[Any]:
    """Index of all axes but that of the lanes."""
    several: Any = types.BaseTuple
    if isinstance(kind, several):
        parts = cgutils.unpack_tuple(builder, value)
        return [context.cast(builder, part, own, types.intp) for part, own in zip(parts, kind, strict=True)]
    return [context.cast(builder, value, kind, types.intp)]


@_public
def load(typing: Any, array: Any, index: Any) -> Any:  # noqa: ARG001
    """Eight numbers of an array: those at `index`, which names all axes but the last."""

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        indices = _index(context, builder, sig.args[1], args[1])
        return builder.load(_pointer(context, builder, sig.args[0], args[0], indices), align=_ALIGN)

    return lanes_type(array, index), lower


@_public
def store(typing: Any, array: Any, index: Any, value: Any) -> Any:  # noqa: ARG001
    """Write eight numbers into an array at `index`."""

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        indices = _index(context, builder, sig.args[1], args[1])
        builder.store(args[2], _pointer(context, builder, sig.args[0], args[0], indices), align=_ALIGN)
        return context.get_dummy_value()

    return types.none(array, index, value), lower


@_public
def splat(typing: Any, number: Any) -> Any:  # noqa: ARG001
    """Give all lanes the same number."""

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        return _splat(builder, context.cast(builder, args[0], sig.args[0], types.float64))

    return lanes_type(number), lower


# --- functions ------------------------------------------------------------------------------------------------------


def _call(builder: Any, name: str, *args: Any) -> Any:
    kind = ir.FunctionType(_VECTOR, [_VECTOR] * len(args))
    function = cgutils.get_or_insert_function(builder.module, kind, f"{name}.v{LANES}f64")
    return builder.call(function, args)


def _unary(name: str, doc: str) -> Any:
    def typed(typing: Any, value: Any) -> Any:  # noqa: ARG001
        def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:  # noqa: ARG001
            return _call(builder, name, args[0])

        return lanes_type(value), lower

    typed.__doc__ = doc
    return _public(typed)


root = _unary("llvm.sqrt", "Square root of each lane.")
absolute = _unary("llvm.fabs", "Magnitude of each lane.")


@_public
def larger(typing: Any, first: Any, second: Any) -> Any:  # noqa: ARG001
    """Return the larger of two in each lane."""

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:  # noqa: ARG001
        left, right = (_as_lanes(builder, kind, value) for kind, value in zip(sig.args, args, strict=True))
        return builder.select(builder.fcmp_ordered(">", left, right), left, right)

    return lanes_type(first, second), lower


@_public
def smaller(typing: Any, first: Any, second: Any) -> Any:  # noqa: ARG001
    """Return the smaller of two in each lane."""

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:  # noqa: ARG001
        left, right = (_as_lanes(builder, kind, value) for kind, value in zip(sig.args, args, strict=True))
        return builder.select(builder.fcmp_ordered("<", left, right), left, right)

    return lanes_type(first, second), lower


#: exp x = 2^n exp r with |r| <= ln 2 / 2, r in two parts (Cody and Waite), exp r by its series; the first term left
#: out is below 5e-18.
_LOG2_E = 1.4426950408889634
_LN2_HIGH, _LN2_LOW = 6.93147180369123816490e-01, 1.90821492927058770002e-10
_SERIES = [1.0]
for _k in range(1, 14):
    _SERIES.append(_SERIES[-1] / _k)
_LEAST, _MOST = -708.0, 709.0


@_public
def exponential(typing: Any, value: Any) -> Any:  # noqa: ARG001
    """Exponential of each lane; the argument is held between -708 and 709, where a double can tell.

    References
    ----------
    .. [1] W. J. Cody, W. Waite, "Software Manual for the Elementary Functions" (1980), chapter 6: reduction of the
       argument (from memory; held against the library's by a test).
    """

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:  # noqa: ARG001
        def constant(number: float) -> Any:
            return ir.Constant(_VECTOR, [number] * LANES)

        x = args[0]
        x = builder.select(builder.fcmp_ordered("<", x, constant(_MOST)), x, constant(_MOST))
        x = builder.select(builder.fcmp_ordered(">", x, constant(_LEAST)), x, constant(_LEAST))
        n = _call(builder, "llvm.rint", builder.fmul(x, constant(_LOG2_E)))
        r = builder.fsub(x, builder.fmul(n, constant(_LN2_HIGH)))
        r = builder.fsub(r, builder.fmul(n, constant(_LN2_LOW)))
        total = constant(_SERIES[-1])
        for term in reversed(_SERIES[:-1]):
            total = builder.fadd(builder.fmul(total, r), constant(term))
        whole = builder.fptosi(n, _INTEGERS)
        bits = builder.add(whole, ir.Constant(_INTEGERS, [1023] * LANES))
        power = builder.bitcast(builder.shl(bits, ir.Constant(_INTEGERS, [52] * LANES)), _VECTOR)
        return builder.fmul(total, power)

    return lanes_type(value), lower


@_public
def _exponent_and_rest(typing: Any, value: Any) -> Any:  # noqa: ARG001
    """Split each positive lane into a power of two and a factor near one, the power as a number."""

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        def integers(number: int) -> Any:
            return ir.Constant(_INTEGERS, [number] * LANES)

        bits = builder.bitcast(args[0], _INTEGERS)
        # Counted from sqrt(1/2), so that the factor lies between sqrt(1/2) and sqrt(2).
        shifted = builder.sub(bits, integers(_ROOT_HALF_BITS))
        power = builder.ashr(shifted, integers(52))
        rest = builder.bitcast(builder.sub(bits, builder.shl(power, integers(52))), _VECTOR)
        return context.make_tuple(builder, sig.return_type, [builder.sitofp(power, _VECTOR), rest])

    return types.UniTuple(lanes_type, 2)(value), lower


_ROOT_HALF_BITS = int(np.array(math.sqrt(0.5)).view(np.int64))
#: ln f = 2 artanh s with s = (f - 1) / (f + 1), |s| < 0.172; the first term left out is below 3e-17.
_ARTANH = np.array([2.0 / (2 * k + 1) for k in range(10)][::-1])


@compiled
def logarithm(value: Lanes) -> Lanes:
    """Natural logarithm of each lane, of normal positive numbers."""
    power, rest = _exponent_and_rest(value)
    s = (rest - 1.0) / (rest + 1.0)
    square = s * s
    series = splat(0.0)
    for k in range(_ARTANH.size):
        series = series * square + _ARTANH[k]
    return power * _LN2_HIGH + (power * _LN2_LOW + s * series)


#: Series of the cosine and the sine in squares; the first terms left out are below 1e-15 within `_FURTHEST`.
_TURNS = 12
_COSINE = np.array([(-1.0) ** k / math.factorial(2 * k) for k in range(_TURNS)][::-1])
_SINE = np.array([(-1.0) ** k / math.factorial(2 * k + 1) for k in range(_TURNS)][::-1])
_FURTHEST = 2.5


@compiled
def cosine_sine(angle: Lanes) -> tuple[Lanes, Lanes]:
    """Cosine and sine of each lane; angles are held between -2.5 and 2.5, further than any load turns [rad]."""
    held = larger(smaller(angle, splat(_FURTHEST)), splat(-_FURTHEST))
    square = held * held
    cosine, sine = splat(0.0), splat(0.0)
    for k in range(_TURNS):
        cosine = cosine * square + _COSINE[k]
        sine = sine * square + _SINE[k]
    return cosine, sine * held


# --- room -----------------------------------------------------------------------------------------------------------


@compiled
def room(rows: int) -> FloatArray:
    """Zeros for lanes, that begin where the processor fetches: else each row would be fetched in two parts.

    Parameters
    ----------
    rows : int
        How many [1].

    Returns
    -------
    ndarray, shape (rows, lanes)
        To be reshaped where more axes are wanted [1].
    """
    flat = np.zeros((rows + 1) * LANES)
    first = (-(flat.ctypes.data // 8)) % LANES
    return flat[first : first + rows * LANES].reshape(rows, LANES)
