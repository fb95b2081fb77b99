"""Allergens: by the tables, by what the house states, by words of a maker's specification that imply one.

A word may add an allergen or a question; it never clears one. What a maker has put together stays to check until the
house has said of that row by whom and when its allergens were found complete.
"""

import functools
import re
import unicodedata
from dataclasses import dataclass, field

import numpy as np

from .tables import in_tables, ingredients, table
from .words import listing, plain

_STOPS = {".", ";", ":", "(", ")", "[", "]", "!", "?"}
_E_NUMBER = re.compile(r"\b(?:e|ins)[ -]?(\d{3,4})((?:[ -]?[a-f])?)\b(?! ?(?:mg|g|µg|ug|iu|ie|%))")
_BARE_NUMBER = re.compile(r"(?<=[(,])\s*(\d{3,4}[a-f]?)(?=\s*[,)])")  # of an additive, as in "emulsifier (322)"

_NO_ACCENT = str.maketrans({"œ": "oe", "æ": "ae", "ø": "o", "ł": "l", "&": " and "})  # letters of their own
_BROKEN = re.compile(r"([^\W\d]+)-\s*\n\s*([^\W\d]+)")  # "but-ter" over two lines of a pack, or "egg-white": either


@dataclass(frozen=True)
class Brings:
    """What one ingredient brings: members of the laws' lists, and what is still to be asked of it."""

    contains: tuple
    asks: dict = field(default_factory=dict)  # {member, or word of no list: the word it was told by}
    open: bool = False  # nobody has said yet that these are all
    complete: str = ""  # by whom and when they were found to be all


@functools.lru_cache(1024)
def in_words(text):
    """Return ({allergen: word}, {allergen to ask about: word}) that a maker's specification implies.

    Whole words of allergen_words.csv in any case, number and accent; a longer one hides those inside it. What is only
    told of, such as traces or "free from", is asked about.

    >>> in_words("sugar, cocoa butter, whey powder, emulsifier: lecithins (soya). May contain traces of nuts.")
    ({'milk': 'whey powder', 'soya': 'lecithin (soya)'}, {'nuts': 'nut'})
    """
    tokens = _tokens(text)
    found = _longest(tokens)
    told = _told_of(tokens, found)
    contains, asks = {}, {}
    for start, end, row in found:
        word = " ".join(tokens[start:end]).replace("( ", "(").replace(" )", ")")
        for member in filter(None, row.contains.split(";")):
            (asks if start in told else contains).setdefault(member, word)
        for member in filter(None, row.may_contain.split(";")):
            asks.setdefault(member, word)
    return contains, {member: word for member, word in asks.items() if member not in contains}


def of_ingredient(known, key):
    """Return what an ingredient Brings, by its key in Ingredients."""
    row, house = known[key], known.stated.get(key, {})
    complete = house.get("allergens_complete", "")
    if not house:
        return Brings(_stated(row.allergens)[0], dict.fromkeys(_split(row.may_contain), row.name))
    contains, asks = _stated(house.get("allergens", ""))
    if in_tables(key) and not complete:
        contains += _stated(ingredients()[key].allergens)[0]
    asks |= dict.fromkeys(_split(row.may_contain), row.name)
    added = {}
    for column in ("name", "label_name", "sub_ingredients"):
        implied, asked = in_words(house.get(column, ""))
        added, asks = implied | added, asked | asks
    if complete:  # then a word that says otherwise is the only question left
        asks = {member: word for member, word in added.items() if member not in contains}
    contains = tuple(dict.fromkeys((*contains, *added)))
    if len(_nuts() & set(contains)) > 1:  # a nut that is named says which nuts
        contains = tuple(word for word in contains if word != "nuts")
    asks = {member: word for member, word in asks.items() if complete or member not in contains}
    specified = plain(house.get("sub_ingredients", "none")) != "none"
    return Brings(contains, asks, not complete and (specified or not in_tables(key)), complete)


def of_formula(formula):
    """Return ({allergen: names of what brings it}, what is to check) of a formula's ingredients in use.

    The second names an ingredient whose allergens nobody has found complete, and what is asked of any, in words.
    """
    contains, brings = {}, {}
    for part in formula.parts:
        for key, percentage in part.items:
            if np.any(percentage):
                brings[formula.ingredients[key].name] = of_ingredient(formula.ingredients, key)
    for name, each in brings.items():
        for allergen in each.contains:
            contains.setdefault(allergen, []).append(name)
    to_check = []
    for name, each in brings.items():
        asked = [member for member in each.asks if member not in contains or each.complete]
        if each.open or asked:
            to_check.append(f"{name} ({listing(asked, 'or')}?)" if asked else name)
    return contains, tuple(to_check)


def _stated(text):
    """(members that a list of allergens names, {what else it says: the word})."""
    contains, asks = [], {}
    for word in _split(text.replace(",", ";")):
        member = _listed().get(_tokens(word))
        implied, asked = in_words(word)
        contains += [member] if member else implied
        asks |= asked
        if not (member or implied or asked or plain(word) == "none"):
            asks[word] = word
    return tuple(dict.fromkeys(contains)), asks


def _split(text):
    return [word for part in text.split(";") if (word := part.strip())]


@functools.cache
def _listed():
    """{tokens of a word of the laws' lists: its member}; an entry that has one member stands for it."""
    found = {}
    for row in table("allergen_lists").rows:
        members = row.members.split(";")
        found |= {_tokens(word): word for word in members}
        if len(members) == 1:
            others = [row.allergen, *_split(row.also_written)]
            found |= {_tokens(word): members[0] for word in others}
    return found


@functools.cache
def _nuts():
    rows = table("allergen_lists").rows
    return {word for row in rows if row.members.endswith(";nuts") for word in row.members.split(";")}


@functools.cache
def _plain_names():
    """Tokens of the names by which traces and claims call allergens: those of the lists, and of other languages."""
    names = [word for row in table("allergen_words").rows if row.says == "name" for word in row.words.split(";")]
    for row in table("allergen_lists").rows:
        names += [row.allergen, *row.members.split(";"), *_split(row.also_written)]
    return set(map(_tokens, names))


def _folded(text):
    """The words and marks of a text: no case, accent, hyphen or apostrophe, additives by their E number."""
    text = re.sub("[®™©\u00ad\u200b]", "", text).casefold().translate(_NO_ACCENT)
    text = unicodedata.normalize("NFKD", _BROKEN.sub(r"\1\2 , \1 \2", text))
    text = "".join(each for each in text if not unicodedata.combining(each))
    text = _BARE_NUMBER.sub(r" e\1", _E_NUMBER.sub(lambda found: f"e{found[1]}{found[2].strip(' -')}", text))
    text = re.sub(r"[\n\r|•·]+", " , ", re.sub(r"\d+[.,]\d+", " ", text))
    return re.findall(r"e\d{3,4}[a-f]?\b|[a-z]+|\d+|[.,;:()\[\]!?/]", text)  # also "2eggs" and "milk1", of a footnote


@functools.lru_cache(maxsize=1024)
def _tokens(text):
    return tuple(_singular(token) for token in _folded(text))


def _singular(token):
    """A token as the table of words has it, where only its number differs."""
    for end, instead in (("", ""), ("s", ""), ("es", ""), ("ies", "y")):
        if token.endswith(end) and (each := token.removesuffix(end) + instead) in _vocabulary():
            return each
    return token


@functools.cache
def _written():
    """[(folded tokens of a word, its row)] of allergen_words.csv, the words that go on marked by a *."""
    return [
        (tuple(_folded(word)), "*" in word[:1], word.endswith("*"), row)
        for row in table("allergen_words").rows
        if row.says not in ("and", "passed")
        for word in row.words.split(";")
    ]


@functools.cache
def _joining(says):
    """The words that stand between plain names: "and", or those that are passed over."""
    return set(table("allergen_words").row(says=says).words.split(";"))


@functools.cache
def _vocabulary():
    found = {token for tokens, *_ in _written() for token in tokens}
    for row in table("allergen_lists").rows:
        found |= set(_folded(f"{row.allergen};{row.members};{row.also_written}"))
    plural = {token for token in found if len(token) > 3 and re.search("[^sui]s$", token)}
    return found - plural | {token.removesuffix("s") for token in plural}


@functools.cache
def _phrases():
    """({tokens: row}, [(stem, whether it may stand inside, whether more may follow, row)], most tokens)."""
    whole, stems = {}, []
    for tokens, inside, goes_on, row in _written():
        if inside or goes_on:
            stems.append((tokens[0], inside, goes_on, row))
        else:
            whole[tuple(map(_singular, tokens))] = row
    return whole, stems, max(map(len, whole))


def _longest(tokens):
    """[(start, end, row)] of the words that are found, but those that lie inside a longer one."""
    whole, _, most = _phrases()
    found = []
    for start, token in enumerate(tokens):
        if (token,) not in whole:
            found += [(start, start + 1, row) for row in _stems_in(token)]
        for end in range(start + 1, min(start + most, len(tokens)) + 1):
            if row := whole.get(tokens[start:end]):
                found.append((start, end, row))
    return _outermost(found)


def _outermost(found):
    """The (start, end, row) that lie inside no longer one."""
    return [
        (start, end, row)
        for start, end, row in found
        if not any(a <= start and end <= b and (a, b) != (start, end) for a, b, _ in found)
    ]


def _stems_in(token):
    """The rows of the stems that a word is made of, as German writes them together."""
    found = []
    for stem, inside, goes_on, row in _phrases()[1]:
        place = token.find(stem)
        if place >= 0 and (inside or place == 0) and (goes_on or token.endswith(stem)):
            found.append((place, place + len(stem), row))
    return [row for _, _, row in _outermost(found)]


def _told_of(tokens, found):
    """The starts of the words that are said to be traces or absent: never declared for it, only asked about."""
    at = {start: (end, row) for start, end, row in found}
    before = {end: start for start, end, _ in found}
    told = set()
    for start, end, row in found:
        if row.says == "free" and start in before and tokens[before[start] : start] in _plain_names():
            told.add(before[start])
        elif row.says in ("traces", "none of"):
            told |= _run(tokens, at, end, row.says)
    return told


def _run(tokens, at, place, says):
    """The starts of the plain names that follow "may contain" or "free from".

    Past a comma only where nothing but such names follows up to the end of the sentence, and where a claim says "and"
    before the last or begins with a colon: what comes after it in a list of ingredients is an ingredient.
    """
    first, later, comma, joined = set(), set(), False, False
    listed = tokens[place : place + 1] == (":",)  # "free from: milk, egg."
    while place < len(tokens) and (tokens[place] not in _STOPS or (tokens[place] == ":" and not first)):
        end, row = at.get(place, (place + 1, None))
        if row and row.says in ("", "name"):
            if tokens[place : end - (tokens[end - 1] in _joining("passed"))] not in _plain_names():
                return first
            (later if comma else first).add(place)
        elif tokens[place] == ",":
            comma, joined = True, False
        elif tokens[place] in _joining("and"):
            joined = True
        elif not row and tokens[place] not in _joining("passed") and tokens[place] != ":":
            return first
        place = end
    return first | later if says == "traces" or joined or listed else first
