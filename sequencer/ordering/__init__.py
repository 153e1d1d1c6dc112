"""Prints → graph → sequence with confidence and advice (`sequence`) → contrast (`reporting`)."""
