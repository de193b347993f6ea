"""Names of people, as far as two spellings are one name."""

import unicodedata


def name_key(name: str) -> str:
    """The same for two spellings of a name that look the same, or differ by blanks and capitals.

    Letters typed in parts, or as wide as a CJK letter, count as the plain ones (Unicode, form KC).
    Empty for a name of which nobody sees a sign.
    """
    plain = unicodedata.normalize("NFKC", visible(name)).casefold()
    return " ".join(unicodedata.normalize("NFKC", plain).split())


def visible(text: str) -> str:
    """The text without signs that show nothing, such as a space of no width (category Cf)."""
    return "".join(sign for sign in text if unicodedata.category(sign) != "Cf")
