"""Many numbers at once: a value of compiled code that the processor adds and multiplies in few instructions.

A draw of the circuit is a few hundred multiplications in an order that never changes, so many draws go through it
side by side, one in each lane. The compiler does not find this by itself: it cannot know that the arrays of a
circuit's solution do not overlap. So the lanes are a type of their own here, with the arithmetic they need, and the
code that uses them reads like that for one number. Where a processor has shorter registers, the compiler splits the
lanes; what comes out is the same on all, since no operation mixes lanes or depends on their number.

There are two widths. A climb has `LANES` starts; of draws there are hundreds, and `WIDE` of them side by side share
what it costs to find the way through the lists of a circuit. In arrays the lanes come last, row-major: shape (..., 8)
for the former, shape (..., 4, 8) for the latter. So how many axes an index leaves says how wide a value is, and the
same code does for both.
"""

import math
import operator
from typing import Any, TypeAlias

import numpy as np
from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.core.errors import TypingError
from numba.core.typeconv.castgraph import Conversion
from numba.core.typing.templates import ConcreteTemplate, infer_global, signature
from numba.extending import intrinsic, lower_builtin, lower_cast, models, register_model
from numpy.typing import NDArray

from feedproof.circuit.compiling import compiled

FloatArray = NDArray[np.float64]

LANES = 8
"""How many climbs go side by side [1]."""
ROWS = 4
WIDE = ROWS * LANES
"""How many draws go side by side [1]."""

_F64, _I64 = ir.DoubleType(), ir.IntType(64)
#: Arrays of numpy begin where a number may begin, not where eight may.
_ALIGN = 8


#: A function of compiled code, whose own type checks its arguments: outside it has none.
_public: Any = intrinsic
Lanes: TypeAlias = Any
"""Numbers side by side, in compiled code; a single number where one is as good."""


class LanesType(types.Type):
    """Type of numbers side by side, for the compiler; a number becomes them where a branch's other way has them."""

    def __init__(self, width: int) -> None:
        self.width = width
        self.vector = ir.VectorType(_F64, width)
        self.integers = ir.VectorType(_I64, width)
        super().__init__(name=f"Lanes({width})")

    def can_convert_from(self, typingctx: Any, other: Any) -> Any:  # noqa: ARG002
        """Say that a number can stand in all lanes."""
        return Conversion.safe if other == types.float64 else None


NARROW_TYPE, WIDE_TYPE = LanesType(LANES), LanesType(WIDE)


@register_model(LanesType)
class _LanesModel(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: Any) -> None:
        super().__init__(manager, kind, kind.vector)


# --- arithmetic -----------------------------------------------------------------------------------------------------


def _splat(builder: Any, kind: Any, number: Any) -> Any:
    """All lanes alike."""
    nothing = ir.Constant(kind.vector, ir.Undefined)
    one = builder.insert_element(nothing, number, ir.Constant(ir.IntType(32), 0))
    return builder.shuffle_vector(one, nothing, ir.Constant(ir.VectorType(ir.IntType(32), kind.width), None))


def _as_lanes(context: Any, builder: Any, wanted: Any, kind: Any, value: Any) -> Any:
    if isinstance(kind, LanesType):
        return value
    return _splat(builder, wanted, context.cast(builder, value, kind, types.float64))


def _all_alike(context: Any, builder: Any, fromty: Any, toty: Any, value: Any) -> Any:  # noqa: ARG001
    return _splat(builder, toty, value)


lower_cast(types.float64, LanesType)(_all_alike)


def _arithmetic(function: Any, instruction: str) -> None:
    """Let the compiler know one of the four operations on lanes, and on lanes and a number."""
    sides = [
        (kind, *pair)
        for kind in (NARROW_TYPE, WIDE_TYPE)
        for pair in ((kind, kind), (kind, types.float64), (types.float64, kind))
    ]

    class _Template(ConcreteTemplate):
        cases = [signature(*sided) for sided in sides]  # noqa: RUF012

    infer_global(function)(_Template)

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        left, right = (
            _as_lanes(context, builder, sig.return_type, kind, value)
            for kind, value in zip(sig.args, args, strict=True)
        )
        return getattr(builder, instruction)(left, right)

    for _, *pair in sides:
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
    cases = [signature(kind, kind) for kind in (NARROW_TYPE, WIDE_TYPE)]  # noqa: RUF012


@lower_builtin(operator.neg, LanesType)
def _negate(context: Any, builder: Any, sig: Any, args: Any) -> Any:  # noqa: ARG001
    return builder.fneg(args[0])


def _wide_one(*kinds: Any) -> Any:
    """The type of lanes among some types; the compiler tries a number first where both ways of a branch differ."""
    found = [kind for kind in kinds if isinstance(kind, LanesType)]
    if not found:
        raise TypingError(f"lanes are wanted, not {kinds}")
    return found[0]


# --- to and from arrays ---------------------------------------------------------------------------------------------


def _kind_at(array: Any, index: Any) -> LanesType:
    """Lanes that an index leaves of an array: those of its last axis, or of its last two."""
    several: Any = types.BaseTuple
    left = array.ndim - (len(index) if isinstance(index, several) else 1)
    if left not in {1, 2}:
        raise TypingError(f"an index of {array} must leave the axis of the lanes, or both, not {left}")
    return NARROW_TYPE if left == 1 else WIDE_TYPE


def _pointer(context: Any, builder: Any, kinds: tuple[Any, ...], args: Any) -> Any:
    """Address of the first lane at an index, which names all axes but those of the lanes."""
    array_type, index_type = kinds[:2]
    several: Any = types.BaseTuple
    if isinstance(index_type, several):
        parts = list(zip(cgutils.unpack_tuple(builder, args[1]), index_type, strict=True))
    else:
        parts = [(args[1], index_type)]
    indices = [context.cast(builder, part, own, types.intp) for part, own in parts]
    indices += [ir.Constant(_I64, 0)] * (array_type.ndim - len(indices))
    made = context.make_array(array_type)(context, builder, args[0])
    return cgutils.get_item_pointer(context, builder, array_type, made, indices, wraparound=False)


@_public
def load(typing: Any, array: Any, index: Any) -> Any:  # noqa: ARG001
    """Numbers of an array, side by side: those at `index`, which names all axes but those of the lanes."""
    kind = _kind_at(array, index)

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        at = builder.bitcast(_pointer(context, builder, sig.args, args), kind.vector.as_pointer())
        return builder.load(at, align=_ALIGN)

    return kind(array, index), lower


@_public
def store(typing: Any, array: Any, index: Any, value: Any) -> Any:  # noqa: ARG001
    """Write numbers side by side into an array at `index`, or one number into all lanes."""
    kind = _kind_at(array, index)
    if isinstance(value, LanesType) and value != kind:
        raise TypingError(f"{value} do not fit into {array} at {index}")

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        at = builder.bitcast(_pointer(context, builder, sig.args, args), kind.vector.as_pointer())
        builder.store(_as_lanes(context, builder, kind, sig.args[2], args[2]), at, align=_ALIGN)
        return context.get_dummy_value()

    return types.none(array, index, value), lower


@_public
def width(typing: Any, array: Any, index: Any) -> Any:  # noqa: ARG001
    """How many lanes an array has at `index` [1]."""
    kind = _kind_at(array, index)

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:  # noqa: ARG001
        return ir.Constant(_I64, kind.width)

    return types.intp(array, index), lower


@_public
def get(typing: Any, array: Any, index: Any, lane: Any) -> Any:  # noqa: ARG001
    """One of the numbers at `index`."""

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        first = _pointer(context, builder, sig.args, args)
        return builder.load(builder.gep(first, [context.cast(builder, args[2], sig.args[2], types.intp)]))

    return array.dtype(array, index, lane), lower


@_public
def put(typing: Any, array: Any, index: Any, lane: Any, value: Any) -> Any:  # noqa: ARG001
    """Write one of the numbers at `index`."""

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        first = _pointer(context, builder, sig.args, args)
        number = context.cast(builder, args[3], sig.args[3], sig.args[0].dtype)
        builder.store(number, builder.gep(first, [context.cast(builder, args[2], sig.args[2], types.intp)]))
        return context.get_dummy_value()

    return types.none(array, index, lane, value), lower


@_public
def gathered(typing: Any, array: Any, place: Any) -> Any:  # noqa: ARG001
    """Numbers of an array taken as one row, one for each lane: at the whole part of `place`, which is not checked."""
    kind = _wide_one(place)

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        data = context.make_array(sig.args[0])(context, builder, args[0]).data
        first = builder.ptrtoint(data, _I64)
        count = builder.fptosi(args[1], kind.integers)
        zeros = ir.Constant(ir.VectorType(ir.IntType(32), kind.width), None)
        nothing = ir.Constant(kind.integers, ir.Undefined)
        firsts = builder.shuffle_vector(
            builder.insert_element(nothing, first, ir.Constant(ir.IntType(32), 0)), nothing, zeros
        )
        addresses = builder.add(firsts, builder.shl(count, ir.Constant(kind.integers, [3] * kind.width)))
        pointers = ir.VectorType(_F64.as_pointer(), kind.width)
        every, bit = ir.VectorType(ir.IntType(1), kind.width), ir.IntType(1)
        name = f"llvm.masked.gather.v{kind.width}f64.v{kind.width}p0"
        function_type = ir.FunctionType(kind.vector, [pointers, ir.IntType(32), every, kind.vector])
        function = cgutils.get_or_insert_function(builder.module, function_type, name)
        mask = ir.Constant(every, [ir.Constant(bit, 1)] * kind.width)
        return builder.call(
            function,
            [
                builder.inttoptr(addresses, pointers),
                ir.Constant(ir.IntType(32), _ALIGN),
                mask,
                ir.Constant(kind.vector, ir.Undefined),
            ],
        )

    return kind(array, place), lower


# --- functions ------------------------------------------------------------------------------------------------------


def _call(builder: Any, kind: Any, name: str, *args: Any) -> Any:
    function_type = ir.FunctionType(kind.vector, [kind.vector] * len(args))
    function = cgutils.get_or_insert_function(builder.module, function_type, f"{name}.v{kind.width}f64")
    return builder.call(function, args)


def _unary(name: str, doc: str) -> Any:
    def typed(typing: Any, value: Any) -> Any:  # noqa: ARG001
        def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:  # noqa: ARG001
            return _call(builder, sig.return_type, name, args[0])

        return _wide_one(value)(value), lower

    typed.__doc__ = doc
    return _public(typed)


root = _unary("llvm.sqrt", "Square root of each lane.")
absolute = _unary("llvm.fabs", "Magnitude of each lane.")
whole = _unary("llvm.floor", "Largest whole number below each lane.")


def _greatest(comparison: str, doc: str) -> Any:
    def typed(typing: Any, first: Any, second: Any) -> Any:  # noqa: ARG001
        kind = _wide_one(first, second)

        def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
            left, right = (
                _as_lanes(context, builder, kind, own, value) for own, value in zip(sig.args, args, strict=True)
            )
            return builder.select(builder.fcmp_ordered(comparison, left, right), left, right)

        return kind(first, second), lower

    typed.__doc__ = doc
    return _public(typed)


larger = _greatest(">", "The larger of two in each lane.")
smaller = _greatest("<", "The smaller of two in each lane.")


@_public
def chosen(typing: Any, which: Any, first: Any, second: Any) -> Any:  # noqa: ARG001
    """Take the first in each lane where `which` is above zero, the second elsewhere."""
    kind = _wide_one(which)

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        left, right = (
            _as_lanes(context, builder, kind, own, value) for own, value in zip(sig.args[1:], args[1:], strict=True)
        )
        return builder.select(builder.fcmp_ordered(">", args[0], ir.Constant(kind.vector, None)), left, right)

    return kind(which, first, second), lower


#: exp x = 2^n exp r with |r| <= ln 2 / 2, r in two parts (Cody and Waite), exp r by its series; the first term left
#: out is below 5e-18.
_LOG2_E = 1.4426950408889634
_LN2_HIGH, _LN2_LOW = 6.93147180369123816490e-01, 1.90821492927058770002e-10
_SERIES = [1.0]
for _k in range(1, 14):
    _SERIES.append(_SERIES[-1] / _k)
_LEAST, _MOST = -708.0, 709.0


@_public
def every(typing: Any, first: Any, second: Any) -> Any:  # noqa: ARG001
    """Whether the first is the larger one in every lane."""
    kind = _wide_one(first, second)

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        left, right = (_as_lanes(context, builder, kind, own, value) for own, value in zip(sig.args, args, strict=True))
        bits = builder.bitcast(builder.fcmp_ordered(">", left, right), ir.IntType(kind.width))
        return builder.icmp_unsigned("==", bits, ir.Constant(ir.IntType(kind.width), -1))

    return types.boolean(first, second), lower


@_public
def exponential(typing: Any, value: Any) -> Any:  # noqa: ARG001
    """Exponential of each lane; the argument is held between -708 and 709, where a double can tell.

    References
    ----------
    .. [1] W. J. Cody, W. Waite, "Software Manual for the Elementary Functions" (1980), chapter 6: reduction of the
       argument (from memory; held against the library's by a test).
    """

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:  # noqa: ARG001
        kind = sig.return_type

        def constant(number: float) -> Any:
            return ir.Constant(kind.vector, [number] * kind.width)

        def integer(number: int) -> Any:
            return ir.Constant(kind.integers, [number] * kind.width)

        x = args[0]
        x = builder.select(builder.fcmp_ordered("<", x, constant(_MOST)), x, constant(_MOST))
        x = builder.select(builder.fcmp_ordered(">", x, constant(_LEAST)), x, constant(_LEAST))
        n = _call(builder, kind, "llvm.rint", builder.fmul(x, constant(_LOG2_E)))
        r = builder.fsub(x, builder.fmul(n, constant(_LN2_HIGH)))
        r = builder.fsub(r, builder.fmul(n, constant(_LN2_LOW)))
        total = constant(_SERIES[-1])
        for term in reversed(_SERIES[:-1]):
            total = builder.fadd(builder.fmul(total, r), constant(term))
        bits = builder.add(builder.fptosi(n, kind.integers), integer(1023))
        power = builder.bitcast(builder.shl(bits, integer(52)), kind.vector)
        return builder.fmul(total, power)

    return _wide_one(value)(value), lower


@_public
def _exponent_and_rest(typing: Any, value: Any) -> Any:  # noqa: ARG001
    """Split each positive lane into a power of two and a factor near one, the power as a number."""
    kind = _wide_one(value)

    def lower(context: Any, builder: Any, sig: Any, args: Any) -> Any:
        def integer(number: int) -> Any:
            return ir.Constant(kind.integers, [number] * kind.width)

        bits = builder.bitcast(args[0], kind.integers)
        # Counted from sqrt(1/2), so that the factor lies between sqrt(1/2) and sqrt(2).
        shifted = builder.sub(bits, integer(_ROOT_HALF_BITS))
        power = builder.ashr(shifted, integer(52))
        rest = builder.bitcast(builder.sub(bits, builder.shl(power, integer(52))), kind.vector)
        return context.make_tuple(builder, sig.return_type, [builder.sitofp(power, kind.vector), rest])

    return types.UniTuple(value, 2)(value), lower


_ROOT_HALF_BITS = int(np.array(math.sqrt(0.5)).view(np.int64))
#: ln f = 2 artanh s with s = (f - 1) / (f + 1), |s| < 0.172; the first term left out is below 3e-17.
_ARTANH = np.array([2.0 / (2 * k + 1) for k in range(10)][::-1])


@compiled
def logarithm(value: Lanes) -> Lanes:
    """Natural logarithm of each lane, of normal positive numbers."""
    power, rest = _exponent_and_rest(value)
    s = (rest - 1.0) / (rest + 1.0)
    square = s * s
    series = 0.0
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
    held = larger(smaller(angle, _FURTHEST), -_FURTHEST)
    square = held * held
    cosine, sine = 0.0, 0.0
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
    ndarray, shape (rows, 8)
        To be reshaped where more axes are wanted [1].
    """
    flat = np.zeros((rows + 1) * LANES)
    first = (-(flat.ctypes.data // 8)) % LANES
    return flat[first : first + rows * LANES].reshape(rows, LANES)


@compiled
def wide_room(rows: int) -> FloatArray:
    """The same for the lanes of draws.

    Parameters
    ----------
    rows : int
        How many [1].

    Returns
    -------
    ndarray, shape (rows, 4, 8)
        To be reshaped where more axes are wanted [1].
    """
    return room(rows * ROWS).reshape(rows, ROWS, LANES)
