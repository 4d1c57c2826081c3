"""Draw a layout from a seed, so that others can draw it again and find the same.

What is drawn, in this order, all from one stream of chance:

1. the order in which the sets of pieces are cooked (of unmatched pieces: who goes to which cook);
2. where a cook has fewer positions than arms: which arms share a cook (`incomplete`), and for
   awkward numbers the layout found by search (`exchange`);
3. which arm stands where: one of the even layouts of `design.even_layouts`, each equally likely;
   in a Latin square of six arms and more, one of the squares of `latin`; in `whole_cooks`, which
   arm each cook gets;
4. within each set, which piece gets which arm: every order equally likely.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.design.errors import DesignError
from fairsmoke.design.estimability import (
    Confounding,
    freedom_clauses,
    freedoms,
    one_line,
    shares_of,
)
from fairsmoke.design.even_layouts import (
    EvenBlock,
    EvenLayouts,
    TooManyLayoutsError,
    tied,
)
from fairsmoke.design.exchange import FloatArray, search
from fairsmoke.design.incomplete import incomplete_blocks
from fairsmoke.design.latin import LISTED_UP_TO, random_square, williams_orders
from fairsmoke.design.matching import matched_sets
from fairsmoke.design.random_words import Chance
from fairsmoke.design.whole_cooks import cooks_and_room, whole_cook_slots
from fairsmoke.messages.message import N_, Listed, Message
from fairsmoke.trial.cook import Spot
from fairsmoke.trial.plan import LAYOUT_NAMES, AtHand, Layout, LayoutKind, PlannedPiece, Slot

ALGORITHM = "fairsmoke draw 1: words of PCG64 (NumPy)"
"""Names the way of drawing; a change of what a seed gives raises the number."""
SEARCH_ALGORITHM = "fairsmoke draw 2: words of PCG64 (NumPy)"
"""Draws again, among the best layouts of a search, where an arm came to be tied to a place."""

_TRIES = 500

ArmRows = tuple[tuple[int, ...], ...]
"""The arms of each block by their numbers, in the order of its places."""


@dataclass(frozen=True)
class Wish:
    """What shall be drawn: the kind of layout (None: what suits the numbers), and the swap.

    ``swap``: pieces of a set change places during the cook, after equal shares of the time.
    """

    kind: LayoutKind | None = None
    swap: bool = False


@dataclass(frozen=True)
class _Frame:
    """What stands before chance comes in: sets of pieces, and how many positions a cook uses."""

    kind: LayoutKind
    sets: tuple[tuple[int, ...], ...]
    spare: tuple[int, ...]
    size: int
    per_cook: int


def draw_layout(
    at_hand: AtHand, arms: Sequence[str], seed: int, wish: Wish | None = None
) -> Layout:
    """Draw a layout for what is at hand.

    Raises DesignError that says what is lacking when no layout of that kind can be made of it.
    """
    wish = wish or Wish()
    kind = wish.kind or suitable_kind(at_hand, len(arms))
    frame = _frame(at_hand, arms, kind)
    algorithm = SEARCH_ALGORITHM if kind is LayoutKind.SEARCH else ALGORITHM
    return _drawn(at_hand, tuple(arms), frame, seed, wish.swap, algorithm)


def draw_again(at_hand: AtHand, arms: Sequence[str], layout: Layout) -> Layout:
    """Draw a layout again from its own seed; the same as it was, if nothing was altered.

    The sets of pieces are those of the layout: matching is no chance. Raises DesignError when it
    was drawn in a way that is not known here.
    """
    if layout.algorithm not in (ALGORITHM, SEARCH_ALGORITHM):
        raise DesignError(
            N_(
                "the layout was drawn by “%(theirs)s”, and this Fairsmoke draws by “%(ours)s”; use "
                "the version that drew it",
                theirs=layout.algorithm,
                ours=SEARCH_ALGORITHM,
            )
        )
    place = {piece.id: number for number, piece in enumerate(at_hand.pieces)}
    unknown = [slot.piece for slot in layout.slots if slot.piece not in place]
    if unknown:
        raise DesignError(
            N_("the layout has pieces that are not at hand: %(pieces)s", pieces=Listed(unknown))
        )
    frame = _frame(at_hand, arms, layout.kind)
    if layout.kind in (LayoutKind.MATCHED, LayoutKind.LATIN, LayoutKind.INCOMPLETE):
        blocks: dict[str, list[int]] = {}
        for slot in layout.slots:
            blocks.setdefault(slot.block, []).append(place[slot.piece])
        sets = tuple(sorted(tuple(sorted(one)) for one in blocks.values()))
        used = {number for one in sets for number in one}
        spare = tuple(i for i in range(len(at_hand.pieces)) if i not in used)
        frame = _Frame(layout.kind, sets, spare, frame.size, frame.per_cook)
    return _drawn(at_hand, tuple(arms), frame, layout.seed, layout.swap, layout.algorithm)


def suitable_kind(at_hand: AtHand, n_arms: int) -> LayoutKind:
    """Return the kind of layout that suits what is at hand."""
    if any(piece.half_of for piece in at_hand.pieces):
        return LayoutKind.HALVES
    room = len(at_hand.spots)
    if 0 < room < n_arms:
        return LayoutKind.INCOMPLETE
    sets = min(len(at_hand.pieces) // n_arms, at_hand.cooks)
    if n_arms >= 3 and room == n_arms and sets == n_arms and at_hand.pieces[0].arm is None:
        return LayoutKind.LATIN
    return LayoutKind.MATCHED


def _frame(at_hand: AtHand, arms: Sequence[str], kind: LayoutKind) -> _Frame:
    pieces, room, n_arms = at_hand.pieces, len(at_hand.spots), len(arms)
    if n_arms < 2:
        raise DesignError(N_("a comparison needs at least two arms"))
    if any(piece.arm is not None for piece in pieces) and kind is not LayoutKind.MATCHED:
        raise DesignError(
            N_(
                "where the meat itself is what differs, pieces can only be matched across the "
                "arms: draw “%(matched)s”, not “%(kind)s”",
                matched=LAYOUT_NAMES[LayoutKind.MATCHED],
                kind=LAYOUT_NAMES[kind],
            )
        )
    if kind is LayoutKind.HALVES:
        return _halves(at_hand, n_arms)
    if kind is LayoutKind.SEARCH:
        return _every_piece(at_hand)
    if kind is LayoutKind.BLOCKS:
        return _complete_blocks(at_hand, n_arms)
    if kind is LayoutKind.WHOLE_COOKS:
        cooks, each = cooks_and_room(at_hand, n_arms)
        spare = tuple(range(cooks * each, len(pieces)))
        return _Frame(kind, (tuple(range(cooks * each)),), spare, each, 1)
    size = n_arms
    if kind is LayoutKind.INCOMPLETE:
        if not 2 <= room < n_arms:
            raise DesignError(
                N_(
                    "incomplete blocks are for cooks with room for two or more pieces and fewer "
                    "than arms; there are %(room)s positions for %(arms)s arms",
                    room=room,
                    arms=n_arms,
                )
            )
        size = room
    per_cook = max(1, room // size) if room else max(1, -(-len(pieces) // (size * at_hand.cooks)))
    if room and room < size:
        raise DesignError(
            N_(
                "a cook has %(room)s positions and there are %(arms)s arms: name more positions, "
                "or draw “%(incomplete)s”",
                room=room,
                arms=n_arms,
                incomplete=LAYOUT_NAMES[LayoutKind.INCOMPLETE],
            )
        )
    n_sets = min(len(pieces) // size, per_cook * at_hand.cooks)
    if n_sets < 1:
        raise DesignError(
            N_(
                "%(size)s pieces are needed for one set, and there are %(pieces)s: get more "
                "pieces, or compare fewer arms",
                size=size,
                pieces=len(pieces),
            )
        )
    if kind is LayoutKind.LATIN:
        if not (room == n_arms and n_sets >= n_arms):
            raise DesignError(
                N_(
                    "a Latin square of %(arms)s arms needs %(arms)s positions, %(arms)s cooks and "
                    "%(needed)s pieces; there are %(room)s, %(cooks)s and %(pieces)s",
                    arms=n_arms,
                    needed=n_arms**2,
                    room=room,
                    cooks=at_hand.cooks,
                    pieces=len(pieces),
                )
            )
        n_sets, per_cook = n_arms, 1
    found = matched_sets(pieces, size, n_sets)
    return _Frame(kind, tuple(sorted(found.sets)), found.spare, size, per_cook)


def _halves(at_hand: AtHand, n_arms: int) -> _Frame:
    wholes: dict[str, list[int]] = {}
    for number, piece in enumerate(at_hand.pieces):
        if piece.half_of is None:
            raise DesignError(
                N_(
                    "piece “%(piece)s” is no half of another: name each “left of brisket-1”, or "
                    "draw “%(matched)s”",
                    piece=piece.shown,
                    matched=LAYOUT_NAMES[LayoutKind.MATCHED],
                )
            )
        wholes.setdefault(piece.half_of, []).append(number)
    size = min(n_arms, min(len(parts) for parts in wholes.values()))
    room = len(at_hand.spots)
    if size < 2 or (room and room < size):
        raise DesignError(N_("each whole piece needs two parts or more that have room in one cook"))
    per_cook = max(1, room // size) if room else max(1, -(-len(wholes) // at_hand.cooks))
    kept = list(wholes.values())[: per_cook * at_hand.cooks]
    sets = tuple(tuple(parts[:size]) for parts in kept)
    used = {number for one in sets for number in one}
    spare = tuple(i for i in range(len(at_hand.pieces)) if i not in used)
    return _Frame(LayoutKind.HALVES, sets, spare, size, per_cook)


def _complete_blocks(at_hand: AtHand, n_arms: int) -> _Frame:
    room = len(at_hand.spots) or -(-len(at_hand.pieces) // at_hand.cooks)
    size = room // n_arms * n_arms
    n_cooks = min(at_hand.cooks, len(at_hand.pieces) // size) if size else 0
    if n_cooks < 1:
        raise DesignError(
            N_(
                "every cook needs each of the %(arms)s arms as often: there are %(room)s places "
                "and %(pieces)s pieces; get more, or draw “%(search)s”",
                arms=n_arms,
                room=room,
                pieces=len(at_hand.pieces),
                search=LAYOUT_NAMES[LayoutKind.SEARCH],
            )
        )
    places = tuple(range(size * n_cooks))
    spare = tuple(range(size * n_cooks, len(at_hand.pieces)))
    return _Frame(LayoutKind.BLOCKS, (places,), spare, size, 1)


def _every_piece(at_hand: AtHand) -> _Frame:
    room = len(at_hand.spots) or -(-len(at_hand.pieces) // at_hand.cooks)
    used = min(len(at_hand.pieces), room * at_hand.cooks)
    spare = tuple(range(used, len(at_hand.pieces)))
    return _Frame(LayoutKind.SEARCH, (tuple(range(used)),), spare, room, 1)


def _drawn(
    at_hand: AtHand, arms: tuple[str, ...], frame: _Frame, seed: int, swap: bool, algorithm: str
) -> Layout:
    chance = Chance(seed)
    if swap and not at_hand.spots:
        raise DesignError(N_("pieces can only change places where the positions are named"))
    if swap and frame.kind is LayoutKind.WHOLE_COOKS:
        raise DesignError(N_("the pieces of a cook have one arm, so nothing is gained by a swap"))
    if frame.kind is LayoutKind.WHOLE_COOKS:
        slots = whole_cook_slots(at_hand, arms, chance)
    elif frame.kind in (LayoutKind.BLOCKS, LayoutKind.SEARCH):
        slots = _loose(at_hand, arms, frame, chance, swap, algorithm)
    else:
        slots = _in_sets(at_hand, arms, frame, chance, swap)
    slots.sort(key=lambda slot: (slot.cook, slot.block, slot.spot.text if slot.spot else ""))
    return Layout(
        kind=frame.kind,
        seed=seed,
        algorithm=algorithm,
        swap=swap,
        slots=tuple(slots),
        spare=tuple(at_hand.pieces[number].id for number in frame.spare),
        free=one_line([str(one) for one in freedom_of(slots, {arm: arm for arm in arms})]),
    )


def _in_sets(
    at_hand: AtHand, arms: tuple[str, ...], frame: _Frame, chance: Chance, swap: bool
) -> list[Slot]:
    sets = chance.shuffled(frame.sets)
    of_block = _arms_of_blocks(len(arms), frame, len(sets), chance)
    groups = [number % frame.per_cook for number in range(len(sets))]
    if not at_hand.spots:
        rows: ArmRows = tuple(tuple(chance.shuffled(one)) for one in of_block)
        places = [tuple(range(frame.size)) for _ in sets]
    else:
        places = [tuple(range(group * frame.size, (group + 1) * frame.size)) for group in groups]
        rows = _rows(of_block, places, frame, len(arms), len(at_hand.spots), chance, swap)
    noun = "pair" if frame.size == 2 else "set"
    slots = []
    for number, (members, row, where) in enumerate(zip(sets, rows, places, strict=True)):
        order = _pieces_to_arms(at_hand.pieces, members, row, arms, chance)
        spots = [at_hand.spots[place] for place in where] if at_hand.spots else []
        for seat, (piece, arm) in enumerate(zip(order, row, strict=True)):
            slots.append(
                Slot(
                    piece=at_hand.pieces[piece].id,
                    arm=arms[arm],
                    cook=number // frame.per_cook + 1,
                    block=f"{noun}-{number + 1}",
                    spot=spots[seat] if spots else None,
                    then=_then(spots, seat) if swap else (),
                )
            )
    return slots


def _arms_of_blocks(
    n_arms: int, frame: _Frame, n_sets: int, chance: Chance
) -> list[tuple[int, ...]]:
    if frame.size == n_arms:
        return [tuple(range(n_arms))] * n_sets
    return list(incomplete_blocks(n_arms, frame.size, n_sets, chance))


def _pieces_to_arms(
    pieces: Sequence[PlannedPiece],
    members: Sequence[int],
    row: Sequence[int],
    arms: Sequence[str],
    chance: Chance,
) -> list[int]:
    """Return the piece for each seat of a row; chance decides, unless the meat is the arm."""
    if pieces[members[0]].arm is None:
        return chance.shuffled(members)
    by_arm = {pieces[number].arm: number for number in members}
    missing = [arms[arm] for arm in row if arms[arm] not in by_arm]
    if missing:
        raise DesignError(
            N_(
                "no piece of a set is of arm %(arms)s: each arm needs its own",
                arms=Listed(missing),
            )
        )
    return [by_arm[arms[arm]] for arm in row]


def _then(spots: Sequence[Spot], seat: int) -> tuple[Spot, ...]:
    """Return where a piece moves on to, so that it visits each place of its set for as long.

    With three places and more the rows are orders in which every place follows every other as
    often as can be (Williams).
    """
    n = len(spots)
    return tuple(spots[place] for place in williams_orders(n)[seat][1:])


def _rows(
    of_block: Sequence[tuple[int, ...]],
    places: Sequence[tuple[int, ...]],
    frame: _Frame,
    n_arms: int,
    n_spots: int,
    chance: Chance,
    swap: bool,
) -> ArmRows:
    if swap:
        # Every piece stands everywhere for as long: nothing is left to be made even.
        return tuple(tuple(chance.shuffled(one)) for one in of_block)
    if frame.kind is LayoutKind.LATIN and n_arms > LISTED_UP_TO:
        return random_square(n_arms, chance)
    blocks = [EvenBlock(where, one) for where, one in zip(places, of_block, strict=True)]
    return even_rows(blocks, n_arms, n_spots, chance)


def even_rows(blocks: Sequence[EvenBlock], n_arms: int, n_spots: int, chance: Chance) -> ArmRows:
    """Draw an even layout of the blocks in which no arm is tied to a place, if there is one.

    Of the even layouts those that are tied are drawn again, so that the others stay equally
    likely. Raises DesignError when there are too many layouts to count.
    """
    try:
        layouts = EvenLayouts(blocks, n_arms, n_spots)
    except TooManyLayoutsError as error:
        raise DesignError(
            N_(
                "the layout cannot be drawn evenly: %(why)s. Cook fewer sets in one trial, let "
                "the pieces change places during the cook, or draw without positions",
                why=error.message,
            )
        ) from error
    first = rows = layouts.draw(chance.below)
    for _ in range(_TRIES):
        if not _tied(blocks, rows, n_arms):
            return rows
        rows = layouts.draw(chance.below)
    return first


def _tied(blocks: Sequence[EvenBlock], rows: ArmRows, n_arms: int) -> bool:
    flat = np.array([[arm for row in rows for arm in row]], dtype=np.intp)
    return bool(tied(flat, blocks, n_arms)[0])


def _loose(
    at_hand: AtHand,
    arms: tuple[str, ...],
    frame: _Frame,
    chance: Chance,
    swap: bool,
    algorithm: str,
) -> list[Slot]:
    """Lay out pieces that are not matched: a cook is the block."""
    if swap:
        raise DesignError(
            N_(
                "pieces change places within sets; draw “%(matched)s” for that",
                matched=LAYOUT_NAMES[LayoutKind.MATCHED],
            )
        )
    members = chance.shuffled(frame.sets[0])
    cooks = [number // frame.size for number in range(len(members))]
    seats = [number % frame.size for number in range(len(members))]
    if frame.kind is LayoutKind.BLOCKS:
        found = _blocks_arms(at_hand, len(arms), cooks, frame, chance)
    else:
        tries = _TRIES if algorithm == SEARCH_ALGORITHM else 0
        found = _searched_arms(at_hand, len(arms), cooks, seats, chance, tries)
    return [
        Slot(
            piece=at_hand.pieces[piece].id,
            arm=arms[arm],
            cook=cook + 1,
            block=f"cook-{cook + 1}",
            spot=at_hand.spots[seat] if at_hand.spots else None,
        )
        for piece, arm, cook, seat in zip(members, found, cooks, seats, strict=True)
    ]


def _blocks_arms(
    at_hand: AtHand, n_arms: int, cooks: Sequence[int], frame: _Frame, chance: Chance
) -> list[int]:
    of_cook = tuple(arm for arm in range(n_arms) for _ in range(frame.size // n_arms))
    n_cooks = cooks[-1] + 1
    if not at_hand.spots:
        return [arm for _ in range(n_cooks) for arm in chance.shuffled(of_cook)]
    blocks = [EvenBlock(tuple(range(frame.size)), of_cook)] * n_cooks
    rows = even_rows(blocks, n_arms, len(at_hand.spots), chance)
    return [arm for row in rows for arm in row]


def _searched_arms(
    at_hand: AtHand,
    n_arms: int,
    cooks: Sequence[int],
    seats: Sequence[int],
    chance: Chance,
    tries: int,
) -> list[int]:
    """Draw one of the best layouts; again, up to so often, while an arm is tied to a place."""
    cook = shares_of([str(number) for number in cooks])
    place = shares_of([str(number) for number in seats])
    columns = np.column_stack([cook, place]) if at_hand.spots else cook
    found = search(columns, n_arms, chance)
    if not found.estimable and at_hand.spots:
        found = search(cook, n_arms, chance)
    first = row = found.layouts[chance.below(len(found.layouts))]
    for _ in range(tries if at_hand.spots else 0):
        if not _tied_to_a_level(np.array(row, dtype=np.intp), n_arms, place):
            break
        row = found.layouts[chance.below(len(found.layouts))]
    else:
        row = first
    # Which arm has which part in the layout is left to chance too.
    names = chance.order(n_arms)
    return [names[int(arm)] for arm in row]


def _tied_to_a_level(arms: NDArray[np.intp], n_arms: int, shares: FloatArray) -> bool:
    found = freedoms(arms, n_arms, {"place": shares})
    return any(one.confounding is Confounding.COMPLETE for one in found)


def disturbances_of(slots: Sequence[Slot]) -> dict[str, FloatArray]:
    """Return what may disturb a layout's comparisons, as shares (n, levels) by name."""
    found = {"cook": shares_of([str(slot.cook) for slot in slots])}
    blocks = [slot.block for slot in slots]
    if len({(slot.block, slot.cook) for slot in slots}) > len({slot.cook for slot in slots}):
        found["pair" if blocks[0].startswith("pair-") else "set"] = shares_of(blocks)
    if all(slot.spot is not None for slot in slots):
        found["place"] = _place_shares(slots)
    return found


def _place_shares(slots: Sequence[Slot]) -> FloatArray:
    visited = [
        [spot.text for spot in (slot.spot, *slot.then) if spot is not None] for slot in slots
    ]
    known = list(dict.fromkeys(place for places in visited for place in places))
    return np.array([[places.count(one) / len(places) for one in known] for places in visited])


def freedom_of(slots: Sequence[Slot], arms: Mapping[str, str]) -> list[Message]:
    """Say which comparisons of a layout are free of which disturbances, each in a clause.

    ``arms``: what each arm is called, by its handle, in the trial's order.
    """
    present = [arm for arm in arms if any(slot.arm == arm for slot in slots)]
    numbers = np.array([present.index(slot.arm) for slot in slots], dtype=np.intp)
    said = freedom_clauses([arms[arm] for arm in present], numbers, disturbances_of(slots))
    missing = [arms[arm] for arm in arms if arm not in present]
    if missing:
        said.append(N_("no piece is left for %(arms)s", arms=Listed(missing)))
    return said
