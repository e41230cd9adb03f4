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
LIBRARIES = ("pango-1.0", "pangoft2-1.0", "harfbuzz-subset")
PACKAGES = ["python3-venv", "libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0"]
TEST_PROGRAMS = {"chromium": "chromium", "pdftotext": "poppler-utils", "qpdf": "qpdf"}
TEST_LIBRARIES = {"atomic": "libatomic1"}  # the driver of the browser tests needs it


def lock_for(command: str) -> Path:
    return HERE / "groutjobs" / ("requirements-test.lock" if command == "test" else "requirements.lock")


def missing_packages(command: str) -> list[str]:
    """Debian packages that this machine lacks for the command."""
    try:
        import ensurepip  # noqa: F401, PLC0415
        import venv  # noqa: F401, PLC0415

        has_venv = True
    except ImportError:
        has_venv = False
    has_libraries = all(ctypes.util.find_library(name) for name in LIBRARIES)
    missing = [] if has_venv and has_libraries else list(PACKAGES)
    if command == "test":
        missing += [name for tool, name in TEST_PROGRAMS.items() if not shutil.which(tool)]
        missing += [name for library, name in TEST_LIBRARIES.items() if not ctypes.util.find_library(library)]
    return missing


def install_system_packages(missing: list[str]) -> None:
    """Install them when the user is root; otherwise print the one line to run."""
    if sys.platform == "darwin":
        sys.exit("The PDF report needs Pango. Run this line, then start again:\n  brew install pango poppler qpdf")
    apt = ["apt-get", "install", "-y", *missing]
    if os.geteuid() != 0 or shutil.which("apt-get") is None:
        sys.exit("This machine lacks system packages. Run this line, then start again:\n  sudo " + " ".join(apt))
    print("Installing: " + " ".join(missing), flush=True)
    quiet = dict(os.environ, DEBIAN_FRONTEND="noninteractive")
    subprocess.run(["apt-get", "update", "-q"], check=True, env=quiet, stdout=subprocess.DEVNULL)
    subprocess.run(apt, check=True, env=quiet, stdout=subprocess.DEVNULL)


def install_packages(lock: Path) -> None:
    """Make .venv and fill it from the lock; a stamp with the lock's hash says that this was done."""
    stamp = VENV / f"{lock.name}.{hashlib.sha256(lock.read_bytes()).hexdigest()[:16]}"
    if stamp.exists():
        return
    print(f"Installing the locked packages of {lock.relative_to(HERE)} into .venv", flush=True)
    if not PYTHON.exists():
        subprocess.run([sys.executable, "-m", "venv", str(VENV)], check=True)
    uv = shutil.which("uv")
    installer = [uv, "pip", "install", "--python", str(PYTHON)] if uv else [str(PYTHON), "-m", "pip", "install"]
    subprocess.run([*installer, "--quiet", "--require-hashes", "-r", str(lock)], check=True)
    stamp.touch()


def main() -> None:
    command = sys.argv[1] if len(sys.argv) > 1 else ""
    if Path(sys.prefix) != VENV or command == "test":
        if missing := missing_packages(command):
            install_system_packages(missing)
        install_packages(lock_for(command))
        os.chdir(HERE)
        rest = ["-m", "pytest", *sys.argv[2:]] if command == "test" else [str(HERE / "manage.py"), *sys.argv[1:]]
        os.execv(PYTHON, [str(PYTHON), *rest])  # noqa: S606
    if command == "demo":
        os.environ.setdefault("GROUTJOBS_VAR", str(HERE / "var" / "demo"))
        os.environ.setdefault("GROUTJOBS_PLAIN_HTTP", "1")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "groutjobs.settings")
    from django.core.management import execute_from_command_line  # noqa: PLC0415

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
