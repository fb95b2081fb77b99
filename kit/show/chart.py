"""What every chart has in common: it shows a value, follows another, and says in words what it shows."""

from . import look
from .overlay import Overlay
from .panel import Still


class Chart:
    """One value drawn on one axis; in a notebook a picture with its words.

    value: what it shows; ax: a matplotlib axis to draw on, else a figure of its own; beside: what a kind of chart can
    show with it, such as `before`, one of the same kind, hollow and grey.
    """

    size: tuple = (430, 400)  # px of a figure of its own
    place: tuple = (0.12, 0.14, 0.845, 0.795)  # of the axis in it: left, bottom, width, height
    alt = ""  # what is to be seen, in words

    def __init__(self, value, ax=None, **beside):
        self.value, self.beside = value, beside
        self.ax = look.figure(*self.size).add_axes(self.place) if ax is None else ax
        self._begin(value, **beside)
        self.update(value, **beside)

    def _begin(self, value, **beside):
        """Draw what stays, and what will move."""

    def _move(self, value, **beside):
        """Move it to a value; return in words what is then to be seen."""

    def update(self, value, **beside):
        """Show another value of the same kind."""
        self.value = value
        self.alt = self._move(value, **beside)

    def still(self):
        """Return (width [px], PNG, words)."""
        figure = self.ax.figure
        return figure.bbox.width, Overlay(figure).picture(), self.alt

    def _repr_html_(self):
        return Still([self.still()])._repr_html_()
