"""Every page of the app, as the app itself knows them, so that none is forgotten."""

import re
from collections.abc import Mapping

from fastapi import FastAPI
from fastapi.routing import APIRoute

from fairsmoke.app.factory import PAGE_MODULES

TONIGHT = {
    "trial": "paper-or-bare",
    "cook": "october",
    "piece": "shoulder-5",
    "cooker": "barrel",
    "probe": "core-1",
    "scale": "kitchen-scale",
    "number": "1",
    "part": "overview",
    "kind": "event",
    "handle": "october-event-01",
}
"""What stands in the paths of pages of the invented trial, whose last night is running now."""

NO_PAGE = frozenset(
    {
        "enter",
        "favicon",
        "manifest",
        "worker",
        "charts_script",
        "look_at_file",
        "what_if_answer",
        "worth_trying_answer",
        "worth_methods",
    }
)
"""Routes that are no page, or one of a secret, or of what was sent or asked before."""

_FILE = re.compile(r"\.(\w+|\{\w+\})$")


def page_paths(app: FastAPI, known: Mapping[str, str]) -> dict[str, str]:
    """Return the path of each page by the name of its route; ``known`` fills its parameters.

    Files and streams are left out. Raises KeyError for a parameter that is not known: it has to be
    added there, or its route to NO_PAGE.
    """
    found = {}
    for module in PAGE_MODULES:
        for route in module.router.routes:
            if not isinstance(route, APIRoute) or "GET" not in (route.methods or ()):
                continue
            if route.name in NO_PAGE or "stream" in route.name or _FILE.search(route.path):
                continue
            wanted = {name: known[name] for name in route.param_convertors}
            found[route.name] = str(app.url_path_for(route.name, **wanted))
    return found
