"""What the docstrings under the attributes of a class say: descriptions of settings and of what goes over the wire."""

import ast
import inspect
import sys
from functools import cache
from itertools import pairwise


@cache
def _classes(module: str) -> dict[str, ast.ClassDef]:
    tree = ast.parse(inspect.getsource(sys.modules[module]))
    return {node.name: node for node in tree.body if isinstance(node, ast.ClassDef)}


def attribute_docs(kind: type) -> dict[str, str]:
    """Read the docstrings under a class's own attributes and those that it inherits, each as one paragraph.

    Parameters
    ----------
    kind : type
        A class at the top level of a module whose source is there.
    """
    found: dict[str, str] = {}
    for base in reversed(kind.__mro__):
        declared = _classes(base.__module__).get(base.__name__) if base.__module__.startswith("feedproof.") else None
        for field, told in pairwise(declared.body if declared else ()):
            match field, told:
                case ast.AnnAssign(target=ast.Name(id=name)), ast.Expr(value=ast.Constant(value=str(text))):
                    found[name] = " ".join(text.split())
    return found
