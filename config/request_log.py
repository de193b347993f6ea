"""The log lines of each request, with the caller's address as throttles and sign-in read it."""

import structlog
from django.http import HttpRequest
from django_structlog.middlewares import RequestMiddleware

from accounts.client_address import client_address


class RequestLog(RequestMiddleware):
    """The logging library's middleware. By itself it believes any address that a caller writes."""

    @classmethod
    def bind_ip(cls, request: HttpRequest) -> None:
        structlog.contextvars.bind_contextvars(ip=client_address(request))
