"""What a book remembers of its kitchen: what it notes of each bake, its tags, who entered last, how it writes."""

from dataclasses import dataclass, fields, replace

from ..errors import must
from .fields import Note, text_of
from .reading import TrialError

MOST = 60  # of the fields and tags of a kitchen


@dataclass(frozen=True)
class Kitchen:
    """What a kitchen notes of each bake, and how it writes it."""

    fields: tuple = ()  # entries in their order, such as "dough temperature", "crumb dent day 1", "own shine, mm"
    tags: tuple = ()
    entered_by: str = ""  # who entered last
    scales: tuple = ()  # (digest of a photo, mm of one of its pixels)
    answers: tuple = ()  # (question, choice) where a reading had two meanings

    def changed(self, **some):
        """Return the Kitchen with some of it changed and checked. Raises TrialError, UnknownName.

        >>> Kitchen().changed(fields=["dough_temperature", "own shine, mm"]).fields
        ('dough temperature', 'own shine, mm')
        """
        made = {}
        for name, value in some.items():
            if name == "entered_by":
                made[name] = text_of(value, "by") or ""
            elif name == "fields":
                made[name] = tuple(dict.fromkeys(str(Note.of(entry)) for entry in value))
            elif name == "tags":
                made[name] = tuple(dict.fromkeys(text_of(tag, "tag", needed=True) for tag in value))
            elif name == "scales":
                made[name] = tuple((text_of(digest, "photo"), float(scale)) for digest, scale in dict(value).items())
            else:
                made[name] = tuple(
                    (text_of(question, "question"), text_of(choice, "choice"))
                    for question, choice in dict(value).items()
                )
            if len(made[name]) > MOST and name not in ("answers", "scales"):
                be, got = f"at most {MOST}", len(made[name])
                raise TrialError(must(name.replace("_", " "), be, got, "leave some out"))
        return replace(self, **made)


REMEMBERED = tuple(each.name for each in fields(Kitchen))
