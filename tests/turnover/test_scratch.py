import time

import pytest

from groutjobs.turnover.readiness import readiness
from tests.turnover.finished import finished_job

pytestmark = pytest.mark.django_db


def test_x():
    t = time.time()
    job = finished_job(weather=True, photos=2)
    print("BUILD", time.time() - t)
    t = time.time()
    for f in readiness(job.pour):
        print(f.level, f.code, f.about, f.message)
    print("READY", time.time() - t)
    from groutjobs.turnover.actions import freeze_report

    t = time.time()
    r = freeze_report(pour=job.pour, by=job.engineer)
    print("FREEZE", time.time() - t, len(r.manifest_text))
    from groutjobs.turnover.report import draw, html_of

    t = time.time()
    h = html_of(r)
    print("HTML", time.time() - t, len(h))
    t = time.time()
    p = draw(r)
    print("DRAW", time.time() - t, len(p))
    import pathlib

    pathlib.Path("/tmp/a.pdf").write_bytes(p)
    pathlib.Path("/tmp/a.html").write_text(h)
    pathlib.Path("/tmp/a.json").write_text(r.manifest_text)
    import json

    from groutjobs.turnover import report as rr

    seen = {}
    old = rr.run_renderer
    rr.run_renderer = lambda o: seen.update(o) or b""
    draw(r)
    rr.run_renderer = old
    pathlib.Path("/tmp/order.json").write_text(json.dumps(seen))
    print(rr.fonts_conf())
    import shutil

    shutil.copytree(rr.settings.VAR, "/tmp/varcopy", dirs_exist_ok=True)
