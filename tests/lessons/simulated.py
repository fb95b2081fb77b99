"""Simulated learners: what they meet, when they are done, and when a fixed misconception is named.

Run alone, `python -m tests.lessons.simulated` tells it as a table. Shares right and forgetting are assumed here.
"""

import random
import sys
from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

from kit.lessons import Progress, exercise, exercises, mark, next_exercise, open_learner
from kit.lessons.kinds import LESSONS
from kit.tables import table
from tests.lessons.checking import written

NONE = ("", "")  # no misconception
START = date(2030, 1, 7)  # a Monday
MOST = 250  # cards until a learner with a misconception is given up
HALF_FORGOTTEN = 6  # days after which half of what was right is right again, forgetting alone


class Learner:
    """One who is right so often, of 1; forgetting over days; or with one misconception for ever, (kind, key)."""

    def __init__(self, right, seed=1, lesson=None, forgets=False, believes=NONE):
        self.right, self.lesson, self.forgets, self.believes = right, lesson, forgets, believes
        self.dice, self.progress, self.day = random.Random(f"{right}/{seed}/{lesson}"), Progress("Ines", seed), START
        self.had = []  # (kind, stage, came)
        self.could, self.named = None, None  # the card in which its mistake can be made first, and in which it is named

    def card(self):
        """Have one card."""
        task = next_exercise(self.progress, self.lesson, self.day)
        told = ()  # of two mistakes that come to one number both are said
        if task.stage == "worked":
            self.progress = self.progress.shown(task, self.day)
        else:
            marked = mark(task, self.answer(task))
            told = marked.misconceptions
            self.progress = self.progress.after(task, marked, today=self.day)
        last = self.progress.cards[-1]
        self.had.append((task.kind, task.stage, last.came))
        if self.could is None and self.believes in {(task.kind, key) for key, *_ in task.misconceptions}:
            self.could = len(self.had)
        if self.named is None and self.believes in {(task.kind, key) for key in told}:
            self.named = len(self.had)
        return task

    def answer(self, task):
        mistakes = dict(each[:2] for each in task.misconceptions)
        if task.kind == self.believes[0]:
            return written(task, mistakes.get(self.believes[1], task.answer))
        share = self.right
        if self.forgets and (days := [card.day for card in self.progress.cards if card.kind == task.kind]):
            share *= 0.5 ** ((self.day - date.fromisoformat(days[-1])).days / HALF_FORGOTTEN)
        return written(task, task.answer if self.dice.random() < share else self.dice.choice(list(mistakes.values())))

    def cards(self, count):
        """Have so many cards in one sitting, going on when a session ends."""
        for _ in range(count):
            self.card()
        return self

    def session(self):
        """Have the cards of one session; the next is on the day after."""
        self.card()
        while not self.progress.session_over:
            self.card()
        self.day += timedelta(1)
        return self

    @property
    def met_by(self):
        """The card with which the last kind of the lesson came first, None while one is missing."""
        met = {kind: one.met for kind, one in self.progress.kinds.items()}
        return max(met.values()) if set(met) >= set(exercises(self.lesson)) else None

    @property
    def done_by(self):
        """The card with which the last kind was right alone, None while one is missing."""
        first = {}
        for count, (kind, stage, came) in enumerate(self.had, 1):
            if stage == "alone" and came == "right":
                first.setdefault(kind, count)
        return max(first.values()) if set(first) >= set(exercises(self.lesson)) else None

    @property
    def most(self):
        """How often the kind came that came most."""
        return max(Counter(kind for kind, *_ in self.had).values())

    @property
    def safe(self):
        """How many kinds are told safe."""
        return sum(state == "safe" for state in self.progress.states(self.lesson).values())


def first_mistake(kind):
    """Return (kind, key of a mistake that its plain case knows)."""
    return kind, exercise(kind, 1).misconceptions[0][0]


LOSS, BASE = first_mistake("flour_for_pieces"), first_mistake("percentage_from_weight")
TWELVE = {
    "Ada": (1, NONE), "Bo": (0.7, NONE), "Cleo": (0.5, NONE), "Dara": (0.3, NONE), "Emil": (0, NONE),
    "Femi": (0.7, NONE), "Gil": (1, LOSS), "Hana": (1, LOSS), "Ines": (1, BASE), "Ines 2": (1, LOSS), "Jun": (1, BASE),
    "Kofi": (0.5, NONE),
}  # fmt: skip


def a_class(folder, days=5):
    """Let twelve learners, invented, have sessions of the first lesson on so many days, each in a file of their own."""
    for n, (name, (right, believes)) in enumerate(TWELVE.items()):
        learner = Learner(right, n, LESSONS[0], True, believes)
        learner.progress = replace(open_learner(name.split()[0], folder, another=" " in name), seed=1000 * n)
        for _ in range(days):
            learner.session()
        learner.progress.save()


def told(say=print):
    """Tell each simulated learner in each lesson: 60 cards at a sitting, then sessions on 20 days."""
    say(f"{'':34}60 cards at a sitting      sessions on 20 days")
    say(f"{'lesson':24}{'right':>6}{'met by':>8}{'done by':>9}{'most':>6}{'safe':>12}{'forgetting, safe':>18}")
    for lesson in LESSONS:
        for right in (0, 0.3, 0.5, 0.7, 1):
            one, two, three = (Learner(right, 1, lesson, forgets) for forgets in (False, False, True))
            one.cards(60)
            for _ in range(20):
                two.session(), three.session()
            of = len(exercises(lesson))
            say(
                f"{lesson:24}{right:>6.0%}{one.met_by or 'never':>8}{one.done_by or '-':>9}{one.most:>6}"
                f"{f'{two.safe} of {of}':>12}{f'{three.safe} of {of}':>18}"
            )
    say("\nA fixed misconception: after how many cards it is named, from the first in which it can be made")
    rows = misconceptions()
    for kind, key, cards in rows:
        say(f"  {kind:28}{key:36}{cards if cards else f'not drawn in {MOST} cards'}")
    say(f"{len(rows)} in all, named within five cards: {sum(bool(cards) and cards <= 5 for *_, cards in rows)}")


def misconceptions():
    """Return (kind, misconception, cards until it is named) of all that the exercises know; None: never met."""
    rows = []
    for kind, key in dict.fromkeys((row.kind, row.key) for row in table("misconceptions").rows):
        learner = Learner(1, 1, exercises()[kind].lesson, believes=(kind, key))
        while learner.named is None and len(learner.had) < MOST:
            learner.session()
        rows.append((kind, key, learner.named and learner.named - learner.could + 1))
    return rows


if __name__ == "__main__":
    sys.exit(told())
