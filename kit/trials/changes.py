"""What differs between two versions of a trial, and both put into one."""


def changes(before, after):
    """Return {entry: value} of what differs between two trials, the first one None for no trial; gone is None."""
    old, new = before.entries if before else {}, after.entries
    return {entry: new.get(entry) for entry in {**new, **old} if old.get(entry) != new.get(entry)}


def merge(theirs, yours, base):
    """Return their trial with your changes to base put in, except where both changed one entry."""
    taken = changes(base, theirs)
    for entry, value in changes(base, yours).items():
        if entry not in taken:
            theirs = theirs.with_value(entry, value)
    return theirs
