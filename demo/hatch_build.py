"""Let the demo setup travel in the wheel: what `huemend demo` copies, without its generator and its truth."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class DemoHook(BuildHookInterface):  # type: ignore[type-arg]
    """Map ``demo/<name>`` to ``huemend/_demo/<name>``."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        if version == "editable":
            return  # the repository is at hand, and `huemend demo` looks there
        root = Path(self.root)
        for setup_file in sorted(root.glob("demo/*/setup.toml")):
            folder = setup_file.parent
            for path in sorted(folder.rglob("*")):
                inside = path.relative_to(folder)
                # Results of a match that was tried in place, and the truth, are no part of a setup.
                if path.is_file() and inside.parts[0] not in ("match", "truth") and path.suffix != ".npz":
                    target = Path("huemend", "_demo", folder.name, inside)
                    build_data["force_include"][str(path)] = target.as_posix()
