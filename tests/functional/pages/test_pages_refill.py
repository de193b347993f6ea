"""A page is filled in again in one form only, and is otherwise the same to the letter."""

from accounts.kept_forms import KeptForm
from bookings.pages.refill import NOTICE, refilled

PAGE = """<!doctype html><title>A &amp; B</title><!-- kept -->
<svg viewBox="0 0 1 1"><path d="M0 0"/></svg>
<form method="post" action="/other/"><input name="name" value="as it was"></form>
<form method="post"><input type="hidden" name="csrfmiddlewaretoken" value="new">
<input name="name" value="" required>
<select name="size"><option value="1" selected>one</option><option value="2">two</option></select>
<label><input type="checkbox" name="tick" value="yes" checked> tick</label>
<input type="file" name="paper">
<textarea name="text">old &amp; gone</textarea><button name="then" value="keep">Save</button></form>
<p>after&nbsp;it &#39;all</p>"""
"""Two forms, of which the second sends to the page's own address."""


def kept(**values: list[str]) -> KeptForm:
    return KeptForm("/page/", "/page/", values)


def test_the_one_form_is_filled_and_nothing_else() -> None:
    """Text, choice, tick and text area; the token, files, buttons and the other form stay."""
    said = kept(name=['Ada "the" <first>'], size=["2"], text=["a <b> & c"], then=["release"])
    page = refilled(PAGE, "/page/", said)
    before, _, after = PAGE.partition('<form method="post"><input')
    assert page.startswith(before)
    assert page.endswith(after.split("</form>")[-1])
    assert 'name="name" value="Ada &quot;the&quot; &lt;first&gt;" required' in page
    assert '<option value="1">one</option><option value="2" selected>' in page
    assert '<input type="checkbox" name="tick" value="yes">' in page
    assert "\na &lt;b&gt; &amp; c</textarea>" in page
    assert 'value="new"' in page
    assert '<button name="then" value="keep">' in page
    assert page.count(NOTICE) == 1


def test_a_page_without_that_form_stays_as_it_is() -> None:
    """No notice, and not one letter differs."""
    assert refilled(PAGE, "/elsewhere/", kept(name=["Ada"])) == PAGE
