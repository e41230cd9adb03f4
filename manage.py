#!/usr/bin/env python3
"""Run groutjobs. Two commands need nothing before them, not even Django: `demo` and `test`.

Where Django cannot be imported this file makes .venv beside itself, installs the locked packages into it (with uv if
it is there, else pip) and runs again inside. Only the standard library is used until then.
"""

import ctypes.util
import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
VENV = HERE / ".venv"
PYTHON = VENV / "bin" / "python"
SYSTEM_PACKAGES = ["python3-venv", "libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"]
APT = ["apt-get", "install", "-y", *SYSTEM_PACKAGES]


def lock_for(command: str) -> Path:
    return HERE / "groutjobs" / ("requirements-test.lock" if command == "test" else "requirements.lock")


def lacks_system_packages() -> bool:
    try:
        import ensurepip  # noqa: F401, PLC0415
        import venv  # noqa: F401, PLC0415
    except ImportError:
        return True
    return any(ctypes.util.find_library(name) is None for name in ("pango-1.0", "pangoft2-1.0", "harfbuzz-subset"))


def install_system_packages() -> None:
    if sys.platform == "darwin":
        if ctypes.util.find_library("pango-1.0") is None:
            print("The PDF report needs Pango. Run this line, then start again:\n  brew install pango")
        return
    line = "sudo " + " ".join(APT)
    if os.geteuid() != 0 or shutil.which("apt-get") is None:
        sys.exit(f"This machine lacks Python's venv or the Pango library. Run this line, then start again:\n  {line}")
    print(f"Installing what the PDF report needs: {' '.join(APT)}", flush=True)
    quiet = dict(os.environ, DEBIAN_FRONTEND="noninteractive")
    subprocess.run(["apt-get", "update", "-q"], check=True, env=quiet, stdout=subprocess.DEVNULL)
    subprocess.run(APT, check=True, env=quiet, stdout=subprocess.DEVNULL)


def install_packages(lock: Path) -> None:
    """Make .venv and fill it from the lock; a stamp with the lock's hash says that this was done."""
    stamp = VENV / f"{lock.name}.{hashlib.sha256(lock.read_bytes()).hexdigest()[:16]}"
    if stamp.exists():
        return
    if lacks_system_packages():
        install_system_packages()
    print(f"Installing the locked packages of {lock.relative_to(HERE)} into .venv", flush=True)
    if not PYTHON.exists():
        subprocess.run([sys.executable, "-m", "venv", str(VENV)], check=True)
    uv = shutil.which("uv")
    installer = [uv, "pip", "install", "--python", str(PYTHON)] if uv else [str(PYTHON), "-m", "pip", "install"]
    subprocess.run([*installer, "--quiet", "--require-hashes", "-r", str(lock)], check=True)
    stamp.touch()


def main() -> None:
    command = sys.argv[1] if len(sys.argv) > 1 else ""
    if Path(sys.prefix) != VENV and os.environ.get("GROUTJOBS_OWN_PACKAGES") != "1":
        install_packages(lock_for(command))
        os.execv(PYTHON, [str(PYTHON), str(HERE / "manage.py"), *sys.argv[1:]])  # noqa: S606
    if command == "test":
        install_packages(lock_for(command))
        os.chdir(HERE)
        sys.exit(subprocess.call([str(PYTHON), "-m", "groutjobs.selftest", *sys.argv[2:]]))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "groutjobs.settings")
    from django.core.management import execute_from_command_line  # noqa: PLC0415

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
