"""Mutation run: change the code in small wrong ways and see that a test notices each.

    make mutants                                  every target
    make mutants ONLY=planning.day.safety         one target (or several, separated by commas)
    python -m scripts.mutants --only live.alerts --line 120:160

Nothing is written to the tree. The tests of a target are imported once; each mutant then lives in
a forked process of its own, in which either the mutated function's code is swapped in, or (for
what stands outside functions: tables, constants, defaults) the mutated module is imported anew.
Kept tools were tried on paper: mutmut 3 leaves code outside functions as it is, where our limits
stand; cosmic-ray edits the file in place and starts one test run a mutant (3 s each here).
"""

import argparse
import ast
import copy
import importlib.abc
import importlib.util
import os
import resource
import signal
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import redirect_stdout
from dataclasses import dataclass, replace
from pathlib import Path
from types import CodeType, FunctionType, ModuleType

import pytest

ROOT = Path(__file__).parents[1]
ACCEPTED = ROOT / "docs" / "mutants.md"
CPU_LIMIT_S = 60


@dataclass(frozen=True)
class Target:
    """A module under test, whether people may come to harm by it, and the tests that guard it."""

    module: str
    safety: bool
    tests: tuple[str, ...]
    # Its functions make tables while it is imported, so that swapping their code comes too late.
    anew: bool = False


TARGETS = (
    Target("physics.limits", True, ("tests/published/test_safety_limits.py",), anew=True),
    Target(
        "physics.lethality",
        True,
        (
            "tests/published/test_lethality_sheet.py",
            "tests/physics/test_physics_killing.py",
            "tests/published/test_safety_limits.py",
            "tests/published/test_heat_resistance.py",
        ),
    ),
    Target(
        "physics.growth",
        True,
        (
            "tests/published/test_cooling_growth.py",
            "tests/physics/test_physics_killing.py",
            "tests/published/test_safety_limits.py",
        ),
    ),
    Target(
        "planning.day.safety",
        True,
        ("tests/planning/test_safety.py", "tests/planning/test_safety_draws.py"),
    ),
    Target("live.alerts", True, ("tests/live/test_live.py", "tests/live/test_alert_edges.py")),
    Target(
        "judging.conduct",
        True,
        ("tests/judging/test_conduct_edges.py",),
    ),
    Target(
        "live.growth_time",
        True,
        ("tests/live/test_growth_edges.py",),
    ),
    Target("live.alert_limits", True, ("tests/published/test_safety_limits.py",)),
    Target(
        "physics.history",
        True,
        ("tests/physics/test_history_edges.py", "tests/physics/test_physics_history.py"),
    ),
    Target(
        "planning.day.constraints",
        True,
        ("tests/planning/test_hold_limits.py",),
        anew=True,
    ),
    Target("telling.safety_notes", True, ("tests/telling/test_safety_words.py",)),
    Target("judging.rule", False, ("tests/judging/test_rule.py",)),
    Target("weighing.yields", False, ("tests/weighing/test_yields.py",)),
    Target("weighing.uncertainty", False, ("tests/weighing/test_uncertainty.py",)),
    Target("weighing.losses", False, ("tests/weighing/test_yields.py",)),
    Target(
        "weighing.possible",
        False,
        ("tests/weighing/test_possible.py", "tests/weighing/test_yields.py"),
    ),
    Target("weighing.plausible", False, ("tests/weighing/test_plausible.py",)),
    Target(
        "trial.record_checks",
        False,
        ("tests/trial/test_record_checks.py",),
    ),
)


@dataclass(frozen=True)
class Mutant:
    """One change: where, what, and the function it is in (None: outside every function)."""

    line: int
    change: str
    tree: ast.Module
    function: str | None


_COMPARE: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
_NAMES = {
    "min": "max", "max": "min", "any": "all", "all": "any", "minimum": "maximum",
    "maximum": "minimum", "argmin": "argmax", "argmax": "argmin",
}  # fmt: skip
_WORDS = {"lower": "higher", "higher": "lower", "left": "right", "right": "left"}
_NO_MUTANTS_IN = frozenset({"repr", "InputError", "LedgerError", "ComparisonError", "N_", "T_"})


def _other_values(node: ast.Constant) -> Iterator[bool | int | float | str]:
    value = node.value
    if isinstance(value, bool):
        yield not value
    elif isinstance(value, int):
        yield value + 1
    elif isinstance(value, float):
        yield from (value + 1.0, value - 1.0) if value >= 2.0 else (value + 1.0,)
    elif isinstance(value, str) and value in _WORDS:
        yield _WORDS[value]


class _Places(ast.NodeVisitor):
    """Collects every node that may be changed, with the path of functions to it."""

    def __init__(self) -> None:
        self.found: list[tuple[ast.AST, tuple[str, ...]]] = []
        self._in: tuple[str, ...] = ()
        self._functions = 0

    def visit(self, node: ast.AST) -> None:
        if isinstance(node, ast.If) and _only_types(node):
            return
        if isinstance(node, ast.JoinedStr):
            return
        if isinstance(node, ast.FunctionDef):
            before, self._in = self._in, (*self._in, node.name)
            for child in (*node.body, *node.args.defaults, *node.args.kw_defaults):
                if child is not None:
                    self.visit(child)
            self._in = before
            return
        if isinstance(node, ast.ClassDef):
            before, self._in = self._in, (*self._in, node.name)
            for child in node.body:
                self.visit(child)
            self._in = before
            return
        if isinstance(node, ast.Raise) or (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id in _NO_MUTANTS_IN
        ):
            return
        if isinstance(node, ast.AnnAssign):
            if node.value is not None:
                self.visit(node.value)
            return
        if isinstance(node, ast.Subscript) and _is_type(node):
            return
        self.found.append((node, self._in))
        self.generic_visit(node)


def _only_types(node: ast.If) -> bool:
    return isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"


def _is_type(node: ast.Subscript) -> bool:
    return isinstance(node.value, ast.Name) and node.value.id in ("Literal", "NDArray", "Callable")


def _changes(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """Yield what a node may be turned into, and words for it."""
    if isinstance(node, ast.Compare):
        for i, op in enumerate(node.ops):
            for other in _COMPARE.get(type(op), ()):
                new = copy.deepcopy(node)
                new.ops[i] = other()
                yield f"{ast.unparse(node)} -> {ast.unparse(new)}", new
    elif isinstance(node, ast.BinOp | ast.AugAssign) and type(node.op) in _ARITHMETIC:
        changed = copy.deepcopy(node)
        changed.op = _ARITHMETIC[type(node.op)]()
        yield f"{ast.unparse(node)} -> {ast.unparse(changed)}", changed
    elif isinstance(node, ast.BoolOp):
        turned = copy.deepcopy(node)
        turned.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield f"{ast.unparse(node)} -> {ast.unparse(turned)}", turned
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub | ast.Invert):
        yield f"{ast.unparse(node)} -> {ast.unparse(node.operand)}", node.operand
    elif isinstance(node, ast.Constant):
        for value in _other_values(node):
            yield f"{node.value!r} -> {value!r}", ast.copy_location(ast.Constant(value), node)
    elif isinstance(node, ast.Name) and node.id in _NAMES:
        yield f"{node.id} -> {_NAMES[node.id]}", ast.Name(_NAMES[node.id], node.ctx)
    elif isinstance(node, ast.Attribute) and node.attr in _NAMES:
        attribute = copy.deepcopy(node)
        attribute.attr = _NAMES[node.attr]
        yield f"{ast.unparse(node)} -> {ast.unparse(attribute)}", attribute
    elif isinstance(node, ast.If | ast.IfExp) and not isinstance(
        node.test, ast.Compare | ast.BoolOp | ast.UnaryOp
    ):
        negated = copy.deepcopy(node)
        negated.test = ast.UnaryOp(ast.Not(), node.test)
        yield f"if {ast.unparse(node.test)} -> if not", negated
    elif isinstance(node, ast.Expr) and not isinstance(node.value, ast.Constant):
        yield f"without {ast.unparse(node)[:70]}", ast.Pass()


class _Replace(ast.NodeTransformer):
    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        if node is self.old:
            return ast.fix_missing_locations(ast.copy_location(copy.deepcopy(self.new), node))
        return self.generic_visit(node)


def mutants_of(source: str) -> Iterator[Mutant]:
    """Yield every mutant of a module's text. The tree is put right again before the next."""
    tree = ast.parse(source)
    places = _Places()
    places.visit(tree)
    for at, (node, path) in enumerate(places.found):
        for change, _ in _changes(node):
            fresh = ast.parse(source)
            again = _Places()
            again.visit(fresh)
            same = again.found[at][0]
            new = next(new for words, new in _changes(same) if words == change)
            mutated = _Replace(same, new).visit(fresh)
            assert isinstance(mutated, ast.Module)
            line = getattr(node, "lineno", 0)
            yield Mutant(line, change, mutated, _swappable(tree, path, line))


def _swappable(tree: ast.Module, path: tuple[str, ...], line: int) -> str | None:
    """Return the dotted name of the function whose body holds the line, None outside of bodies."""
    scope: list[ast.stmt] = tree.body
    for depth, name in enumerate(path):
        one = next(
            s for s in scope if isinstance(s, ast.FunctionDef | ast.ClassDef) and s.name == name
        )
        if isinstance(one, ast.FunctionDef):
            begins = one.body[0].lineno
            return ".".join(path[: depth + 1]) if line >= begins else None
        scope = one.body
    return None


class _Mutated(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Imports the mutated module where the true one would be imported."""

    def __init__(self, name: str, code: CodeType, origin: str) -> None:
        self.name, self.code, self.origin = name, code, origin

    def find_spec(self, name: str, path: object, target: object = None):  # type: ignore[no-untyped-def]
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.origin, loader=self)

    def exec_module(self, module: ModuleType) -> None:
        exec(self.code, module.__dict__)


def _importers_of(name: str) -> set[str]:
    """Return the loaded modules of ours that import a module, over however many others, and it."""
    uses: dict[str, set[str]] = {}
    for loaded, module in list(sys.modules.items()):
        if loaded.split(".")[0] in ("fairsmoke", "tests") and getattr(module, "__file__", None):
            uses[loaded] = names = set()
            for node in ast.walk(ast.parse(Path(str(module.__file__)).read_text())):
                if isinstance(node, ast.Import):
                    names.update(alias.name for alias in node.names)
                elif isinstance(node, ast.ImportFrom):
                    names.update(
                        (f"{node.module}", *(f"{node.module}.{a.name}" for a in node.names))
                    )
    found = {name}
    while more := {loaded for loaded, names in uses.items() if names & found} - found:
        found |= more
    return found


def _code_of(code: CodeType, dotted: str) -> CodeType:
    for name in dotted.split("."):
        code = next(c for c in code.co_consts if isinstance(c, CodeType) and c.co_name == name)
    return code


def _swap(module: ModuleType, mutant: Mutant, code: CodeType) -> bool:
    """Put the mutated code into the living function; False where there is none to be found."""
    assert mutant.function is not None
    thing: object = module
    for name in mutant.function.split("."):
        thing = vars(thing).get(name)
    if isinstance(thing, property):
        thing = thing.fget
    thing = getattr(thing, "__wrapped__", thing)
    if not isinstance(thing, FunctionType):
        return False
    thing.__code__ = _code_of(code, mutant.function)
    return True


_QUIET = ["-x", "-q", "-p", "no:xdist", "--skips-allowed",
          "-W", "ignore::pytest.PytestAssertRewriteWarning"]  # fmt: skip


class _Loop:
    """In place of running the collected tests once: runs them once for each mutant, in forks."""

    def __init__(self, name: str, mutants: Sequence[Mutant], tests: Sequence[str]) -> None:
        self.name, self.mutants, self.tests = name, mutants, tests
        self.survivors: list[Mutant] = []
        self.killed = 0
        self.baseline_fails = False
        self.importers: set[str] = set()

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        session.config.option.maxfail = 1
        session.shouldfail = False
        self.importers = _importers_of(self.name)
        if self._runs(session, None) != 0:
            self.baseline_fails = True
            return True
        for mutant in self.mutants:
            if self._runs(session, mutant) == 0:
                self.survivors.append(mutant)
            else:
                self.killed += 1
        return True

    def _runs(self, session: pytest.Session, mutant: Mutant | None) -> int:
        """Return 0 when every test passes in a process of its own."""
        sys.stdout.flush()
        child = os.fork()
        if child == 0:
            code = 1
            try:
                signal.alarm(CPU_LIMIT_S * 8)
                used = int(time.process_time())
                resource.setrlimit(resource.RLIMIT_CPU, (used + CPU_LIMIT_S, used + CPU_LIMIT_S))
                with open(os.devnull, "w") as hole:  # noqa: PTH123
                    os.dup2(hole.fileno(), 1)
                    if mutant is not None:
                        os.dup2(hole.fileno(), 2)
                code = self._one(session, mutant)
            finally:
                os._exit(code)
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])

    def _one(self, session: pytest.Session, mutant: Mutant | None) -> int:
        if mutant is not None:
            module = sys.modules[self.name]
            code = compile(mutant.tree, str(module.__file__), "exec")
            if mutant.function is None or not _swap(module, mutant, code):
                return self._anew(code, str(module.__file__))
        for number, item in enumerate(session.items):
            following = session.items[number + 1] if number + 1 < len(session.items) else None
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            if session.testsfailed:
                return 1
        return 0

    def _anew(self, code: CodeType, origin: str) -> int:
        for name in self.importers:
            sys.modules.pop(name, None)
            package, _, leaf = name.rpartition(".")
            if package in sys.modules:
                vars(sys.modules[package]).pop(leaf, None)
        sys.meta_path.insert(0, _Mutated(self.name, code, origin))
        return int(pytest.main([*_QUIET, *self.tests]))


def run(target: Target, lines: range | None) -> tuple[int, list[Mutant]]:
    """Return how many mutants were killed and those that lived.

    Raises SystemExit when the tests fail without any mutant.
    """
    name = f"fairsmoke.{target.module}"
    path = ROOT / "src" / Path(*name.split(".")).with_suffix(".py")
    found = [m for m in mutants_of(path.read_text()) if lines is None or m.line in lines]
    if target.anew:
        found = [replace(mutant, function=None) for mutant in found]
    tests = [str(ROOT / one) for one in target.tests if (ROOT / one).exists()]
    loop = _Loop(name, found, tests)
    importlib.import_module(name)
    with open(os.devnull, "w") as hole, redirect_stdout(hole):  # noqa: PTH123
        status = pytest.main([*_QUIET, *tests], plugins=[loop])
    if loop.baseline_fails or not loop.killed + len(loop.survivors) == len(found):
        raise SystemExit(f"{target.module}: its tests fail as it is (status {status}); mend first")
    return loop.killed, loop.survivors


def accepted() -> dict[str, list[str]]:
    """Return the mutants of docs/mutants.md that may live, a list of changes for each module."""
    known: dict[str, list[str]] = {}
    for row in ACCEPTED.read_text().splitlines() if ACCEPTED.exists() else ():
        cells = [cell.strip().strip("`") for cell in row.replace(r"\|", "¦").split("|")]
        if len(cells) >= 5 and "->" in cells[2]:
            known.setdefault(cells[1], []).append(cells[2].replace("¦", "|"))
    return known


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", default="", help="modules, separated by commas")
    parser.add_argument("--line", default="", help="first:last line of the module")
    parser.add_argument("--list", action="store_true", help="only count the mutants")
    asked = parser.parse_args()
    only = [one for one in asked.only.split(",") if one]
    unknown = set(only) - {target.module for target in TARGETS}
    if unknown:
        names = ", ".join(target.module for target in TARGETS)
        parser.error(f"no target {', '.join(sorted(unknown))}; there are {names}")
    lines = range(*map(int, asked.line.split(":"))) if asked.line else None
    wanted = [target for target in TARGETS if not only or target.module in only]
    if len(wanted) > 1:
        return _each_apart(wanted)
    (target,) = wanted
    if asked.list:
        path = ROOT / "src/fairsmoke" / Path(*target.module.split(".")).with_suffix(".py")
        print(f"{target.module}: {len(list(mutants_of(path.read_text())))} mutants")
        return 0
    began = time.process_time()
    killed, lived = run(target, lines)
    may_live = accepted().get(target.module, [])
    unexpected = [one for one in lived if one.change not in may_live]
    total = killed + len(lived)
    used = os.times()
    print(
        f"{target.module}: {killed} of {total} mutants killed "
        f"({100 * killed / max(total, 1):.1f} %), {len(lived) - len(unexpected)} listed as "
        f"survivors, {len(unexpected)} not; {sum(used[:4]) - began:.0f} s of processor time"
    )
    for one in lived:
        mark = "  listed" if one not in unexpected else "* LIVED "
        print(f"  {mark} line {one.line}: {one.change}")
    least = 1.0 if target.safety else 0.95
    counted = killed / max(total - (len(lived) - len(unexpected)), 1)
    return int(bool(unexpected) if target.safety else counted < least)


def _each_apart(targets: Sequence[Target]) -> int:
    """Run each target in an interpreter of its own, so that none has another's modules loaded."""
    worst = 0
    for target in targets:
        status = os.spawnv(
            os.P_WAIT,
            sys.executable,
            [sys.executable, "-m", "scripts.mutants", "--only", target.module],
        )
        worst = max(worst, status)
    return worst


if __name__ == "__main__":
    os.chdir(ROOT)
    sys.exit(main())
