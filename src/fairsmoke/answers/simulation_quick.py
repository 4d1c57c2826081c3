"""A simulation said in a few options: one piece, a pit, perhaps a wrap and a hold, and its rivals.

Each rival arm is the base with some of the same options said otherwise.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from fairsmoke.answers.simulation_file import SimulationFile, plan_of
from fairsmoke.cooking import CUTS, SideBySide
from fairsmoke.messages.errors import JobError, message_of
from fairsmoke.quantity import (
    parse_length,
    parse_mass,
    parse_temperature,
)
from fairsmoke.setting_up.method import Method, check_readable

_SIZES = {
    "mass": parse_mass,
    "start": parse_temperature,
    **dict.fromkeys(("length", "width", "thick", "thin", "fat_cap"), parse_length),
}


def quick_plan(
    piece: Mapping[str, str],
    method: Method,
    against: Sequence[str | Method] = (),
    *,
    kitchen: Mapping[str, Any] | None = None,
    members: int = 100,
    seed: int = 1,
    whole_body: bool = True,
) -> SideBySide:
    """Return the plan for one piece by a method and by each of its rivals.

    A rival is a whole method, or what it does otherwise ("wrap=foil, pit=135 °C").
    `piece` and `kitchen` (altitude, room, starts, tender, cooker) are as in a file, what is ""
    left out. Raises JobError that names the option that is wrong.
    """
    given = {key: value for key, value in piece.items() if value}
    if given.get("cut") not in CUTS:
        raise JobError(f"--cut '{given.get('cut', '')}': one of {', '.join(CUTS)}")
    missing = [key for key in ("mass", "length", "width", "thick") if key not in given]
    if missing:
        wanted = ", ".join(f"--{key}" for key in missing)
        raise JobError(f"measure the piece and say {wanted} as well, such as --thick '7.5 cm'")
    for key, value in given.items():
        if key in _SIZES:
            check_readable(key, value, _SIZES[key])
    methods = [("base", method.named(), method)]
    for number, said in enumerate(against, start=2):
        other = said if isinstance(said, Method) else method.changed(said)
        methods.append((f"arm-{number}", other.named(method), other))
    for _, _, one in methods:
        one.check()
    plans = []
    for handle, name, one in methods:
        content = {
            **{key: value for key, value in (kitchen or {}).items() if value},
            "title": given["cut"].capitalize(),
            "pieces": [{"id": "piece", "name": given["cut"], **given}],
            "protocol": {"stages": one.stages()},
            "arms": [{"id": handle, "name": name}],
        }
        plans.append(_plan(content, members, seed, whole_body))
    arms = tuple(plan.arms[0] for plan in plans)
    assumed = tuple(dict.fromkeys(text for plan in plans for text in plan.assumed))
    return replace(plans[0], arms=arms, assumed=assumed)


def _plan(content: dict[str, Any], members: int, seed: int, whole_body: bool) -> SideBySide:
    try:
        file = SimulationFile.from_file(content)
    except ValidationError as error:
        raise JobError(message_of(error)) from error
    return plan_of(file, members=members, seed=seed, whole_body=whole_body)
