"""Keys: only digests are kept, several per client, a changed file counts at once, a broken one changes nothing."""

import hashlib
import stat
from pathlib import Path

import pytest

from feedproof.api.keys import KeyBook, append_key, digest, make_key, parse_keys, read_keys, remove_key


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
    assert book.failures == 1
    path.write_text("# all taken away\n")
    clock.now += 1.1
    assert book.find(text) is None
    assert book.asked_for


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
