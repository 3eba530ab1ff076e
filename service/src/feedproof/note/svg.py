"""Scenes as SVG: inside a page, or as a document of their own."""

import base64
import hashlib
import re
from collections.abc import Iterable
from html import escape

from feedproof.advice.inert import visible
from feedproof.note.palette import DARK, LIGHT, ROLES, Palette
from feedproof.note.scene import Circle, Line, Polygon, Scene, Shape, Text

_FONT = "system-ui,-apple-system,'Segoe UI',Roboto,'Noto Sans','DejaVu Sans',sans-serif"
_PRINTED = "'Libertinus Serif'"


def picture_styles() -> str:
    """Style rules that give each role its color, from the custom properties of `color_properties`."""
    rules = [f".f-{role}{{fill:var(--{role})}}.s-{role}{{stroke:var(--{role})}}" for role in ROLES]
    return "".join(rules) + f".t{{font-family:{_FONT}}}.b{{font-weight:700}}"


def color_properties(palette: Palette) -> str:
    """One palette as custom properties."""
    return "".join(f"--{role}:{getattr(palette, role)};" for role in ROLES)


def theme_styles(root: str) -> str:
    """Light colors, dark ones where the reader's device asks for them, and light ones on paper."""
    light, dark = color_properties(LIGHT), color_properties(DARK)
    return (
        f"{root}{{{light}color-scheme:light dark}}"
        f"@media screen and (prefers-color-scheme:dark){{{root}{{{dark}}}}}"
        "@media print{*{-webkit-print-color-adjust:exact;print-color-adjust:exact}}"
    )


def inline(scene: Scene) -> str:
    """The picture as an element for an HTML page that has the styles.

    Text that came from outside is escaped, and hidden characters in it are written out.
    """
    return _element(scene, "", "")


def inline_shapes(shapes: Iterable[Shape], size: float) -> str:
    """Shapes in a square beside words that say the same: hidden from who is read to."""
    drawn = "".join(_shape(shape) for shape in shapes)
    return f'<svg viewBox="0 0 {_n(size)} {_n(size)}" aria-hidden="true" focusable="false">{drawn}</svg>'


def document(scene: Scene) -> str:
    """The picture as an SVG document of its own, readable on light and dark ground."""
    styles = f"<style>{document_styles()}</style>"
    ground = f'<rect class="f-paper" width="{_n(scene.width)}" height="{_n(scene.height)}"/>'
    return _element(scene, ' xmlns="http://www.w3.org/2000/svg"', styles + ground)


def printed(scene: Scene) -> str:
    """The picture as an SVG document in the colors of paper, for a reader of SVG that knows no custom properties."""
    styles = re.sub(r"var\(--(\w+)\)", lambda role: str(getattr(LIGHT, role[1])), picture_styles())
    return _element(scene, ' xmlns="http://www.w3.org/2000/svg"', f"<style>{styles.replace(_FONT, _PRINTED)}</style>")


def document_styles() -> str:
    """The style sheet inside a picture that stands alone."""
    return theme_styles("svg") + picture_styles()


def document_policy() -> str:
    """Content security policy of a picture that stands alone: its one style sheet, and nothing else."""
    return style_policy(document_styles())


def style_policy(sheet: str) -> str:
    """A content security policy under which nothing loads or runs but one inline style sheet.

    The sheet is named by its digest (Content Security Policy Level 3, hash sources).
    """
    digest = base64.b64encode(hashlib.sha256(sheet.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"


def style_source(policy: str) -> str:
    """The digest by which a policy of `style_policy` names its sheet, for a policy that lets further sheets in."""
    return policy.split("style-src ")[1].split(";", maxsplit=1)[0]


def _element(scene: Scene, attributes: str, before: str) -> str:
    size = f"0 0 {_n(scene.width)} {_n(scene.height)}"
    title, described = f"picture-{scene.name}-title", f"picture-{scene.name}-desc"
    return (
        f'<svg{attributes} viewBox="{size}" role="img" aria-labelledby="{title} {described}" lang="en">'
        f'<title id="{title}">{_text(scene.title)}</title><desc id="{described}">{_text(scene.description)}</desc>'
        f"{before}{''.join(_shape(shape) for shape in scene.shapes)}</svg>"
    )


def _shape(shape: Shape) -> str:
    if isinstance(shape, Line):
        ends = f'x1="{_n(shape.x1)}" y1="{_n(shape.y1)}" x2="{_n(shape.x2)}" y2="{_n(shape.y2)}"'
        return f'<line class="s-{shape.stroke}" {ends}{_stroke(shape.width, dash=shape.dash)}/>'
    if isinstance(shape, Circle):
        place = f'cx="{_n(shape.x)}" cy="{_n(shape.y)}" r="{_n(shape.radius)}"'
        return f"<circle {_paint(shape.fill, shape.stroke)} {place}{_stroke(shape.width, dash=shape.dash)}/>"
    if isinstance(shape, Polygon):
        points = " ".join(f"{_n(x)},{_n(y)}" for x, y in shape.points)
        return f'<polygon {_paint(shape.fill, shape.stroke)} points="{points}"{_stroke(shape.width, dash=False)}/>'
    return _label(shape)


def _label(shape: Text) -> str:
    anchor = "" if shape.anchor == "start" else f' text-anchor="{shape.anchor}"'
    weight = " b" if shape.bold else ""
    return (
        f'<text class="t{weight} f-{shape.fill}" x="{_n(shape.x)}" y="{_n(shape.y)}" '
        f'font-size="{_n(shape.size)}"{anchor}>{_text(shape.text)}</text>'
    )


def _paint(fill: str | None, stroke: str | None) -> str:
    names = [f"f-{fill}"] if fill else []
    names += [f"s-{stroke}"] if stroke else []
    classes = f'class="{" ".join(names)}"'
    return classes if fill else f'{classes} fill="none"'


def _stroke(width: float, *, dash: bool) -> str:
    dashes = ' stroke-dasharray="4 3"' if dash else ""
    thickness = "" if width == 1.0 else f' stroke-width="{_n(width)}"'
    return thickness + dashes


def _text(text: str) -> str:
    return escape(visible(text), quote=True)


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
