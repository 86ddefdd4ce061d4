"""``python -m trials``."""

from trials.cli import main

main()
