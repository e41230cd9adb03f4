"""The content security policy, with the setting names that Django 6 uses, and the answer to a refused step."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from groutjobs.errors import NotAllowed, Stale

Handler = Callable[[HttpRequest], HttpResponse]


class ContentSecurityPolicyMiddleware:
    """Send SECURE_CSP with every answer that has no policy of its own."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response
        self.policy = "; ".join(f"{name} {' '.join(values)}" for name, values in settings.SECURE_CSP.items())

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", self.policy)
        if getattr(request, "user", None) is not None and request.user.is_authenticated:
            response.headers.setdefault("Cache-Control", "no-store")
        return response


class AnswerErrorsMiddleware:
    """Turn a step that the rules of the record forbid into a page that says why and what to do next."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if isinstance(exception, NotAllowed | Stale):
            return render(request, "not_allowed.html", {"reason": str(exception)}, status=409)
        return None
