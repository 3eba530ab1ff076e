"""All structural faults of a document at once.

The typed decoder stops at the first fault, which is right for speed and wrong for a person who must mend a
request. After it has refused, this module walks the same types over the plain document and lists every
fault with its JSON pointer. It also mends a copy of the document, so that the checks that need a whole
request can run as well and all faults of a request are told in one answer.
"""

import difflib
import math
import re
from functools import cache
from typing import NamedTuple, TypeVar

import msgspec
from msgspec import inspect

from feedproof.contract.problem import RequestFault
from feedproof.parsing.diagnostics import LARGEST, MAX_ECHO, echo, escape

T = TypeVar("T")


class Examined(NamedTuple):
    """What the walk found, and the mended document."""

    mended: object
    faults: list[RequestFault]
    broken: frozenset[str]
    """Pointers whose value in the mended document is a stand-in."""


class _Broken:
    """Stands where a value could not be used."""


_BROKEN = _Broken()


def _kind(value: object) -> str:
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "a boolean"
    if isinstance(value, int | float):
        return "a number"
    if isinstance(value, str):
        return "a string"
    return "a list" if isinstance(value, list) else "an object"


def _expected(kind: inspect.Type) -> str:
    match kind:
        case inspect.UnionType():
            parts = [_expected(t) for t in kind.types if not isinstance(t, inspect.NoneType)]
            return " or ".join(dict.fromkeys(parts))
        case inspect.Metadata():
            return _expected(kind.type)
        case inspect.FloatType() | inspect.IntType():
            return "a number"
        case inspect.StrType() | inspect.LiteralType():
            return "a string"
        case inspect.BoolType():
            return "a boolean"
        case inspect.ListType():
            return "a list"
    return "an object"


def _tags(kind: inspect.UnionType) -> dict[object, inspect.StructType]:
    structs = [_bare(t) for t in kind.types]
    return {t.tag: t for t in structs if isinstance(t, inspect.StructType) and t.tag is not None}


def _form(kind: inspect.Type) -> str | None:
    while isinstance(kind, inspect.Metadata):
        if kind.extra is not None and "accepted" in kind.extra:
            return str(kind.extra["accepted"])
        kind = kind.type
    return None


def _bare(kind: inspect.Type) -> inspect.Type:
    while isinstance(kind, inspect.Metadata):
        kind = kind.type
    return kind


class _Walk:
    """One walk over one document."""

    def __init__(self) -> None:
        self.faults: list[RequestFault] = []
        self.broken: set[str] = set()

    def fault(self, pointer: str, code: str, detail: str, accepted: list[str], value: object = None) -> _Broken:
        self.broken.add(pointer)
        self.faults.append(
            RequestFault(pointer=pointer, code=code, detail=detail, accepted=accepted, value=echo(value))
        )
        return _BROKEN

    def wrong_type(self, pointer: str, value: object, kind: inspect.Type) -> _Broken:
        wanted = _expected(kind)
        return self.fault(pointer, "wrong_type", f"{_kind(value)}, where {wanted} is expected", [wanted], value)

    def walk(self, value: object, kind: inspect.Type, pointer: str) -> object:
        form = _form(kind)
        kind = _bare(kind)
        match kind:
            case inspect.StructType():
                return self.struct(value, kind, pointer)
            case inspect.UnionType():
                return self.union(value, kind, pointer)
            case inspect.ListType():
                return self.list(value, kind, pointer)
            case inspect.DictType():
                return self.dict(value, kind, pointer)
            case inspect.FloatType() | inspect.IntType():
                return self.number(value, kind, pointer)
            case inspect.StrType():
                return self.text(value, kind, pointer, form)
            case inspect.LiteralType():
                return self.literal(value, kind, pointer)
            case inspect.BoolType():
                return value if isinstance(value, bool) else self.wrong_type(pointer, value, kind)
        return value

    def struct(self, value: object, kind: inspect.StructType, pointer: str) -> object:
        if not isinstance(value, dict):
            return self.wrong_type(pointer, value, kind)
        mended: dict[str, object] = {}
        known = {f.encode_name: f for f in kind.fields}
        if kind.tag_field is not None:
            mended[kind.tag_field] = kind.tag
        for name, item in value.items():
            if name in known or name == kind.tag_field:
                continue
            names = [kind.tag_field, *known] if kind.tag_field else list(known)
            self.fault(f"{pointer}/{escape(name)}", "unknown_field", _unknown(name, names), names, item)
        for name, field in known.items():
            below = f"{pointer}/{name}"
            if name in value:
                item = self.walk(value[name], field.type, below)
            elif field.required:
                wanted = _expected(field.type)
                item = self.fault(below, "missing", f"'{name}' is required: {wanted}", [wanted])
            else:
                continue
            if not isinstance(item, _Broken):
                mended[name] = item
            elif field.required:
                mended[name] = _stand_in(field.type)
        return mended

    def union(self, value: object, kind: inspect.UnionType, pointer: str) -> object:
        members = [t for t in map(_bare, kind.types) if not isinstance(t, inspect.NoneType)]
        if value is None and len(members) < len(kind.types):
            return None
        if len(members) == 1:
            only = next(t for t in kind.types if not isinstance(_bare(t), inspect.NoneType))
            return self.walk(value, only, pointer)
        tags = _tags(kind)
        if not tags:
            fitting = [t for t in members if isinstance(t, _kinds_of(value))]
            return self.walk(value, fitting[0], pointer) if fitting else self.wrong_type(pointer, value, kind)
        if not isinstance(value, dict):
            return self.wrong_type(pointer, value, kind)
        names = [str(tag) for tag in tags]
        field = str(next(iter(tags.values())).tag_field)
        if field not in value:
            return self.as_broken(pointer, f"{pointer}/{field}", "missing", f"'{field}' is required", names)
        tag = value[field]
        if not isinstance(tag, str) or tag not in tags:
            detail = _not_one_of(tag, names)
            return self.as_broken(pointer, f"{pointer}/{field}", "not_accepted", detail, names, tag)
        return self.walk(value, tags[tag], pointer)

    def as_broken(
        self, whole: str, pointer: str, code: str, detail: str, accepted: list[str], value: object = None
    ) -> _Broken:
        self.broken.add(whole)
        return self.fault(pointer, code, detail, accepted, value)

    def list(self, value: object, kind: inspect.ListType, pointer: str) -> object:
        if not isinstance(value, list):
            return self.wrong_type(pointer, value, kind)
        low, high = kind.min_length or 0, kind.max_length if kind.max_length is not None else math.inf
        wrong_length = not low <= len(value) <= high
        if wrong_length:
            span = f"{low}" if low == high else f"{low} to {high:.0f}"
            self.fault(pointer, "wrong_length", f"{len(value)} items; {span} accepted", [f"{span} items"])
        item_kind = kind.item_type
        mended: list[object] = []
        for index, item in enumerate(value[: int(min(high, len(value)))]):
            walked = self.walk(item, item_kind, f"{pointer}/{index}")
            if isinstance(walked, _Broken):
                walked = _stand_in(item_kind)
                if isinstance(_bare(item_kind), inspect.LiteralType):
                    self.broken.add(pointer)
            mended.append(walked)
        return mended if len(mended) >= low else _BROKEN

    def dict(self, value: object, kind: inspect.DictType, pointer: str) -> object:
        if not isinstance(value, dict):
            return self.wrong_type(pointer, value, kind)
        high = kind.max_length if kind.max_length is not None else len(value)
        if len(value) > high:
            self.fault(pointer, "wrong_length", f"{len(value)} entries; at most {high} accepted", [f"at most {high}"])
        mended: dict[str, object] = {}
        for name, item in list(value.items())[:high]:
            below = f"{pointer}/{escape(name)}"
            if isinstance(self.walk(name, kind.key_type, below), _Broken):
                continue
            walked = self.walk(item, kind.value_type, below)
            if not isinstance(walked, _Broken):
                mended[name] = walked
        return mended

    def literal(self, value: object, kind: inspect.LiteralType, pointer: str) -> object:
        choices = [str(v) for v in kind.values]
        if not isinstance(value, str):
            return self.wrong_type(pointer, value, kind)
        if value not in kind.values:
            return self.fault(pointer, "not_accepted", _not_one_of(value, choices), choices, value)
        return value

    def number(self, value: object, kind: inspect.FloatType | inspect.IntType, pointer: str) -> object:
        if isinstance(value, bool) or not isinstance(value, int | float):
            return self.wrong_type(pointer, value, kind)
        if abs(value) > LARGEST:
            return self.fault(pointer, "not_finite", "not a finite number", ["a finite number"], value)
        if (kind.ge is not None and value < kind.ge) or (kind.le is not None and value > kind.le):
            span = f"{kind.ge:g} to {kind.le:g}"
            return self.fault(pointer, "out_of_bounds", f"outside {span}", [span], value)
        if isinstance(kind, inspect.IntType):
            whole = int(value)
            if whole != value:
                return self.fault(pointer, "wrong_type", "not a whole number", ["a whole number"], value)
            return whole
        return float(value)

    def text(self, value: object, kind: inspect.StrType, pointer: str, form: str | None) -> object:
        if not isinstance(value, str):
            return self.wrong_type(pointer, value, kind)
        low, high = kind.min_length or 0, kind.max_length
        if len(value) < low or (high is not None and len(value) > high):
            span = f"{low} to {high} characters"
            return self.fault(pointer, "wrong_length", f"{len(value)} characters; {span} accepted", [span], value)
        if any("\ud800" <= character <= "\udfff" for character in value):
            return self.fault(pointer, "not_accepted", "half of a surrogate pair", ["Unicode text"])
        if kind.pattern is not None and re.search(kind.pattern, value) is None:
            return self.fault(pointer, "not_accepted", f"not {form}", [form or kind.pattern], value)
        return value


def _kinds_of(value: object) -> tuple[type[inspect.Type], ...]:
    """Kinds of type that a value of this JSON kind may be meant for."""
    match value:
        case str():
            return (inspect.StrType, inspect.LiteralType)
        case dict():
            return (inspect.StructType,)
        case int() | float() if not isinstance(value, bool):
            return (inspect.FloatType,)
    return ()


def _not_one_of(value: object, choices: list[str]) -> str:
    shown = str(echo(value))
    near = difflib.get_close_matches(shown, choices, n=1)
    hint = f"; '{near[0]}' is near" if near else ""
    return f"'{shown}' is not one of those accepted{hint}"


def _unknown(name: str, names: list[str]) -> str:
    near = difflib.get_close_matches(name[:MAX_ECHO], names, n=1)
    hint = f"; '{near[0]}' is near" if near else ""
    return f"unknown field '{echo(name)}'{hint}"


def _stand_in(kind: inspect.Type) -> object:
    """Any value that the type accepts."""
    kind = _bare(kind)
    match kind:
        case inspect.UnionType():
            return _stand_in(kind.types[0])
        case inspect.StructType():
            filled = {f.encode_name: _stand_in(f.type) for f in kind.fields if f.required}
            return filled | ({kind.tag_field: kind.tag} if kind.tag_field else {})
        case inspect.LiteralType():
            return kind.values[0]
        case inspect.ListType():
            item = _bare(kind.item_type)
            choices = item.values if isinstance(item, inspect.LiteralType) else ()
            return list(choices[: kind.min_length or 0])
        case inspect.DictType():
            return {}
        case inspect.FloatType():
            return float(kind.ge or 0.0)
        case inspect.BoolType():
            return False
    return "?"


_describe = cache(inspect.type_info)


def examine(document: object, wire_type: type[msgspec.Struct]) -> Examined:
    """List every structural fault of a document.

    Parameters
    ----------
    document : object
        Plain values, as a JSON decoder gives them.
    wire_type : type
        The msgspec Struct that it should be.

    Returns
    -------
    Examined
        The faults, and the document with stand-ins where it was at fault. It converts to `wire_type`.
    """
    walk = _Walk()
    kind = _describe(wire_type)
    mended = walk.walk(document, kind, "")
    if isinstance(mended, _Broken):
        mended = _stand_in(kind)
    return Examined(mended, walk.faults, frozenset(walk.broken))


def convert(examined: Examined, wire_type: type[T]) -> T:
    """Make the typed request of a mended document."""
    return msgspec.convert(examined.mended, wire_type)
