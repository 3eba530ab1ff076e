"""Docstrings of the physics say what is taken and given, in which unit, and where a formula comes from.

They are read as numpydoc. A function that takes or gives a quantity (a float, a complex number, an array of them)
names every parameter, in the order of the signature, and states a unit in brackets for each quantity: `[V]`, `[ohm]`,
`[1]` for a pure number. A function of one parameter may leave the first section out, and one whose summary states the
unit of what it gives the second. Where a docstring holds a formula, it or its module names the source.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "service" / "src" / "feedproof"
PHYSICS = ("circuit", "instruments", "faults", "inference")

QUANTITY = re.compile(r"float|complex|array", re.IGNORECASE)
UNIT = re.compile(r"\[(?:1|%|(?:1/)?[^\W\d][^\]]*)\]")
SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}$", re.MULTILINE)
FORMULA = re.compile(
    r"\.\. math::"  # typeset
    r"|``[^`]*[\w)|] [*/+^−-] [^`]*``"  # in line
    r"|^ {4,}\S.* \+?= .*[*/+^−√Σ·]",  # on a line of its own
    re.MULTILINE,
)

Function = ast.FunctionDef | ast.AsyncFunctionDef


def public_functions(tree: ast.Module) -> Iterator[tuple[str, Function]]:
    """Functions of a module, and methods of its public classes, that callers outside may use."""
    for node in tree.body:
        if isinstance(node, Function) and not node.name.startswith("_"):
            yield node.name, node
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for inner in node.body:
                if isinstance(inner, Function) and not inner.name.startswith("_"):
                    yield f"{node.name}.{inner.name}", inner


def sections(docstring: str) -> dict[str, str]:
    """Text of each section; what comes before the first is under the empty name."""
    parts = SECTION.split(docstring)
    return {"": parts[0], **dict(zip(parts[1::2], parts[2::2], strict=True))}


def parameters(section: str) -> list[tuple[list[str], str]]:
    """Names and text of each entry of a Parameters section."""
    entries: list[tuple[list[str], str]] = []
    for line in section.strip("\n").splitlines():
        if line and not line[0].isspace():
            names = [name.strip().lstrip("*") for name in line.split(":")[0].split(",")]
            entries.append((names, line))
        elif entries:
            entries[-1] = (entries[-1][0], f"{entries[-1][1]}\n{line}")
    return entries


def annotation(node: ast.expr | None) -> str:
    return ast.unparse(node) if node is not None else ""


def defects(source: str) -> list[str]:
    """What the docstrings of a module lack."""
    tree = ast.parse(source)
    module_docstring = ast.get_docstring(tree) or ""
    found = [] if module_docstring else ["the module has no docstring"]
    if FORMULA.search(module_docstring) and "References" not in sections(module_docstring):
        found.append("the module has a formula without References")
    for name, function in public_functions(tree):
        docstring = ast.get_docstring(function)
        if not docstring:
            found.append(f"{name} has no docstring")
            continue
        arguments = [
            argument
            for argument in (
                *function.args.posonlyargs,
                *function.args.args,
                *([function.args.vararg] if function.args.vararg else []),
                *function.args.kwonlyargs,
                *([function.args.kwarg] if function.args.kwarg else []),
            )
            if argument.arg not in {"self", "cls"}
        ]
        quantities = {a.arg for a in arguments if QUANTITY.search(annotation(a.annotation))}
        gives_quantity = bool(QUANTITY.search(annotation(function.returns)))
        text = sections(docstring)
        entries = parameters(text.get("Parameters", ""))
        named = [parameter for names, _ in entries for parameter in names]
        if ("Parameters" in text or (quantities and len(arguments) > 1)) and named != [a.arg for a in arguments]:
            found.append(f"{name} has parameters {[a.arg for a in arguments]}, its docstring has {named}")
        found += [
            f"{name}: no unit for {', '.join(names)}"
            for names, entry in entries
            if quantities & set(names) and not UNIT.search(entry)
        ]
        if gives_quantity and not UNIT.search(text[""] + text.get("Returns", "") + text.get("Yields", "")):
            found.append(f"{name}: no unit in Returns")
        sourced = "References" in text or "References" in sections(module_docstring)
        if FORMULA.search(docstring) and not sourced:
            found.append(f"{name} has a formula without References")
    return found


def test_physics_states_parameters_units_and_sources() -> None:
    paths = [path for package in PHYSICS for path in sorted((PACKAGE / package).rglob("*.py"))]
    found = {str(path.relative_to(PACKAGE)): defects(path.read_text(encoding="utf-8")) for path in paths}
    assert len(found) > 40
    assert {path: lacks for path, lacks in found.items() if lacks} == {}


GOOD = '''"""Loading of a source by a meter."""

def read(source: float, pair: tuple[int, int], *, meter: float) -> float:
    """Voltage that a meter shows: ``V * Zm / (Zm + Zs)``.

    Parameters
    ----------
    source : float
        Open-circuit voltage [V].
    pair : (int, int)
        Nodes.
    meter : float
        Input impedance [ohm].

    Returns
    -------
    float
        Magnitude [V].

    References
    ----------
    .. [1] A textbook.
    """
'''


@pytest.mark.parametrize(
    ("cut", "put", "defect"),
    [
        ("    meter : float\n        Input impedance [ohm].\n", "", "read has parameters"),
        ("    source : float", "    supply : float", "read has parameters"),
        ("Input impedance [ohm].", "Input impedance.", "no unit for meter"),
        ("Input impedance [ohm].", "Input impedance, see table [2].", "no unit for meter"),
        ("Magnitude [V].", "Magnitude.", "no unit in Returns"),
        ("    References\n    ----------\n    .. [1] A textbook.\n", "", "formula without References"),
        ('"""Loading of a source by a meter."""\n', "", "module has no docstring"),
    ],
)
def test_a_lack_is_seen(cut: str, put: str, defect: str) -> None:
    assert defects(GOOD) == []
    assert cut in GOOD
    seen = defects(GOOD.replace(cut, put))
    assert len(seen) == 1
    assert defect in seen[0]
