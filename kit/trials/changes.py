"""What differs between two versions of a trial's document, and both put into one."""

import json


def changes(before, after):
    """Return {path: value} of what differs between two documents, section entries one by one; gone is None."""

    def flat(document):
        made = {}
        for word, value in document.items():
            if isinstance(value, dict) and word not in ("planned_formula", "weighed_formula"):
                made |= {(word, *([k, d] if word == "days" else [k])): v
                         for k, each in value.items()
                         for d, v in (each.items() if word == "days" else [("", each)])}  # fmt: skip
            elif word == "scores":
                made |= {(word, s["field"], s["taster"]): s["score"] for s in value}
            else:
                made[word,] = value
        return made

    old, new = flat(before), flat(after)
    return {path: new.get(path) for path in {*old, *new} if old.get(path) != new.get(path)}


def merge(theirs, yours, base):
    """Return their document with your changes to base put in, except where both changed one entry."""
    taken = changes(base, theirs)
    merged = json.loads(json.dumps(theirs))
    for path, value in changes(base, yours).items():
        if path in taken:
            continue
        if path[0] == "scores":
            rest = [s for s in merged.get("scores", []) if (s["field"], s["taster"]) != path[1:]]
            new = [] if value is None else [{"taster": path[2], "field": path[1], "score": value}]
            merged["scores"] = sorted(rest + new, key=lambda s: (s["field"], s["taster"]))
            continue
        inner = merged
        for step in path[:-1]:
            inner = inner.setdefault(step, {})
        if value is None:
            inner.pop(path[-1], None)
        else:
            inner[path[-1]] = value
    for word in [w for w, value in merged.items() if value in ({}, [])]:
        del merged[word]
    return merged


def spoken(path):
    """Return a path of a document in words: 'crumb dent day 1', 'planned oven set', 'liking by P3'."""
    head, *rest = path if isinstance(path, tuple) else (path,)
    if head == "days":
        return f"{rest[0].replace('_', ' ')} day {rest[1]}"
    if head == "scores":
        return f"{rest[0].replace('_', ' ')} by {rest[1]}"
    prefix = {"planned": "planned ", "prediction": "predicted "}.get(head, "")
    return (prefix + (rest[0] if rest else head)).replace("_", " ")
