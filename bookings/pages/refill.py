"""A page's form, filled in again with what was written in it before."""

from html import escape
from html.parser import HTMLParser
from urllib.parse import urlsplit

from accounts.kept_forms import KeptForm

_TICKED = {"checkbox", "radio"}
_LEFT = {"file", "password", "submit", "button", "image", "reset"}
NOTICE = "What you wrote is below. It is not saved yet: press the button again."


def refilled(page: str, path: str, kept: KeptForm) -> str:
    """The page at `path` with the kept values in the form that sends to the same address.

    A page without such a form is returned as it is.
    """
    filler = _Filler(path, kept)
    filler.feed(page)
    filler.close()
    return "".join(filler.out)


class _Filler(HTMLParser):
    """Repeats a page tag by tag, and changes only the fields of that one form."""

    def __init__(self, path: str, kept: KeptForm) -> None:
        super().__init__(convert_charrefs=False)
        self.out: list[str] = []
        self._path, self._kept = path, kept
        self._values = {name: list(texts) for name, texts in kept.values.items()}
        self._is_inside = self._is_done = False
        self._chosen: list[str] | None = None  # of the select that is open
        self._skips = False  # the old text of a text area

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        raw, values = self.get_starttag_text() or "", dict(attrs)
        if tag == "form" and not self._is_done and self._is_the_one(values):
            self._is_inside = self._is_done = True
            self.out.append(f'{raw}<p class="caution" role="status">{NOTICE}</p>')
        elif not self._is_inside:
            self.out.append(raw)
        elif tag == "option":
            self.out.append(self._option(raw, values))
        else:
            self._field(tag, raw, values)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._is_inside = False
        elif tag == "select":
            self._chosen = None
        elif tag == "textarea":
            self._skips = False
        self.out.append(f"</{tag}>")

    def handle_data(self, data: str) -> None:
        if not self._skips:
            self.out.append(data)

    def handle_entityref(self, name: str) -> None:
        self.handle_data(f"&{name};")

    def handle_charref(self, name: str) -> None:
        self.handle_data(f"&#{name};")

    def handle_decl(self, decl: str) -> None:
        self.out.append(f"<!{decl}>")

    def handle_comment(self, data: str) -> None:
        self.out.append(f"<!--{data}-->")

    def _is_the_one(self, form: dict[str, str | None]) -> bool:
        sends_to = urlsplit(form.get("action") or self._path).path
        return (form.get("method") or "").lower() == "post" and sends_to == self._kept.sent_to

    def _field(self, tag: str, raw: str, field: dict[str, str | None]) -> None:
        name, kind = field.get("name") or "", field.get("type") or "text"
        texts = self._values.get(name)
        if tag == "input" and kind in _TICKED and name:
            is_ticked = (field.get("value") or "on") in (texts or [])
            self.out.append(_without(raw, "checked", " checked" if is_ticked else ""))
        elif texts is None:
            self.out.append(raw)
        elif tag == "select":
            self._chosen = texts
            self.out.append(raw)
        elif tag == "textarea":
            self._skips = True
            self.out.append(raw + "\n" + escape(_next(texts), quote=False))
        elif tag == "input" and kind not in _LEFT:
            self.out.append(_with_value(field, _next(texts)))
        else:
            self.out.append(raw)

    def _option(self, raw: str, option: dict[str, str | None]) -> str:
        if self._chosen is None:
            return raw
        is_chosen = (option.get("value") or "") in self._chosen
        return _without(raw, "selected", " selected" if is_chosen else "")


def _next(texts: list[str]) -> str:
    """Of several fields of one name, each takes its own text."""
    return texts.pop(0) if len(texts) > 1 else texts[0] if texts else ""


def _without(raw: str, attribute: str, added: str) -> str:
    """The tag without that bare attribute, and with what is added."""
    plain = raw.replace(f" {attribute}", "")
    end = "/>" if plain.endswith("/>") else ">"
    return plain.removesuffix(end) + added + end


def _with_value(field: dict[str, str | None], text: str) -> str:
    attributes = {**field, "value": text}
    words = [
        name if value is None else f'{name}="{escape(value)}"' for name, value in attributes.items()
    ]
    return f"<input {' '.join(words)}>"
