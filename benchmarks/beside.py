"""Ours beside general tools on one coupled column, each at the loosest setting as good as ours.

``python -m benchmarks.beside`` prints the table; ``python -m benchmarks beside`` the figures. As
good as ours means no further from the truth in both the core's temperature (root mean square over
30 h) and the share kept. The truth is LSODA at a tolerance of 1e-6. Seconds are of the
thread's processor time, so that other work on the machine counts as little as can be.
"""

import sys
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from importlib.util import find_spec

from benchmarks import fipy_volumes, pypde_fields
from benchmarks import scipy_lines as lines
from benchmarks.slab import Answer, ours

_USUAL = (1e-1, 3e-2, 1e-2, 3e-3, 1e-3, 3e-4, 1e-4)
_REPEATS, _REPEATED_BELOW_S = 4, 3.0


@dataclass(frozen=True)
class Rival:
    """A general tool: its name and way, settings from loose to tight, its answer at one of them.

    `answer` takes a setting and the most seconds it may take. `needs` is a package to be had.
    """

    name: str
    way: str
    settings: tuple[float, ...]
    answer: Callable[[float, float], Answer]
    most_s: float = 60.0
    needs: str = "scipy"


RIVALS = (
    Rival(
        "scipy_BDF_helped",
        "our compiled rates, a Jacobian written for this problem",
        _USUAL,
        lambda rtol, most_s: lines.compiled("BDF", "by hand", rtol, most_s),
    ),
    Rival(
        "scipy_Radau_helped",
        "the same",
        _USUAL,
        lambda rtol, most_s: lines.compiled("Radau", "by hand", rtol, most_s),
    ),
    Rival(
        "scipy_LSODA_compiled",
        "our compiled rates, its own banded Jacobian",
        _USUAL,
        lambda rtol, most_s: lines.compiled("LSODA", "banded", rtol, most_s),
    ),
    Rival(
        "scipy_BDF_compiled",
        "our compiled rates, its own sparse Jacobian",
        (1e-2, 1e-3),
        lambda rtol, most_s: lines.compiled("BDF", "sparse", rtol, most_s),
        most_s=20.0,
    ),
    Rival(
        "scipy_LSODA_plain",
        "rates in NumPy, its own banded Jacobian",
        (1e-2, 3e-3, 1e-3, 3e-4),
        lambda rtol, most_s: lines.plain("LSODA", "banded", rtol, most_s),
    ),
    Rival(
        "scipy_BDF_plain",
        "rates in NumPy, its own sparse Jacobian",
        (1e-3,),
        lambda rtol, most_s: lines.plain("BDF", "sparse", rtol, most_s),
    ),
    # At 1e-3 and looser its control lets steps outgrow what is stable and it takes minutes.
    Rival(
        "pypde_explicit",
        "our compiled rates, its own Runge–Kutta–Fehlberg",
        (3e-4, 1e-4),
        lambda tolerance, most_s: pypde_fields.answer("runge-kutta", tolerance, most_s),
        needs="pde",
    ),
    Rival(
        "pypde_scipy",
        "our compiled rates, LSODA through it, full Jacobian",
        (1e-2,),
        lambda tolerance, most_s: pypde_fields.answer("scipy", tolerance, most_s),
        most_s=30.0,
        needs="pde",
    ),
    Rival(
        "fipy_sweeps",
        "our compiled rates and slopes, implicit terms, sweeps (steps of 200 s)",
        (200.0,),
        fipy_volumes.answer,
        most_s=180.0,
        needs="fipy",
    ),
)


@dataclass(frozen=True)
class Row:
    """What came of one tool: its best answer, at which setting; why it is no more, if so.

    `met`: as good as ours; else `seconds` only bound from below what it would take, and 0 says
    that nothing is known. `core_k` and `kept`: its errors.
    """

    rival: Rival
    setting: float
    seconds: float
    core_k: float
    kept: float
    met: bool
    note: str = ""


def run(rival: Rival, true: Answer, own: Answer) -> Row:
    """Return a tool's row: its first setting that is as good as ours, fastest of several."""
    if find_spec(rival.needs) is None:
        return Row(rival, float("nan"), 0.0, float("nan"), float("nan"), False, "not installed")
    core_ours, kept_ours = own.off(true)
    row = Row(rival, float("nan"), 0.0, float("nan"), float("nan"), False)
    for setting in rival.settings:
        try:
            answer = rival.answer(setting, rival.most_s)
        except lines.TooSlowError as slow:
            spent = max(row.seconds, slow.spent_s)
            row = Row(rival, setting, spent, row.core_k, row.kept, False, str(slow))
            continue
        except (RuntimeError, ArithmeticError) as failed:
            row = Row(rival, setting, row.seconds, row.core_k, row.kept, False, f"fails: {failed}")
            continue
        core_k, kept = answer.off(true)
        met = core_k <= core_ours and kept <= kept_ours
        row = Row(rival, setting, answer.taken_s, core_k, kept, met, "" if met else "not as good")
        if met:
            again = _REPEATS if answer.taken_s < _REPEATED_BELOW_S else 0
            more = [rival.answer(setting, rival.most_s).taken_s for _ in range(again)]
            return Row(rival, setting, min([answer.taken_s, *more]), core_k, kept, met)
    return row


def rows() -> tuple[Answer, tuple[float, float], list[Row]]:
    """Return ours, its errors, and every tool's row; ours is timed before and after the others."""
    with warnings.catch_warnings():
        # Overflow in differences, deprecations inside the tools: theirs to tell, not ours.
        warnings.simplefilter("ignore")
        true = lines.compiled("LSODA", "banded", 1e-6)
        own = ours()
        found = [run(rival, true, own) for rival in RIVALS]
        again = ours()
    own = min(own, again, key=lambda answer: answer.taken_s)
    return own, own.off(true), found


def measure() -> dict[str, float]:
    """Return seconds of every tool and how many times ours; not a number where it has no answer.

    `..._at_least_times_ours` is a bound: the tool was stopped, or was not as good as ours yet.
    """
    own, (core_k, kept), found = rows()
    figures = {
        "beside_ours_s": own.taken_s,
        "beside_ours_core_error_k": core_k,
        "beside_ours_kept_error_points": 100.0 * kept,
    }
    for row in found:
        name = f"beside_{row.rival.name}"
        if not row.met and row.seconds <= 0.0:
            figures[f"{name}_times_ours"] = float("nan")
            continue
        figures[f"{name}_s"] = row.seconds
        bound = "" if row.met else "at_least_"
        figures[f"{name}_{bound}times_ours"] = row.seconds / own.taken_s
    return figures


def main() -> None:
    """Print the table."""
    own, (core_k, kept), found = rows()
    print("| tool | how | setting | seconds | times ours | core, K | kept, points | |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    print(
        f"| ours | `simulate` | usual | {own.taken_s:.5f} | 1 | {core_k:.3f} | {100 * kept:.3f} | |"
    )
    for row in found:
        times = row.seconds / own.taken_s
        bound = "" if row.met else "over "
        taken = f"{bound}{row.seconds:.3g} | {bound}{times:.3g}" if row.seconds else "– | –"
        print(
            f"| {row.rival.name} | {row.rival.way} | {row.setting:g} | {taken} | "
            f"{row.core_k:.3f} | {100 * row.kept:.3f} | {row.note} |",
            flush=True,
        )
    sys.stdout.flush()


if __name__ == "__main__":
    main()
