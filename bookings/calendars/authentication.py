"""What the school's mail server found about who sent a mail: Authentication-Results (RFC 8601)."""

from collections.abc import Iterable, Iterator

MOST_BYTES = 4_000
"""Characters of one Authentication-Results that are read; a longer one is ignored."""
# The property with the domain that each method has checked; the first one present counts. SPF
# checks the envelope, which counts only for the domain of From.
_CHECKED = {
    "dmarc": ("header.from",),
    "dkim": ("header.d", "header.i"),
    "spf": ("smtp.mailfrom",),
}


def vouches_for(domain: str, results: Iterable[str], *, authserv_id: str) -> bool:
    """Whether the topmost result of the server `authserv_id` says that a mail came from `domain`,
    the domain of its From.

    `results` are the values of the mail's Authentication-Results, topmost first. Lower ones were in
    the mail before that server had it, whatever name they carry.
    """
    for result in results:
        named, methods = _parted(result)
        if named == authserv_id.lower() != "":
            return _is_sure(domain.lower(), methods)
    return False


def _parted(result: str) -> tuple[str, list[list[str]]]:
    """The server's name in lower case, and each method's result with its properties: "dmarc=pass",
    "header.from=...".

    Empty where the value is too long, of a later version or not an Authentication-Results.
    """
    plain = "".join(_plain(result[: MOST_BYTES + 1]))
    head, *methods = plain.lower().split(";")
    words = head.split()
    if len(result) > MOST_BYTES or not words or words[1:] not in ([], ["1"]):
        return "", []
    return words[0], [_words(method) for method in methods]


def _plain(result: str) -> Iterator[str]:
    """The text without its comments, which may be nested.

    A quoted string becomes one `"`, so that nobody reads its words as results.

    A comment or a quoted string that does not end takes all the rest with it.
    """
    depth, is_quoted, is_escaped = 0, False, False
    for sign in result:
        if is_escaped:
            is_escaped = False
        elif sign == "\\" and (depth or is_quoted):
            is_escaped = True
        elif is_quoted:
            is_quoted = sign != '"'
        elif sign == "(":
            depth += 1
        elif depth:
            depth -= sign == ")"
            if not depth:
                yield " "
        else:
            is_quoted = sign == '"'
            yield sign


def _words(method: str) -> list[str]:
    """ "dkim = pass header . d = a.example" as "dkim=pass", "header.d=a.example"."""
    spaced = " ".join(method.split())
    for sign in "=./@":
        spaced = spaced.replace(f" {sign}", sign).replace(f"{sign} ", sign)
    return spaced.split()


def _is_sure(domain: str, methods: Iterable[list[str]]) -> bool:
    """Whether DMARC passed, or DKIM or SPF for exactly the domain of From.

    A failed DMARC outweighs them.
    """
    passed = False
    for words in methods:
        method, _, result = (words[0] if words else "").partition("=")
        method = method.partition("/")[0]  # "dkim/1": a version of the method
        if method == "dmarc" and result == "fail":
            return False
        if result == "pass" and method in _CHECKED:
            passed |= _domains(words[1:], _CHECKED[method]) == {domain}
    return passed


def _domains(words: Iterable[str], names: Iterable[str]) -> set[str]:
    """The domains in the first of these properties that is there.

    Two different ones contradict each other.
    """
    pairs = [word.partition("=") for word in words]
    for name in names:
        told = {value.rpartition("@")[2].rstrip(".") for key, _, value in pairs if key == name}
        if told:
            return told
    return set()
