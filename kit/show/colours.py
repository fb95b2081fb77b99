"""The colours of words and marks, on a page as in a chart."""

INK, QUIET, HAIR = "#222222", "#595959", "#c9c9c9"
ACCENT, ACCENT_LIGHT = "#0b5c8a", "#cfe3ef"
BASELINE = "#7a7a7a"
WRONG = "#a33b00"  # of what cannot be
