"""A reader of the record's page that knows HTML tables and nothing of mixclock."""

from __future__ import annotations

from html.parser import HTMLParser


class PageReader(HTMLParser):
    """Collects the tables of a page: by id, the headings and the rows of plain words."""

    def __init__(self) -> None:
        super().__init__()
        self.tables: dict[str, list[dict[str, str]]] = {}
        self.heads: list[str] = []
        self.words: list[str] = []
        self._table = ""
        self._row: list[str] | None = None
        self._cell: list[str] | None = None
        self._head = False
        self.urls: list[str] = []
        self.tags: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        self.tags.append(tag)
        self.urls += [str(value) for name, value in attrs if name in ("src", "href", "xlink:href", "srcset", "data")]
        if tag == "table":
            self._table, self.heads = str(named.get("id")), []
            self.tables[self._table] = []
        elif tag == "tr":
            self._row = []
        elif tag in ("td", "th"):
            self._cell, self._head = [], tag == "th"

    def handle_data(self, data: str) -> None:
        self.words.append(data)
        if self._cell is not None:
            self._cell.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th") and self._cell is not None and self._row is not None:
            words = " ".join("".join(self._cell).split())
            (self.heads if self._head else self._row).append(words)
            self._cell = None
        elif tag == "tr" and self._row:
            self.tables[self._table].append(dict(zip(self.heads, self._row, strict=True)))


def read_page(text: str) -> PageReader:
    """The page, read."""
    reader = PageReader()
    reader.feed(text)
    reader.close()
    return reader
