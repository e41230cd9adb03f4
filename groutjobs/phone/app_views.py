"""The pages without signal. Nothing here holds data: the phone fills them from its own store and from /sync/v1/."""

import json

import segno
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_safe

from groutjobs.accounts.access import allowed, public, row_or_404
from groutjobs.accounts.models import EVERY_ROLE
from groutjobs.phone.paper import paper_parts
from groutjobs.phone.shell import ICON_SIZES, LATER, Packed, ShellFile, packed, shell
from groutjobs.pours.queries import log_of, pour_whole

BARE_POLICY = "default-src 'none'"
"""Of a script, a style or a picture by itself: the page that uses it has its own, and 34 files pay for each word."""
FOR_GOOD = "public, max-age=31536000, immutable"
ASK_AGAIN = "no-cache"


@public
@require_safe
def app(request: HttpRequest) -> HttpResponse:
    """The shell, the same for everybody."""
    made = shell()
    files = reverse("phone:app_file", args=[made.build, "x"]).removesuffix("x")
    response = render(request, "phone/app.html", {"build": made.build, "files": files, "modules": made.modules})
    return _of_build(request, response, made.build)


def _of_build(request: HttpRequest, response: HttpResponse, build: str) -> HttpResponse:
    """An answer that is asked for at each visit, and sent again only when the build is another."""
    tag = f'"{build}"'
    if tag in request.headers.get("If-None-Match", ""):
        response = HttpResponse(status=304)
    else:
        _pack(request, response, packed(response.content))
    for name, value in {"ETag": tag, "Cache-Control": ASK_AGAIN, "Vary": "Accept-Encoding"}.items():
        response.headers[name] = value
    return response


def _pack(request: HttpRequest, response: HttpResponse, packed: Packed) -> None:
    """Put the smallest encoding that the browser takes in place of the plain bytes, where it is smaller."""
    taken = packed.taken_by(request.headers.get("Accept-Encoding", ""), len(response.content))
    if taken:
        response.headers["Content-Encoding"], response.content = taken


@public
@require_safe
def app_file(request: HttpRequest, build: str, name: str) -> HttpResponse:
    """One file of this build; a file of another build is only in the phones that hold it."""
    made = shell()
    found = made.files.get(name) if build == made.build else None
    if found is None:
        raise Http404
    return _sent(request, found)


def _sent(request: HttpRequest, file: ShellFile) -> HttpResponse:
    response = HttpResponse(file.content, content_type=file.kind)
    _pack(request, response, file.packed)
    response.headers["Cache-Control"] = FOR_GOOD
    response.headers["Content-Security-Policy"] = BARE_POLICY
    response.headers["Vary"] = "Accept-Encoding"
    return response


@public
@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker with its build and its files written above it."""
    made = shell()
    names = [name for name in made.files if not name.endswith("512.png")]
    address = {name: reverse("phone:app_file", args=[made.build, name]) for name in names}
    files = [
        reverse("phone:app"),
        reverse("phone:manifest"),
        *(url for name, url in address.items() if not name.startswith(LATER)),
    ]
    rest = [url for name, url in address.items() if name.startswith(LATER)]
    head = f"const BUILD = {json.dumps(made.build)};\nconst FILES = {json.dumps(files)};\n"
    head += f"const REST = {json.dumps(rest)};\n"
    headers = {"Service-Worker-Allowed": "/"}
    response = HttpResponse(head + made.worker, content_type="text/javascript; charset=utf-8", headers=headers)
    return _of_build(request, response, made.build)


@public
@require_safe
def manifest(request: HttpRequest) -> HttpResponse:
    """What a phone asks for when the page is put on its home screen."""
    build = shell().build
    icons = [
        {
            "src": reverse("phone:app_file", args=[build, f"icon-{size}.png"]),
            "sizes": f"{size}x{size}",
            "type": "image/png",
            "purpose": "any maskable",
        }
        for size in ICON_SIZES
    ]
    start = reverse("phone:app")
    told = {
        "name": "Pour log",
        "short_name": "Pour log",
        "id": start,
        "start_url": start,
        "scope": "/",
        "display": "standalone",
        "background_color": "#ffffff",
        "theme_color": "#0b1326",
        "icons": icons,
    }
    return _of_build(request, JsonResponse(told, content_type="application/manifest+json"), build)


@allowed(read=EVERY_ROLE)
def paper(request: HttpRequest, pour_id: int) -> HttpResponse:
    """The sheet to write on when no phone works, with the same order and cautions as the screens."""
    pour = row_or_404(request, pour_whole(), pk=pour_id)
    log = log_of(pour)
    address = request.build_absolute_uri(reverse("phone:app")) + f"#pour/{pour.pk}"
    code = segno.make(address, error="m", micro=False).svg_inline(
        border=4, scale=4, svgclass=None, lineclass=None, title=f"Code for {pour}"
    )
    context = {
        "pour": pour,
        "site": pour.plan.machine.site,
        "log": log,
        "parts": paper_parts(log),
        "code": mark_safe(code),  # noqa: S308
    }
    return render(request, "phone/paper.html", context)
