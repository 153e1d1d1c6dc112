"""Colours to look for at the shop: a card of 2 in squares, one for each bridge."""

from __future__ import annotations
