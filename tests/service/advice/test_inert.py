import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from feedproof.advice.inert import visible


def test_escape_codes_and_overrides_are_written_out() -> None:
    assert visible("\x1b[31mred\x1b[0m") == "<U+001B>[31mred<U+001B>[0m"
    assert visible("cabin\u202e21\u202c") == "cabin<U+202E>21<U+202C>"
    assert visible("a\nb\rc\td\u2028e") == "a<U+000A>b<U+000D>c<U+0009>d<U+2028>e"


def test_ordinary_writing_stays() -> None:
    assert visible("cabin-12/range · Küche 12 Ω ホテル می‌خواهم") == "cabin-12/range · Küche 12 Ω ホテル می‌خواهم"


@given(st.text())
def test_nothing_hidden_is_left(text: str) -> None:
    for character in visible(text):
        assert character in "\u200c\u200d" or unicodedata.category(character)[0] != "C"
        assert unicodedata.category(character) not in {"Zl", "Zp"}
