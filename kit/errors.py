"""What can go wrong, in one grammar: what must be, what was given, what to do."""


class KitError(Exception):
    """Any error this kit raises on purpose; each also is a builtin error of its kind."""

    def _render_traceback_(self):
        """Return what a notebook shows of it: its sentence, without the lines of code that it went through."""
        return [f"{type(self).__name__}: {self}"]


class AmountError(KitError, ValueError):
    """A number or amount that cannot be read or cannot be."""


class UnitError(KitError, TypeError):
    """A unit of the wrong kind."""


class UnknownName(KitError, LookupError):
    """A name that no table knows."""


class FormulaError(KitError, ValueError):
    """A formula that cannot be mixed as written."""


class FileError(KitError, OSError):
    """A file that cannot be read, or must not be overwritten."""


def must(name, be, got, do=""):
    """Return an error message in the house grammar.

    >>> must("piece", "a mass above 0 g", "-60 g", "weigh one piece of dough")
    "'piece' must be a mass above 0 g (got -60 g); weigh one piece of dough"
    """
    message = f"'{name}' must be {be} (got {got})"
    return f"{message}; {do}" if do else message
