"""A page as a person reads it."""

import re
from html.parser import HTMLParser


class Reader(HTMLParser):
    """Tags, their attributes, headings, and the text that a person reads."""

    def __init__(self, html):
        super().__init__()
        self.tags, self.text, self.heads, self.within = [], [], [], ""
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.within = tag
        if re.fullmatch("h[1-6]", tag):
            self.heads.append([tag, ""])

    def handle_endtag(self, _):
        self.within = ""

    def handle_data(self, data):
        if self.within in ("style", "script"):
            return
        self.text.append(data)
        if re.fullmatch("h[1-6]", self.within):
            self.heads[-1][1] += data

    def all(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]

    @property
    def words(self):
        return " ".join(" ".join(self.text).split())
