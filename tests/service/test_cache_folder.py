"""Compiled functions are kept where this user alone can write, or nowhere: who plants a pickle there runs code here."""

import os
import shutil
import stat
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

import feedproof
from feedproof.cache_folder import STATED, cache_folder

posix = pytest.mark.skipif(os.name != "posix", reason="files have no owner and mode as in POSIX")


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give the stated folder, which is not there yet."""
    place = tmp_path / "beneath" / "compiled"
    monkeypatch.setenv(STATED, str(place))
    return place


@posix
@pytest.mark.parametrize("mask", [0o000, 0o002, 0o077])
def test_what_is_made_nobody_else_can_enter(place: Path, mask: int) -> None:
    before = os.umask(mask)
    try:
        assert cache_folder("state") == place / "state"
    finally:
        os.umask(before)
    assert [stat.S_IMODE(made.stat().st_mode) for made in (place, place / "state")] == [0o700, 0o700]
    assert cache_folder("state") == place / "state"
    assert cache_folder("other") == place / "other"


@posix
@pytest.mark.parametrize("mode", [0o777, 0o1777, 0o775, 0o720])
@pytest.mark.parametrize("inner", [False, True])
def test_a_folder_that_others_can_write_is_not_used(place: Path, mode: int, inner: bool) -> None:
    planted = place / "state" if inner else place
    planted.mkdir(parents=True, mode=0o700)
    planted.chmod(mode)
    assert cache_folder("state") is None


@posix
@pytest.mark.usefixtures("place")
def test_a_folder_of_somebody_else_is_not_used(monkeypatch: pytest.MonkeyPatch) -> None:
    assert cache_folder("state") is not None
    monkeypatch.setattr(os, "geteuid", lambda: os.getuid() + 1)
    assert cache_folder("state") is None


@posix
def test_a_link_to_a_folder_of_ones_own_is_followed_once(place: Path, tmp_path: Path) -> None:
    place.parent.mkdir()
    place.symlink_to(tmp_path / "own")
    assert cache_folder("state") == tmp_path / "own" / "state"
    shutil.rmtree(tmp_path / "own" / "state")
    (tmp_path / "elsewhere").mkdir(mode=0o700)
    (tmp_path / "own" / "state").symlink_to(tmp_path / "elsewhere")
    assert cache_folder("state") is None


def test_where_nothing_can_be_made_nothing_is_kept(place: Path) -> None:
    place.parent.write_bytes(b"")
    assert cache_folder("state") is None


def test_the_shared_temporary_folder_is_no_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(STATED, raising=False)
    monkeypatch.setattr("feedproof.cache_folder._PACKAGE", tmp_path / "file")
    (tmp_path / "file").write_bytes(b"")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "caches"))
    assert cache_folder("state") == tmp_path / "caches" / "feedproof" / "state"
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    assert cache_folder("state") is None


@pytest.fixture
def read_only() -> Iterator[Path]:
    """Give a folder with the package, where nobody can write, and which everybody can reach."""
    with tempfile.TemporaryDirectory() as folder:
        top = Path(folder)
        top.chmod(0o755)
        source = Path(feedproof.__file__).parent
        shutil.copytree(source, top / "feedproof", ignore=shutil.ignore_patterns("__pycache__"))
        folders = [path for path in (top, *top.rglob("*")) if path.is_dir()]
        for path in folders:
            path.chmod(0o555)
        yield top
        for path in folders:
            path.chmod(0o755)


@posix
@pytest.mark.parametrize("stated", [None, "/nonexistent/compiled"])
def test_it_compiles_where_neither_package_nor_home_can_be_written(read_only: Path, stated: str | None) -> None:
    script = (
        "from feedproof.circuit.compiling import KEPT, compiled\n"
        "from feedproof.inference.grid import log_sum\n"
        "assert abs(log_sum(0.0, 0.0) - 0.6931) < 1e-4\n"
        "print(KEPT)\n"
    )
    packages = [path for path in sys.path if "site-packages" in path]
    environment = {"PYTHONPATH": os.pathsep.join([str(read_only), *packages]), "HOME": "/nonexistent", "PATH": ""}
    if stated:
        environment[STATED] = stated
    # Who may do anything may write anywhere, so another user compiles.
    other = 65534 if os.geteuid() == 0 else None
    told = subprocess.run(
        [sys.executable, "-c", script],
        env=environment,
        cwd="/",
        user=other,
        group=other,
        extra_groups=[] if other else None,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    unreadable = any(words in told.stderr for words in ("Permission denied", "cannot open shared object file"))
    if unreadable and not told.stdout and other:
        pytest.skip("another user cannot run this interpreter")
    assert (told.returncode, told.stdout) == (0, "False\n"), told.stderr
