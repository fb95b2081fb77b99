"""A printed page read strictly."""

from html.parser import HTMLParser

VOID = {"meta", "br", "img", "hr"}


class Tree(HTMLParser):
    """Keeps text and fails on tags that do not close."""

    def __init__(self):
        super().__init__()
        self.open, self.text, self.scripts = [], [], 0

    def handle_starttag(self, tag, attrs):
        self.scripts += tag == "script"
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data.replace("\u00a0", " "))  # numbers keep their units on their line


def parsed(html):
    """Return the Tree of a whole page."""
    tree = Tree()
    tree.feed(html)
    tree.close()
    assert tree.open == []
    return tree
