"""Files that a reader takes away."""

from django.http import HttpResponse

CSV = "text/csv; charset=utf-8"


def as_file(name: str, content: bytes | str, content_type: str) -> HttpResponse:
    """A file to keep under `name`, which names no person; no cache keeps it."""
    headers = {
        "Content-Disposition": f'attachment; filename="{name}"',
        "Cache-Control": "private, no-store",
    }
    return HttpResponse(content, content_type=content_type, headers=headers)
