"""The workbook's own Python environment, made on a fresh machine with the standard library only.

Runs under the Python that the user has, before anything is installed: nothing here may import
more than the standard library.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import platform
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / ".venv"
STAMP = FOLDER / "made-from.txt"
WORKBOOK_NEEDS = ("requirements.txt",)
TEST_NEEDS = ("requirements.txt", "tests/requirements.txt")

# Widgets answer on the main thread; nothing is fetched from outside for news or updates; all
# cells of a page stay in the window, so that no figure is torn down while scrolling.
LAB_SETTINGS = {
    "@jupyterlab/apputils-extension:kernels-settings": {"commsOverSubshells": "disabled"},
    "@jupyterlab/apputils-extension:notification": {"fetchNews": "false",
                                                    "checkForUpdates": False},
    "@jupyterlab/notebook-extension:tracker": {"windowingMode": "none"},
}


class CannotPrepare(Exception):
    """What is missing on this machine, in a sentence, with what to do."""


def prepare(needs: tuple[str, ...], say=print) -> Path:
    """Make the environment if it is not there or no longer matches; return its Python.

    Parameters
    ----------
    needs : tuple of str
        Requirement files, relative to the checkout.
    say : callable
        Told in words what is being done.

    Raises
    ------
    CannotPrepare
        Saying what is missing and what to do.
    """
    wanted = _fingerprint(TEST_NEEDS)
    made = STAMP.read_text(encoding="utf-8").splitlines() if STAMP.exists() else []
    if made[:1] == [wanted] and set(needs) <= set(made[1:]) and _python().exists():
        return _python()
    _require_modules()
    STAMP.unlink(missing_ok=True)  # a broken install must not look finished
    if not _belongs_here():
        say("Making the environment …")
        _run([sys.executable, "-m", "venv", "--clear", str(FOLDER)], "making the environment")
    say("Installing the packages (the first time takes a minute or two) …")
    files = [word for name in needs for word in ("-r", name)]
    _run([str(_python()), "-m", "pip", "install", "--quiet", "--disable-pip-version-check",
          "--no-deps", *files], "installing the packages")
    _write_lab_settings()
    _serve_charts_once()
    STAMP.write_text("\n".join([wanted, *needs]), encoding="utf-8")
    return _python()


def call(python: Path, arguments: list[str]) -> int:
    """Run a program of the environment in the foreground; return its exit code."""
    try:
        return subprocess.run([str(python), *arguments], env=variables()).returncode
    except KeyboardInterrupt:
        return 130


def variables() -> dict[str, str]:
    """Environment variables for programs of the workbook: own settings, nobody else's."""
    own = dict(os.environ)
    own.pop("PYTHONPATH", None)
    own.pop("PYTHONHOME", None)
    for name, folder in (("JUPYTER_CONFIG_DIR", "config"),
                         ("JUPYTERLAB_SETTINGS_DIR", "settings"),
                         ("JUPYTERLAB_WORKSPACES_DIR", "workspaces")):
        own.setdefault(name, str(FOLDER / "jupyter" / folder))
    own["JUPYTER_PREFER_ENV_PATH"] = "1"
    own["PYTHONUTF8"] = "1"
    # The matrices here are small: more threads only wait for each other on a busy machine.
    own.setdefault("OPENBLAS_NUM_THREADS", "1")
    return own


def _python() -> Path:
    if os.name == "nt":
        return FOLDER / "Scripts" / "python.exe"
    return FOLDER / "bin" / "python"


def _fingerprint(names: tuple[str, ...]) -> str:
    """Changes with anything that decides what the environment holds and where it stands."""
    parts = [platform.python_version(), str(ROOT), json.dumps(LAB_SETTINGS, sort_keys=True)]
    parts += [(ROOT / name).read_text(encoding="utf-8") for name in names]
    parts += [(ROOT / "lib" / "pyproject.toml").read_text(encoding="utf-8")]
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


def _belongs_here() -> bool:
    """Whether an environment of this Python version stands in this very folder."""
    settings = FOLDER / "pyvenv.cfg"
    if not (_python().exists() and settings.exists()):
        return False
    version = subprocess.run(
        [str(_python()), "-c", "import platform, sys; print(platform.python_version(), sys.prefix)"],
        capture_output=True, text=True)
    return version.stdout.strip() == f"{platform.python_version()} {FOLDER}"


def _require_modules():
    for module in ("venv", "ensurepip"):
        if importlib.util.find_spec(module) is None:
            raise CannotPrepare(
                f"This Python ({sys.executable}) has no module {module}, which is needed to make "
                f"the environment. On Debian or Ubuntu: apt install python3-venv; elsewhere "
                f"install Python from python.org.")


def _run(command: list[str], doing: str):
    done = subprocess.run(command, cwd=ROOT, env=variables(), capture_output=True, text=True)
    if done.returncode == 0:
        return
    said = done.stdout + done.stderr
    if any(sign in said for sign in ("NewConnectionError", "Temporary failure", "getaddrinfo",
                                     "Network is unreachable", "ConnectTimeout", "ProxyError",
                                     "(from versions: none)")):
        raise CannotPrepare(f"There is no network, or the package index cannot be reached, so "
                            f"{doing} failed. Connect and run the same command again.")
    if "No space left" in said:
        raise CannotPrepare(f"The disk is full, so {doing} failed. About 1.2 GB is needed.")
    tail = "\n".join(said.strip().splitlines()[-12:])
    raise CannotPrepare(f"{doing.capitalize()} failed. What the program said last:\n{tail}")


def _write_lab_settings():
    folder = FOLDER / "share" / "jupyter" / "lab" / "settings"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "overrides.json").write_text(json.dumps(LAB_SETTINGS, indent=1), encoding="utf-8")


def _serve_charts_once():
    """Put the chart library where JupyterLab serves it by address (see pages/charts.py)."""
    target = (FOLDER / "share" / "jupyter" / "labextensions" / "thermoforming" / "static"
              / "charts.js")
    code = ("import pathlib, shutil, sys, plotly; target = pathlib.Path(sys.argv[1]); "
            "target.parent.mkdir(parents=True, exist_ok=True); shutil.copyfile(pathlib.Path("
            "plotly.__file__).parent / 'package_data' / 'widgetbundle.js', target)")
    _run([str(_python()), "-c", code, str(target)], "setting up the figures")
