"""Whether a text speaks of pain or hearing.

Its reader is then told that teaching is not medical advice.
"""

import re
import unicodedata
from collections.abc import Iterable

_WORDS = (
    r"(?:head|back|ear|tooth|neck|stomach|muscle)?ach(?:es?|ed|ing|y)",
    r"pain(?:s|ed|ful|fully)?",
    r"painkillers?",
    r"hurt(?:s|ing)?",
    r"sore(?:r|st|s|ness)?",
    r"numb(?:s|ed|ing|ness)?",
    r"tingl(?:e|es|ed|ing|y)",
    r"tensions?",
    r"ringing",
    r"hearing",
)
_LETTER = r"[^\W\d_]"
_SPOKEN_OF = re.compile(rf"(?<!{_LETTER})(?:{'|'.join(_WORDS)})(?!{_LETTER})")


def speaks_of_pain(texts: Iterable[str]) -> bool:
    """Whether one of these texts holds a word of pain or hearing, in any case and form."""
    return any(_SPOKEN_OF.search(_plain(text)) for text in texts)


def _plain(text: str) -> str:
    """Letters composed, wide ones made usual, soft hyphens and joiners left out, in lower case."""
    whole = unicodedata.normalize("NFKC", text)
    return "".join(sign for sign in whole if unicodedata.category(sign) != "Cf").casefold()
