"""What the documents point at is there; what the guides call a page or a button is called so."""

import re

import pytest

from tests.architecture.tree import ROOT

DOCUMENTS = sorted([*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md")])
GUIDES = sorted(ROOT.glob("docs/guides/*.md"))
LINK = re.compile(r"(!?)\[[^\]]*\]\(([^)\s]+)\)")
LABEL = re.compile(r"\*\*([^*]+)\*\*")
PAGES = ROOT / "bookings" / "pages"
LEAD = re.compile(r"^\d+\. \*\*[^*]+\*\*", re.MULTILINE)
"""What a step is about, in a guide's own words."""
MOST_BYTES = 250_000


def links(document) -> list[tuple[bool, str]]:
    """(whether it is a picture, where it leads) of each link within this project."""
    found = LINK.findall(document.read_text(encoding="utf-8"))
    return [(bool(mark), to.partition("#")[0]) for mark, to in found if "://" not in to]


def names(paths) -> list[str]:
    return [path.relative_to(ROOT).as_posix() for path in paths]


@pytest.mark.parametrize("document", DOCUMENTS, ids=names(DOCUMENTS))
def test_every_link_and_picture_is_there(document):
    """Links to other hosts are not followed."""
    missing = [to for _, to in links(document) if to and not (document.parent / to).exists()]
    assert missing == []


def test_every_picture_is_shown_and_small():
    """None is left over, and none weighs more than 250 kB."""
    shown = {
        (document.parent / to).resolve()
        for document in DOCUMENTS
        for is_picture, to in links(document)
        if is_picture
    }
    drawn = {path.resolve() for path in ROOT.glob("docs/pictures/*.png")}
    assert drawn
    assert drawn - shown == set()
    assert [path.name for path in drawn if path.stat().st_size >= MOST_BYTES] == []


def test_there_is_a_guide_for_each_of_the_four_with_a_picture():
    """For students, instructors, admins and whoever lives in a calendar; all are in the README."""
    assert [path.stem for path in GUIDES] == ["admin", "calendar", "instructor", "student"]
    assert all(any(is_picture for is_picture, _ in links(guide)) for guide in GUIDES)
    told = {to for _, to in links(ROOT / "README.md")}
    assert told >= {f"docs/guides/{guide.stem}.md" for guide in GUIDES}


def words_of_the_pages() -> str:
    """The templates and the pages' own code as one text, its white space and quotes made even."""
    files = [*PAGES.glob("templates/**/*.html"), *PAGES.glob("**/*.py")]
    text = " ".join(path.read_text(encoding="utf-8") for path in sorted(files))
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


@pytest.mark.parametrize("guide", GUIDES, ids=names(GUIDES))
def test_what_a_guide_calls_a_page_or_a_button_is_called_so(guide):
    """Bold words are those of the pages; the bold words that begin a step are the guide's own."""
    text = LEAD.sub("", guide.read_text(encoding="utf-8"))
    labels = {" ".join(label.split()) for label in LABEL.findall(text)}
    pages = words_of_the_pages()
    assert len(labels) >= 4
    unknown = [
        label
        for label in sorted(labels)
        if not re.search(rf"(?<!\w){re.escape(label)}(?!\w)", pages, re.IGNORECASE)
    ]
    assert unknown == []
