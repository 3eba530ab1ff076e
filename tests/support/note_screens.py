"""Screens of the note in twelve situations: `python tests/support/note_screens.py FOLDER` writes them to be looked at.

They are kept, looked at one by one, under `tests/service/note/screens`. The situations are invented.
"""

import sys
import tempfile
from collections.abc import Iterator
from datetime import date
from io import BytesIO
from pathlib import Path

import msgspec
import typst
from PIL import Image

from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.note.html import render_html
from feedproof.note.pdf.page import laid_out
from feedproof.parsing import read_request
from support.browser import chromium

ROOT = Path(__file__).resolve().parents[2]

#: Of the shipped requests, those that are most unlike each other.
SHIPPED = (
    "plan",
    "dead_outlet",
    "legs_apart",
    "lost_leg_through_element",
    "low_impedance",
    "mobile_home_feeder",
    "proven_under_load",
    "unloaded_high_impedance",
    "dryer_heating",
    "every_kind_of_reading",
)
#: Volts by pair, unplugged, of two situations that no shipped request has.
READ = {
    "miswired": {"L1-L2": 121.0, "L1-N": 242.0, "L2-N": 121.0, "N-G": 121.0, "L1-G": 121.0},
    "dead_tester": {"L1-L2": 0.0, "L1-N": 0.0, "L2-N": 0.0},
}
SITUATIONS = (*SHIPPED, *READ)

#: Width of the window [CSS pixel], and whether the device asks for dark colors.
LOOKS = {
    "phone-light": (390, False),
    "desk-light": (1280, False),
    "phone-dark": (390, True),
    "desk-dark": (1280, True),
}
#: Day on the sheets, and how fine they are drawn [dots per inch].
_DAY, _DOTS = date(2026, 11, 29), 80.0
HEIGHT = 1200
#: Few, so that the files stay small; flat colors need no more.
_COLORS = 64


def request(name: str) -> bytes:
    """Give the request of a situation."""
    if name in SHIPPED:
        return (ROOT / "examples" / "requests" / f"{name}.json").read_bytes()
    readings = [
        {"kind": "voltage", "between": pair.split("-"), "value": volts, "meter": "loz", "load_state": "disconnected"}
        for pair, volts in READ[name].items()
    ]
    meters = {"loz": {"kind": "voltmeter", "input_impedance": 3000.0}}
    supply = {"equipment_ground": "present"}
    return msgspec.json.encode(
        {"reference": f"INVENTED, {name}", "supply": supply, "meters": meters, "readings": readings}
    )


def answer(name: str) -> Assessment:
    """Give what the engine answers."""
    admitted = read_request(request(name))
    return assess(admitted.reading_set, admitted.assumptions)


def screens(name: str, folder: Path) -> Iterator[tuple[str, bytes]]:
    """Give each look of a situation's note as PNG: on paper, and on screens."""
    told = answer(name)
    yield "paper", _small(_beside(typst.compile(**laid_out(told, _DAY), format="png", ppi=_DOTS)))
    (folder / "note.html").write_bytes(render_html(told))
    for look, (width, dark) in LOOKS.items():
        # No window is as narrow as a phone: a frame is.
        frame = f'<iframe src="note.html" style="border:0" width="{width}" height="{HEIGHT}"></iframe>'
        (folder / "frame.html").write_text(f'<!doctype html><body style="margin:0">{frame}', encoding="utf-8")
        shot = folder / "shot.png"
        chromium(
            folder,
            f"--blink-settings=preferredColorScheme={0 if dark else 1}",
            "--hide-scrollbars",
            f"--window-size={max(width, 500)},{HEIGHT}",
            f"--screenshot={shot}",
            (folder / "frame.html").as_uri(),
        )
        with Image.open(shot) as picture:
            yield look, _small(picture.crop((0, 0, width, HEIGHT)))


def _beside(pages: list[bytes]) -> Image.Image:
    opened = [Image.open(BytesIO(page)) for page in pages]
    joined = Image.new("RGB", (sum(page.width + 4 for page in opened), opened[0].height), "gray")
    for index, page in enumerate(opened):
        joined.paste(page, (index * (page.width + 4), 0))
    return joined


def _small(picture: Image.Image) -> bytes:
    written = BytesIO()
    picture.convert("RGB").quantize(_COLORS).save(written, "PNG", optimize=True)
    return written.getvalue()


def main() -> None:
    """Write all of them."""
    target = Path(sys.argv[1])
    target.mkdir(parents=True, exist_ok=True)
    for name in SITUATIONS:
        with tempfile.TemporaryDirectory() as folder:
            for look, picture in screens(name, Path(folder)):
                (target / f"{name}-{look}.png").write_bytes(picture)


if __name__ == "__main__":
    main()
