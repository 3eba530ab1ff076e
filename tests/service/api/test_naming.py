"""The word lists of answers are whole: whatever the code answers with is in the published document."""

import ast
from pathlib import Path

import feedproof
from feedproof.api.naming import ANSWER_WORDS

PACKAGE = Path(feedproof.__file__).parent


def _constants(node: ast.expr) -> set[str]:
    """Texts that an expression may be."""
    if isinstance(node, ast.IfExp):
        return _constants(node.body) | _constants(node.orelse)
    return {node.value} if isinstance(node, ast.Constant) and isinstance(node.value, str) else set()


def _calls(*folders: str) -> list[tuple[str, ast.Call]]:
    found = []
    for path in sorted(path for folder in folders for path in PACKAGE.glob(folder)):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
                found.append((name, node))
    return found


def _codes(name: str, position: int, *folders: str) -> set[str]:
    """Codes that calls of a function give, at their place or as `code`."""
    found: set[str] = set()
    for called, node in _calls(*folders):
        if called == name:
            given = [*node.args[position : position + 1], *(k.value for k in node.keywords if k.arg == "code")]
            found |= {text for one in given for text in _constants(one)}
    return found


def test_every_fault_of_a_request_is_listed() -> None:
    folders = ("parsing/*.py", "units.py", "api/*.py")
    used = _codes("fault", 1, *folders) | _codes("RequestFault", 9, *folders) | _codes("Refusal", 0, *folders)
    used |= _codes("as_broken", 2, *folders)
    assert used == set(ANSWER_WORDS["FaultOfRequest"].values)


def test_every_check_is_listed() -> None:
    assert _codes("Check", 9, "advice/checks.py", "advice/unexplained.py") == set(ANSWER_WORDS["CheckCode"].values)


def test_no_list_has_a_word_twice() -> None:
    for name, known in ANSWER_WORDS.items():
        assert len(known.values) == len(set(known.values)) > 1, name
