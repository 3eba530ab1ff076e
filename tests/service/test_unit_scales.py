"""Factors of units, asked of the library once and kept."""

from pathlib import Path

import pytest

from feedproof.unit_scales import ask_library, scales


def test_what_is_kept_is_what_the_library_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    asked = ask_library()
    assert scales() == asked
    (file,) = tmp_path.iterdir()
    assert scales() == asked
    assert file.name.startswith("units-")


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"voltage": {"V": 1}}'])
def test_a_file_that_is_spoilt_is_asked_for_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, content: bytes
) -> None:
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    asked = scales()
    (file,) = tmp_path.iterdir()
    file.write_bytes(content)
    assert scales() == asked


def test_where_nothing_can_be_kept_the_library_is_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    blocked = tmp_path / "file"
    blocked.write_bytes(b"")
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(blocked / "beneath"))
    assert scales()["voltage"]["V"].factor == 1
