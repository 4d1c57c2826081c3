"""A simulation said in a few options: one piece, a pit, perhaps a wrap and a hold, and its rivals.

Each rival arm is the base with some of the same options said otherwise.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from fairsmoke.answers.simulation import Simulation
from fairsmoke.answers.simulation_file import SimulationFile, plan_of
from fairsmoke.cooking import CUTS
from fairsmoke.messages.errors import JobError, message_of
from fairsmoke.messages.message import N_, InputField, Listed, Words
from fairsmoke.quantity import (
    parse_length,
    parse_mass,
    parse_temperature,
)
from fairsmoke.setting_up.method import Method, check_readable
from fairsmoke.telling.simulator_words import CUT_NAMES

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
) -> Simulation:
    """Return what to simulate of one piece by a method and by each of its rivals.

    A rival is a whole method, or what it does otherwise ("wrap=foil, pit=135 °C").
    `piece` and `kitchen` (altitude, room, starts, tender, cooker) are as in a file, what is ""
    left out. Raises JobError that names the option that is wrong.
    """
    given = {key: value for key, value in piece.items() if value}
    if given.get("cut") not in CUTS:
        message = N_(
            "%(field)s '%(cut)s': one of %(known)s",
            field=InputField("cut"),
            cut=given.get("cut", ""),
            known=Listed(list(CUTS)),
        )
        raise JobError(message, field="cut")
    missing = [key for key in ("mass", "length", "width", "thick") if key not in given]
    if missing:
        message = N_(
            "measure the piece and say %(fields)s as well, such as %(thick)s '7.5 cm'",
            fields=Listed([N_("%(value)s", value=InputField(key)) for key in missing]),
            thick=InputField("thick"),
        )
        raise JobError(message, field=missing[0])
    for key, value in given.items():
        if key in _SIZES:
            check_readable(key, value, _SIZES[key])
    methods = [("base", method.named(), method)]
    for number, said in enumerate(against, start=2):
        other = said if isinstance(said, Method) else method.changed(said)
        methods.append((f"arm-{number}", other.named(method), other))
    for _, _, one in methods:
        one.check()
    title = CUT_NAMES[given["cut"]]
    found = []
    for handle, name, one in methods:
        content = {
            **{key: value for key, value in (kitchen or {}).items() if value},
            "title": str(title),
            "pieces": [{"id": "piece", "name": given["cut"], **given}],
            "protocol": {"stages": one.stages()},
            "arms": [{"id": handle, "name": str(name)}],
        }
        found.append(_simulation(content, members, seed, whole_body))
    plan = replace(found[0].plan, arms=tuple(one.plan.arms[0] for one in found))
    names: dict[str, Words] = {handle: name for handle, name, _ in methods}
    return Simulation(plan, title, names, found[0].assumed)


def _simulation(content: dict[str, Any], members: int, seed: int, whole_body: bool) -> Simulation:
    try:
        file = SimulationFile.from_file(content)
    except ValidationError as error:
        raise JobError(message_of(error)) from error
    return plan_of(file, members=members, seed=seed, whole_body=whole_body)
