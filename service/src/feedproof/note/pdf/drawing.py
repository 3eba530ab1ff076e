"""Scenes as blocks of a PDF page."""

from collections.abc import Callable

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from feedproof.note.palette import LIGHT
from feedproof.note.pdf.letters import BOLD, PLAIN, letters
from feedproof.note.scene import Circle, Line, Polygon, Scene, Text


class Drawing(Flowable):
    """One scene, as wide as the column."""

    def __init__(self, scene: Scene, width: float) -> None:
        """Take the scene and the width of its column [pt]."""
        super().__init__()
        self.scene = scene
        self.scale = width / scene.width
        self.size = (width, scene.height * self.scale + 4.0)

    def wrap(self, *_: float) -> tuple[float, float]:
        """Size of the block [pt], whatever room there is."""
        return self.size

    def draw(self) -> None:
        """Draw the shapes upside down: a PDF counts upward, a scene downward."""
        self.canv.translate(0.0, self.scene.height * self.scale)
        self.canv.scale(self.scale, -self.scale)
        for shape in self.scene.shapes:
            _SHAPES[type(shape)](self.canv, shape)


def _colors(canvas: Canvas, fill: str | None, stroke: str | None, width: float) -> None:
    if fill is not None:
        canvas.setFillColor(getattr(LIGHT, fill))
    if stroke is not None:
        canvas.setStrokeColor(getattr(LIGHT, stroke))
        canvas.setLineWidth(width)


def _draw_line(canvas: Canvas, shape: Line) -> None:
    _colors(canvas, None, shape.stroke, shape.width)
    canvas.setDash([4, 3] if shape.dash else [])
    canvas.line(shape.x1, shape.y1, shape.x2, shape.y2)
    canvas.setDash([])


def _draw_polygon(canvas: Canvas, shape: Polygon) -> None:
    _colors(canvas, shape.fill, shape.stroke, shape.width)
    path = canvas.beginPath()
    path.moveTo(*shape.points[0])
    for point in shape.points[1:]:
        path.lineTo(*point)
    path.close()
    canvas.drawPath(path, fill=int(shape.fill is not None), stroke=int(shape.stroke is not None))


def _draw_circle(canvas: Canvas, shape: Circle) -> None:
    _colors(canvas, shape.fill, shape.stroke, shape.width)
    canvas.setDash([4, 3] if shape.dash else [])
    canvas.circle(
        shape.x, shape.y, shape.radius, fill=int(shape.fill is not None), stroke=int(shape.stroke is not None)
    )
    canvas.setDash([])


def _draw_text(canvas: Canvas, shape: Text) -> None:
    canvas.saveState()
    canvas.translate(shape.x, shape.y)
    canvas.scale(1.0, -1.0)
    canvas.setFont(BOLD if shape.bold else PLAIN, shape.size * 0.97)
    canvas.setFillColor(getattr(LIGHT, shape.fill))
    place: dict[str, Callable[[float, float, str], object]] = {
        "start": canvas.drawString,
        "middle": canvas.drawCentredString,
        "end": canvas.drawRightString,
    }
    place[shape.anchor](0.0, 0.0, letters(shape.text))
    canvas.restoreState()


_SHAPES: dict[type, Callable[..., None]] = {
    Line: _draw_line,
    Polygon: _draw_polygon,
    Circle: _draw_circle,
    Text: _draw_text,
}
