"""Which recorded probe each name of a logger's file is."""

import difflib
from collections.abc import Mapping, Sequence

from fairsmoke.intake.layout import Mapping as Layout
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_
from fairsmoke.trial.probe import Probe

ALIKE = 0.6
"""Names whose letters agree to this share are taken as alike, 1 being the same word."""


def probes_of(
    names: Sequence[str], given: Mapping[str, str], probes: Sequence[Probe]
) -> dict[str, str | None]:
    """Return the handle of each name's probe: "" to leave it out, None when nothing tells.

    ``given`` maps names of the file to handles or names of probes; a name of the file that is
    itself a probe's handle or name needs no more. Raises JobError when a given probe is not known.
    """
    own = handles(probes)
    found: dict[str, str | None] = {}
    for name in dict.fromkeys(names):
        told = given.get(name)
        if told:
            if told.casefold() not in own:
                raise JobError(
                    N_(
                        "there is no probe %(told)r; known: %(known)s",
                        told=told,
                        known=_known(probes),
                    )
                )
            found[name] = own[told.casefold()]
        else:
            found[name] = own.get(name.casefold()) if told is None else ""
    return found


def handles(probes: Sequence[Probe]) -> dict[str, str]:
    """Return handles by what a person may call a probe, in small letters."""
    return {p.name.casefold(): p.id for p in probes} | {p.id.casefold(): p.id for p in probes}


def require(found: Mapping[str, str | None], probes: Sequence[Probe]) -> dict[str, str]:
    """Return the probes when every name has one or is left out, else raise JobError for all."""
    missing = [name for name, probe in found.items() if probe is None]
    if missing:
        raise JobError(
            N_(
                "which probe is %(missing)s of this file? Known probes: %(known)s. Say "
                "%(missing_2)s, or '%(missing_3)s=' to leave it out",
                missing=", ".join(map(repr, missing)),
                known=_known(probes),
                missing_2=" ".join(f"--probe '{name}=HANDLE'" for name in missing),
                missing_3=missing[0],
            )
        )
    return {name: probe for name, probe in found.items() if probe is not None}


def by_file_name(given: Mapping[str, str], names: Sequence[str], layout: Layout) -> dict[str, str]:
    """Return what was said of probes by the names that the reader uses.

    A person may also write a column's whole header, and capital or small letters.
    Raises JobError for a name that is not in the file.
    """
    meant = {name.casefold(): name for name in names}
    for index in layout.numbers("value"):
        if layout.probe_name(index) in names:
            header = layout.columns[index].header.strip().casefold()
            meant.setdefault(header, layout.probe_name(index))
    unknown = [name for name in given if name.casefold() not in meant]
    if unknown:
        raise JobError(
            N_(
                "the file has no probe named %(unknown)s; it names: %(names)s",
                unknown=", ".join(map(repr, unknown)),
                names=", ".join(names) or "none",
            )
        )
    return {meant[name.casefold()]: probe for name, probe in given.items()}


def likeliest(name: str, probes: Sequence[Probe]) -> tuple[str, ...]:
    """Return the handles of the probes whose handle or name is most like a name, if any is."""
    own = handles(probes)
    like = {
        word: difflib.SequenceMatcher(None, name.casefold(), word, autojunk=False).ratio()
        for word in own
    }
    best = max(like.values(), default=0.0)
    near = [own[word] for word, ratio in like.items() if ratio == best and ratio >= ALIKE]
    return tuple(dict.fromkeys(near))


def _known(probes: Sequence[Probe]) -> str:
    return ", ".join(probe.id for probe in probes) or "none recorded yet"
