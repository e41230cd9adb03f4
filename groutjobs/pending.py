from django.http import HttpRequest, HttpResponse


def pending(request: HttpRequest, **kwargs: object) -> HttpResponse:
    return HttpResponse("pending", status=501)
