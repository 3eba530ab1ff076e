"""First screens of thirty situations, as text: `python tests/support/first_screens.py` prints the table of their sizes.

With `--write` they are recorded to be read, one by one, and to be held to (`tests/oracles/test_first_screens.py`).
Needs ngspice, which reads the drawn circuits; the other requests are those of `examples/requests`.
"""

import re
import sys
from pathlib import Path
from statistics import mean
from typing import NamedTuple

import msgspec

from feedproof.advice.summary import warnings_first
from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.parsing import read_request
from support.trade.situations import NAMES, cases

ROOT = Path(__file__).resolve().parents[2]
TARGET = ROOT / "tests" / "oracles" / "first_screens.txt"
#: Beside the first case of every situation.
FURTHER = (("service_leg", 3), ("sound", 3), ("known_faults", 3), ("neutral_ground", 2), ("service_neutral", 2))
_PROBABILITY = re.compile(r"(?:over |under )?\d+(?:\.\d+)? %")


class Screen(NamedTuple):
    """What a person sees first."""

    name: str
    answer: Assessment

    @property
    def lines(self) -> list[str]:
        """Headline, what to do, and the titles of the first cautions."""
        warned = [f"{caution.severity.upper()}: {caution.title}" for caution in warnings_first(self.answer)]
        return [self.answer.headline, self.answer.next_action, *warned]

    @property
    def words(self) -> int:
        """How many."""
        return sum(len(line.split()) for line in self.lines)

    @property
    def dangers(self) -> int:
        """How many cautions of the whole answer are dangers."""
        return sum(caution.severity == "danger" for caution in self.answer.cautions)

    @property
    def caution_words(self) -> int:
        """Words of all cautions in full."""
        return sum(len(caution.text.split()) for caution in self.answer.cautions)


def screens() -> list[Screen]:
    """All of them, by the engine."""
    asked = {path.stem: path.read_bytes() for path in sorted((ROOT / "examples" / "requests").glob("*.json"))}
    for case in cases([*((name, 0) for name in NAMES), *FURTHER]):
        asked[f"{case.situation}, {case.variant}"] = msgspec.json.encode(case.request)
    return [Screen(name, assess(*read_request(body))) for name, body in asked.items()]


def written(shown: list[Screen]) -> str:
    """As they are recorded: without the figures of probabilities, which a finer model moves."""
    told = []
    for screen in shown:
        lines = (_PROBABILITY.sub("… %", line) for line in screen.lines)
        told.append("\n".join([f"== {screen.name} ({screen.answer.disposition})", *lines]))
    return "\n\n".join(told) + "\n"


def table(shown: list[Screen]) -> str:
    """Words on the first screen, dangers, and words of all cautions, by situation."""
    rows = [(s.name, s.words, s.dangers, len(s.answer.cautions), s.caution_words) for s in shown]
    figures = [*zip(*(row[1:] for row in rows), strict=True)]
    means = ("mean", *(round(mean(column), 1) for column in figures))
    most = ("most", *(max(column) for column in figures))
    head = ("situation", "words", "dangers", "cautions", "words of cautions")
    return "\n".join("| " + " | ".join(map(str, row)) + " |" for row in [head, ("---",) * 5, *rows, means, most])


def main() -> None:
    """Print the table; with `--write` record the screens."""
    shown = screens()
    if "--write" in sys.argv:
        TARGET.write_text(written(shown), encoding="utf-8")
    print(table(shown))


if __name__ == "__main__":
    main()
