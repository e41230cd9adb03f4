"""What pyHanko says of a sealed PDF, asked in a process of its own in limited time, and kept by hash for an hour."""

import hashlib
import json
import os
import subprocess
import sys
import tempfile
from typing import Any

from django.conf import settings
from django.core.cache import cache

TIME_LIMIT_S = 40
KEPT_S = 3600
PASSED_ON = ("PATH", "HOME", "TMPDIR", "LANG", "LD_LIBRARY_PATH", "DYLD_FALLBACK_LIBRARY_PATH")


def checked(pdf: bytes, certificate: str) -> dict[str, Any]:
    """The judgement of seal_check.py: `seal` with holds and words, `gaps` in PDF/A-3."""
    key = "seal-" + hashlib.sha256(pdf + certificate.encode()).hexdigest()
    found: dict[str, Any] | None = cache.get(key)
    if found is None:
        found = _asked(pdf, certificate)
        cache.set(key, found, KEPT_S)
    return found


def _asked(pdf: bytes, certificate: str) -> dict[str, Any]:
    with tempfile.NamedTemporaryFile(suffix=".pdf") as file:
        file.write(pdf)
        file.flush()
        try:
            run = subprocess.run(
                [sys.executable, "-m", "groutjobs.turnover.seal_check"],
                input=json.dumps({"path": file.name, "certificate": certificate}).encode(),
                capture_output=True,
                timeout=TIME_LIMIT_S,
                cwd=settings.BASE_DIR,
                env={name: os.environ[name] for name in PASSED_ON if name in os.environ},
                check=False,
            )
        except subprocess.TimeoutExpired:
            return _not_judged(f"it took longer than {TIME_LIMIT_S} s and was stopped")
    try:
        answer: dict[str, Any] = json.loads(run.stdout)
    except ValueError:
        return _not_judged(f"the check ended with {run.returncode}")
    return answer


def _not_judged(words: str) -> dict[str, Any]:
    return {"seal": {"holds": False, "words": words}, "gaps": ["not looked at"]}
