"""HTML pages read back for tests: strictly parsed, with their text and tables."""

from html.parser import HTMLParser

VOID = {"meta", "link", "br", "hr", "img", "input", "wbr"}
OUTSIDE = {"src", "href", "xlink:href", "action", "data", "srcset", "poster", "background"}


class Page(HTMLParser):
    """A page's elements in order, each (tag, attributes, text inside it).

    Raises ValueError where an element is closed that is not open, or left open.
    """

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None], list[str]]] = []
        self._open: list[int] = []
        self.feed(text)
        self.close()
        if self._open:
            raise ValueError(f"left open: {[self.elements[i][0] for i in self._open]}")

    def handle_starttag(self, tag, attrs):
        names = [name for name, _ in attrs]
        if len(set(names)) != len(names):
            raise ValueError(f"an attribute of {tag} stands twice")
        self.elements.append((tag, dict(attrs), []))
        if tag not in VOID:
            self._open.append(len(self.elements) - 1)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs), []))

    def handle_endtag(self, tag):
        if tag in VOID:
            return
        if not self._open or self.elements[self._open[-1]][0] != tag:
            raise ValueError(f"{tag} is closed but not open, line {self.getpos()[0]}")
        self._open.pop()

    def handle_data(self, data):
        for index in self._open:
            self.elements[index][2].append(data)

    def all(self, tag: str) -> list[tuple[dict[str, str | None], str]]:
        """Attributes and text of every element of a kind."""
        return [
            (attributes, " ".join("".join(text).split()))
            for name, attributes, text in self.elements
            if name == tag
        ]

    def text(self) -> str:
        """All text of the body, blanks made single."""
        return self.all("body")[0][1]

    def from_outside(self) -> list[str]:
        """Everything the page would fetch or run; empty when it needs no network and no script."""
        found = [name for name, _, _ in self.elements if name in ("script", "iframe", "object")]
        for name, attributes, text in self.elements:
            found += [
                f"{name} {key}={value}"
                for key, value in attributes.items()
                if key in OUTSIDE and not (value or "").startswith("#")
            ]
            found += [f"{name} {key}" for key in attributes if key.startswith("on")]
            style = attributes.get("style") or ("".join(text) if name == "style" else "")
            if "url(" in style.replace("url(#", "") or "@import" in style:
                found.append(f"{name} style")
        return found
