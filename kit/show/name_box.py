"""A box for a name that Enter takes as it stands at that moment."""

from collections.abc import Callable

import anywidget
import ipywidgets as widgets


class _Enter(anywidget.AnyWidget):
    """Sends what stands in the box beside it when Enter is pressed there."""

    # The box's own value travels letter by letter and can be a letter behind the Enter that is sent apart from it.
    _esm = """
    export default { render({ model, el }) {
      setTimeout(() => el.parentElement?.querySelector("input")?.addEventListener("keydown", event => {
        if (event.key !== "Enter" || event.isComposing) return;
        event.preventDefault();
        if (!event.repeat) model.send({ text: event.target.value });
      }));
    } };
    """


class NameBox(widgets.HBox):
    """A text box whose Enter calls `entered()` with the name written, first set as `value`."""

    def __init__(self, description: str, entered: Callable[[], object], placeholder: str = "", width: str = "52px"):
        self.text = widgets.Text(
            description=description,
            placeholder=placeholder,
            continuous_update=False,
            layout={"width": "auto", "flex": "1 1 auto", "min_width": "0"},  # else as wide as a box of 20 letters
            style={"description_width": width},
        )
        self._entered, self._enter = entered, _Enter()
        self._enter.on_msg(self._take)
        super().__init__([self.text, self._enter], layout={"flex": "0 1 220px", "min_width": "180px"})

    @property
    def value(self) -> str:
        """The name written."""
        return self.text.value

    @value.setter
    def value(self, name: str) -> None:
        self.text.value = name

    def _take(self, _widget, content, _buffers):
        self.value = str(content.get("text", ""))
        self._entered()
