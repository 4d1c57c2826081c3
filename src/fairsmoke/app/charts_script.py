"""The script that draws charts: Vega, Vega-Lite and their interpreter, out of an installed package.

``python -m fairsmoke.app.charts_script`` gathers it once, at set-up; otherwise the first chart
does. It lies in the user's cache under the versions that it was made of.
"""

import hashlib
import os
import threading
from functools import cache
from importlib.metadata import version
from pathlib import Path

from fairsmoke.answers.store import usual_folder
from fairsmoke.telling.chart_style import vega_lite

# The bundle's own way to begin: everything of it that we use, under one name.
_SNIPPET = "window.fairsmokeCharts = { embed: vegaEmbed };"

_ONE_AT_A_TIME = threading.Lock()


@cache
def script_name() -> str:
    """Return the file's name, which changes with all that it is made of."""
    parts = (version("vl-convert-python"), vega_lite(), _SNIPPET)
    return f"charts-{hashlib.sha256(repr(parts).encode()).hexdigest()[:12]}.js"


def script(results: Path) -> Path:
    """Return the script's file, gathered first if it is not there."""
    path = results / "scripts" / script_name()
    with _ONE_AT_A_TIME:
        if not path.is_file():
            import vl_convert

            path.parent.mkdir(parents=True, exist_ok=True)
            beside = path.with_suffix(f".{os.getpid()}.part")
            text = vl_convert.javascript_bundle(_SNIPPET, vl_version=vega_lite())
            beside.write_text(text, encoding="utf-8")
            beside.replace(path)
    return path


if __name__ == "__main__":
    print(script(usual_folder()))
