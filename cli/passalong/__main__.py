"""``python -m passalong``."""

from passalong.main import run

run()
