"""A page as a browser without JavaScript reads it: its words, its links, and its forms by the
labels that a person sees.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

ALONE = {"meta", "link", "input", "br", "hr", "img", "wbr"}
"""Elements without an end tag."""
FOLDED = "no-note"
"""The class of what the stylesheet shows only once an absence is chosen."""
_PRESSED = ("submit", "button", "reset", "image")


@dataclass
class Element:
    """One element; `parts` are its texts and elements, in order."""

    tag: str
    held: dict[str, str]
    parts: list["str | Element"] = field(default_factory=list)

    def all(self, *tags: str) -> Iterator["Element"]:
        """Those below it, in the order of the page."""
        for part in self.parts:
            if isinstance(part, Element):
                if part.tag in tags:
                    yield part
                yield from part.all(*tags)

    @property
    def raw(self) -> str:
        """Its text as it stands."""
        return "".join(part if isinstance(part, str) else part.raw for part in self.parts)

    @property
    def words(self) -> str:
        """Its text in one line, as a screen reader says it: what is hidden is not said."""
        return " ".join(self._said("").split())

    @property
    def shown(self) -> str:
        """Its text in one line, as it is seen: without what is there for screen readers only."""
        return " ".join(self._said("vh").split())

    def _said(self, unseen: str) -> str:
        if "hidden" in self.held or self.tag in ("script", "datalist"):
            return ""
        if {unseen, FOLDED} & set(self.held.get("class", "").split()):
            return ""
        if self.tag in ("textarea", "select"):
            return " "
        said = "".join(p if isinstance(p, str) else p._said(unseen) for p in self.parts)
        is_inline = self.tag in ("a", "b", "i", "strong", "span", "time", "small", "code")
        return said if is_inline else f" {said} "


class _Reader(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.open = [Element("document", {})]
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs})
        self.open[-1].parts.append(element)
        if tag not in ALONE:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].parts.append(Element(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self.open[-1].tag == tag, f"</{tag}> ends <{self.open[-1].tag}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        self.open[-1].parts.append(data)


def read(text: str) -> Element:
    """The page; an end tag that ends another element fails."""
    return _Reader(text).open[0]


@dataclass
class Button:
    """What is pressed: its words as they are read aloud and as they are seen, and what it adds to
    what is sent.
    """

    words: str
    shown: str
    name: str
    value: str
    address: str


class Form:
    """A form of the page: what it would send as it stands, and its fields by their labels.

    A field that a person cannot name fails: it has neither a label nor an `aria-label`.
    """

    def __init__(self, element: Element) -> None:
        self.method = element.held.get("method", "get").lower()
        self.address = element.held.get("action", "")
        self.sent: dict[str, list[str]] = {}
        self.fields: dict[str, list[Element]] = {}
        self.files: set[str] = set()
        self.needed: dict[str, str] = {}
        self.buttons = list(_buttons(element))
        labels = {one.held["for"]: one for one in element.all("label") if one.held.get("for")}
        around = {id(inner): one for one in element.all("label") for inner in one.all("input")}
        for one in element.all("input", "select", "textarea"):
            label = around.get(id(one)) or labels.get(one.held.get("id", ""))
            self._take(one, one.held.get("aria-label") or (label.words if label else ""))

    def _take(self, one: Element, label: str) -> None:
        name, kind = one.held.get("name", ""), one.held.get("type", one.tag)
        if not name or "disabled" in one.held or kind in _PRESSED:
            return
        if kind == "hidden":
            self.sent.setdefault(name, []).append(one.held.get("value", ""))
            return
        assert label, f"nobody can find the field {name}"
        self.fields.setdefault(label, []).append(one)
        if "required" in one.held:
            self.needed[name] = label
        if kind == "file":
            self.files.add(name)
        elif kind in ("checkbox", "radio"):
            if "checked" in one.held:
                self.sent.setdefault(name, []).append(one.held.get("value", "on"))
        elif kind == "select":
            self.sent[name] = _chosen(one)
        else:
            raw = one.raw.removeprefix("\n") if kind == "textarea" else one.held.get("value", "")
            self.sent[name] = [raw]

    def fill(self, label: str, said: object) -> None:
        """Write, choose by the words of an option, or tick (True, False) what is called so."""
        found = self.fields.get(label, [])
        assert len(found) == 1, f"{len(found)} fields are called “{label}”, of {list(self.fields)}"
        one = found[0]
        name, kind = one.held["name"], one.held.get("type", one.tag)
        if kind == "radio":
            assert said is True
            self.sent[name] = [one.held.get("value", "on")]
        elif kind == "checkbox":
            value, others = one.held.get("value", "on"), self.sent.pop(name, [])
            self.sent[name] = [*(v for v in others if v != value), *([value] if said else [])]
        elif kind == "select":
            options = {o.words: o.held.get("value", o.words) for o in one.all("option")}
            assert said in options, f"“{said}” is none of {list(options)[:40]}"
            self.sent[name] = [options[str(said)]]
        else:
            assert "readonly" not in one.held, f"“{label}” cannot be written in"
            self.sent[name] = [str(said)]

    def stops_at(self) -> list[str]:
        """The labels at which a browser would not send the form, because nothing stands there."""
        return [
            label
            for name, label in self.needed.items()
            if name not in self.files and not any(self.sent.get(name, []))
        ]


def _chosen(select: Element) -> list[str]:
    options = list(select.all("option"))
    chosen = [one for one in options if "selected" in one.held]
    if not chosen and "multiple" not in select.held:
        chosen = options[:1]
    return [one.held.get("value", one.words) for one in chosen]


def _buttons(form: Element) -> Iterator[Button]:
    for one in form.all("button"):
        if one.held.get("aria-hidden") != "true" and one.held.get("type", "submit") == "submit":
            held = one.held
            sent = held.get("name", ""), held.get("value", "")
            yield Button(one.words, one.shown, *sent, held.get("formaction", ""))
