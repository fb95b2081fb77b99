"""What a book remembers of its kitchen: what it notes of each bake, its tags, who entered last, how it writes."""

from dataclasses import dataclass, fields, replace

from .fields import Note, text_of


@dataclass(frozen=True)
class Kitchen:
    """What a kitchen notes of each bake, and how it writes it."""

    fields: tuple = ()  # entries in their order, such as "dough temperature", "crumb dent day 1", "own shine, mm"
    tags: tuple = ()
    entered_by: str = ""  # who entered last
    scales: tuple = ()  # (digest of a photo, mm of one of its pixels)
    answers: tuple = ()  # (question, choice) where a reading had two meanings

    @staticmethod
    def stored(kept):
        """Return the Kitchen of {name: value} as JSON has it, checked when it was kept."""
        return Kitchen(**{each.name: _tuples(kept[each.name]) for each in fields(Kitchen) if each.name in kept})

    def changed(self, **some):
        """Return the Kitchen with some of it changed and checked. Raises TrialError, UnknownName.

        >>> Kitchen().changed(fields=["dough_temperature", "own shine, mm"]).fields
        ('dough temperature', 'own shine, mm')
        """
        checked = {
            "fields": lambda value: dict.fromkeys(str(Note.of(entry)) for entry in value),
            "tags": lambda value: dict.fromkeys(text_of(tag, "tag", needed=True) for tag in value),
            "scales": lambda value: ((text_of(shot, "photo"), float(scale)) for shot, scale in dict(value).items()),
            "answers": lambda value: ((text_of(q, "question"), text_of(a, "choice")) for q, a in dict(value).items()),
        }
        made = {name: tuple(checked[name](value)) for name, value in some.items() if name != "entered_by"}
        return replace(self, **made, entered_by=text_of(some.get("entered_by", self.entered_by), "by") or "")


def _tuples(value):
    return tuple(map(_tuples, value)) if isinstance(value, list) else value
