"""What is at hand as a form: from the record to fields, and back without losing anything."""

import re
from collections.abc import Sequence

from fairsmoke.app.set_up.fields import Fields, given
from fairsmoke.planning.asked import handle_of
from fairsmoke.quantity import Units, show_length, show_mass
from fairsmoke.setting_up.ask_answers import piece_of, pieces_of, price_of
from fairsmoke.trial.plan import AtHand, Plan, PlannedPiece

_BARE = re.compile(r"\d+(?:[.,]\d+)?")


def lines_of(text: str) -> list[str]:
    """Return the lines that something stands on."""
    return [line.strip() for line in text.splitlines() if line.strip()]


def pieces_said(text: str, units: Units) -> list[str]:
    """Return the pieces that were written, one a line; bare numbers are a mass and a thickness."""
    return [_with_units(line, units) for line in lines_of(text)]


def _with_units(line: str, units: Units) -> str:
    name, colon, said = line.partition(":")
    if not colon:
        return line
    # A comma between figures is a decimal one; between parts there is a space behind it.
    parts = [part.strip() for part in re.split(r",(?!\d)", said) if part.strip()]
    bare = [units.mass, units.length]
    shown = []
    for part in parts:
        if _BARE.fullmatch(part) and bare:
            shown.append(f"{part.replace(',', '.')} {bare.pop(0)}")
        else:
            figure = re.match(r"\d", part) is not None
            shown.append(part.replace(",", ".") if figure else part)
            bare = bare[1:] if figure else bare
    return f"{name.strip()}: {', '.join(shown)}"


def line_of(piece: PlannedPiece, units: Units) -> str:
    """Return a piece as it is written in the form, sizes to the usual digits."""
    written = piece.to_file()
    parts = [show_mass(piece.mass_kg, units)] if piece.mass_kg is not None else []
    parts += [show_length(piece.thick_m, units)] if piece.thick_m is not None else []
    parts += [piece.grade] if piece.grade else []
    parts += [f"{key}={written[key]}" for key in ("half_of", "animal", "arm") if key in written]
    if _handle_of(piece.shown) != piece.id:
        parts.append(f"id={piece.id}")
    return f"{piece.shown}: {', '.join(parts)}" if parts else piece.shown


def _handle_of(name: str) -> str:
    try:
        return handle_of(name)
    except ValueError:
        return ""


def fields_of(plan: Plan | None, units: Units) -> dict[str, str]:
    """Return the fields that say what is at hand; a tick of a spot is "spot-barrel/left"."""
    if plan is None:
        return {"cooks": "2", "tasters": "0", "species": "pork"}
    at_hand = plan.at_hand
    blind = {True: "yes", False: "no"}.get(at_hand.blind, "") if at_hand.blind is not None else ""
    return {
        "cut": at_hand.cut,
        "species": at_hand.species,
        "pieces": "\n".join(line_of(piece, units) for piece in at_hand.pieces),
        "cooks": str(at_hand.cooks),
        "tasters": str(at_hand.tasters),
        "blind": blind,
        "price_piece": _number(at_hand.price_piece),
        "price_cook": _number(at_hand.price_cook),
        "currency": at_hand.currency,
        "leave_out": "\n".join(plan.leave_out),
        **{f"spot-{spot.text}": "yes" for spot in at_hand.spots},
    }


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.12g}"


def at_hand_of(fields: Fields, units: Units, before: Plan | None) -> AtHand:
    """Return what is at hand as the fields say it.

    A piece whose line still says what it said stays the record that it was. Raises JobError and
    pydantic.ValidationError that name what is to be mended.
    """
    old = {} if before is None else {line_of(one, units): one for one in before.at_hand.pieces}
    said = lines_of(fields.get("pieces", ""))
    spots = [key.removeprefix("spot-") for key in fields if key.startswith("spot-")]
    known = [] if before is None else [spot.text for spot in before.at_hand.spots]
    # In the order in which they were, which a draw rests on.
    spots.sort(key=lambda one: known.index(one) if one in known else len(known))
    content: dict[str, object] = given(
        cut=fields.get("cut", "").strip(),
        species=fields.get("species", ""),
        cooks=fields.get("cooks", "").strip() or "1",
        tasters=fields.get("tasters", "").strip() or "0",
        blind={"yes": True, "no": False}.get(fields.get("blind", "")),
        price_piece=price_of(fields.get("price_piece", ""), "price_piece"),
        price_cook=price_of(fields.get("price_cook", ""), "price_cook"),
        currency=fields.get("currency", "").strip(),
    )
    pieces = _pieces(said, units, old)
    places = [one.partition("/") for one in spots]
    where = [{"cooker": cooker, "position": position} for cooker, _, position in places]
    return AtHand.from_file(content | {"pieces": pieces, "spots": where})


def _pieces(
    said: Sequence[str], units: Units, old: dict[str, PlannedPiece]
) -> list[dict[str, object]]:
    if len(said) == 1 and said[0].isdigit():
        return pieces_of(said)
    found: list[dict[str, object]] = []
    for line in said:
        kept = old.get(line)
        new = kept.to_file() if kept else piece_of(_with_units(line, units))
        found.append(new)
    return found
