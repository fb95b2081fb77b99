"""Saves trials into a book and says each one that the book has acknowledged: python writer.py STORE COUNT NAME."""

import sys

from kit.trials import Trial, TrialBook

if __name__ == "__main__":
    store, count, who = sys.argv[1], int(sys.argv[2]), sys.argv[3]
    with TrialBook.open(store) as book:
        print("open", flush=True)
        for n in range(count):
            kept = book.save(Trial.of(f"{who} {n}", "2025-03-04", height=[42.0], notes="crumb " * 200), by=who)
            print(kept.key, flush=True)
