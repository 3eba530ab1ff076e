"""Keys: only digests are kept, several per client, a changed file counts at once, a broken one changes nothing."""

import hashlib
import json
import os
import stat
from pathlib import Path

import pytest

from feedproof.api.keys import KeyBook, append_key, digest, make_key, parse_keys, read_keys, remove_key
from feedproof.telemetry.logging import configure


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def test_the_digest_is_sha_256_by_the_standard() -> None:
    # FIPS 180-2, appendix B.1: the digest of "abc".
    assert digest("abc") == b"ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_a_made_key_opens_and_is_not_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "keys"
    text, key = make_key("depot")
    append_key(path, key)
    assert text not in path.read_text()
    assert hashlib.sha256(text.encode()).hexdigest() in path.read_text()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    book = KeyBook(path=path)
    assert book.asked_for
    assert book.find(text) == key
    assert book.find(text[:-1]) is None
    assert book.find("") is None
    assert book.find(key.digest.decode()) is None


def test_keys_are_told_apart_by_more_than_their_ids() -> None:
    texts = {make_key("depot")[0] for _ in range(100)}
    assert len({text.split("_", 2)[2] for text in texts}) == 100
    # 256 bits in base 64.
    assert all(len(text.split("_", 2)[2]) == 43 for text in texts)


def test_rotation_needs_no_restart_and_an_old_key_ends_with_its_line(tmp_path: Path) -> None:
    path, clock = tmp_path / "keys", Clock()
    old, old_key = make_key("depot")
    append_key(path, old_key)
    book = KeyBook(path=path, clock=clock)
    new, new_key = make_key("depot")
    append_key(path, new_key)
    assert book.find(new) is None
    clock.now += 1.1
    assert book.find(new) == new_key
    assert book.find(old) == old_key
    remove_key(path, old_key.id)
    clock.now += 1.1
    assert book.find(old) is None
    assert book.find(new) == new_key
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


@pytest.mark.parametrize("broken", ["depot\n", "depot 0123abcd nonsense\n", None])
def test_a_file_that_breaks_leaves_the_keys_in_force_and_is_counted(tmp_path: Path, broken: str | None) -> None:
    path, clock = tmp_path / "keys", Clock()
    text, key = make_key("depot")
    append_key(path, key)
    book = KeyBook(path=path, clock=clock)
    if broken is None:
        path.unlink()
    else:
        path.write_text(broken)
    for _ in range(3):
        clock.now += 1.1
        assert book.find(text) == key
    assert book.failures == 3
    assert book.failing
    path.write_text("# all taken away\n")
    clock.now += 1.1
    assert book.find(text) is None
    assert book.asked_for


def test_a_file_that_could_not_be_read_just_then_is_tried_again(tmp_path: Path) -> None:
    path, away, clock = tmp_path / "keys", tmp_path / "away", Clock()
    text, key = make_key("depot")
    append_key(path, key)
    book = KeyBook(path=path, clock=clock)
    # The file is revoked in and then not to be read for a moment, with the same number, time and size ever after.
    path.write_text("# all taken away\n")
    path.rename(away)
    path.mkdir()
    clock.now += 1.1
    assert book.find(text) == key
    path.rmdir()
    away.rename(path)
    clock.now += 1.1
    assert book.find(text) is None
    assert not book.failing


def test_a_change_counts_that_the_file_system_does_not_tell_of(tmp_path: Path) -> None:
    path, clock = tmp_path / "keys", Clock()
    text, key = make_key("depot")
    append_key(path, key)
    book = KeyBook(path=path, clock=clock)
    before = path.stat()
    with path.open("r+b") as file:
        file.write(b"#" * (before.st_size - 1))
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert (path.stat().st_ino, path.stat().st_size) == (before.st_ino, before.st_size)
    clock.now += 1.1
    assert book.find(text) is None


def test_an_unreadable_file_alarms_at_once_and_again_but_not_every_second(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    configure("json", "info")
    path, clock = tmp_path / "keys", Clock()
    append_key(path, make_key("depot")[1])
    book = KeyBook(path=path, clock=clock)
    path.unlink()
    for _ in range(100):
        clock.now += 1.1
        book.refresh()
    lines = [json.loads(line) for line in capsys.readouterr().err.splitlines()]
    assert [(line["event"], line["level"], line["for_s"]) for line in lines] == [
        ("key_file_unreadable", "error", 0),
        ("key_file_unreadable", "error", 61),
    ]
    assert book.failures == 100


def test_revoking_keeps_owner_group_and_mode(tmp_path: Path) -> None:
    path, link = tmp_path / "keys", tmp_path / "link"
    key = make_key("depot")[1]
    append_key(path, key)
    link.symlink_to(path)
    path.chmod(0o640)
    if os.geteuid() == 0:
        os.chown(path, 4711, 4712)
    before, mask = path.stat(), os.umask(0o077)
    try:
        remove_key(link, key.id)
    finally:
        os.umask(mask)
    after = path.stat()
    assert link.is_symlink()
    assert read_keys(path) == ()
    assert (after.st_uid, after.st_gid, after.st_mode) == (before.st_uid, before.st_gid, before.st_mode)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["keys", "link"]


def test_a_key_is_not_revoked_where_the_service_could_not_read_the_file_any_more(tmp_path: Path) -> None:
    key = make_key("depot")[1]
    path = tmp_path / "keys"
    append_key(path, key)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fchmod", lambda *_: (_ for _ in ()).throw(PermissionError(1, "Operation not permitted")))
        with pytest.raises(OSError, match="not permitted"):
            remove_key(path, key.id)
    assert read_keys(path) == (key,)
    assert [one.name for one in tmp_path.iterdir()] == ["keys"]


def test_a_key_in_the_place_of_a_digest_is_never_repeated() -> None:
    text, _ = make_key("depot")
    with pytest.raises(ValueError, match="line 2 is not") as refusal:
        parse_keys(f"# remark\ndepot 0123abcd {text}\n")
    assert text not in str(refusal.value)


@pytest.mark.parametrize("client", ["", "two words", "-x", "a" * 65, "a\nb"])
def test_a_name_that_a_line_could_not_hold_is_refused(client: str) -> None:
    with pytest.raises(ValueError, match="name"):
        make_key(client)


def test_what_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="No such file"):
        KeyBook(path=tmp_path / "none")
    path = tmp_path / "keys"
    append_key(path, make_key("depot")[1])
    with pytest.raises(ValueError, match="no key"):
        remove_key(path, "00000000")
    path.write_bytes(b"\xff")
    with pytest.raises(ValueError, match="UTF-8"):
        read_keys(path)
