"""``python -m fairsmoke`` is the command line."""

from fairsmoke.cli import main

main()
