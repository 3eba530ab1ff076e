"""Makes text that came from outside inert: no control codes, no reordering of what a person reads."""

import unicodedata

#: Categories that must not reach a terminal or a page: control, format (bidirectional overrides, zero-width
#: characters), surrogate, private use, unassigned, line and paragraph separators.
_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})

#: Joiners that some scripts need to be read at all.
_NEEDED = frozenset({"\u200c", "\u200d"})


def visible(text: str) -> str:
    """The text on one line, with every hidden character written as its code point.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        For example, the escape code before "[31m" becomes "<U+001B>[31m".
    """
    return "".join(
        f"<U+{ord(character):04X}>"
        if unicodedata.category(character) in _HIDDEN and character not in _NEEDED
        else character
        for character in text
    )
