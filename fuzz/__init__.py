"""Damaged pictures, damaged pieces, crashes, several writers, full disks: all seeded, all counted.

``python -m fuzz`` (or ``make fuzz``) runs the whole of it, ``--share 0.1`` a tenth. For Linux and
macOS: every case is a forked process of its own, so that one that dies takes nothing with it and
its processor time and memory are its own.
"""
