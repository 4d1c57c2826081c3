"""The command line: the same jobs from a shell, in plain verbs."""

import os
import sys


def main() -> None:
    """Run the command line; the entry point of ``fairsmoke``."""
    # Before NumPy loads: our matrices are small, and threads inside one product only collide.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from fairsmoke.cli.commands import run

    sys.exit(run(sys.argv[1:]))
