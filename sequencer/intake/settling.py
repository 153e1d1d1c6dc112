"""The maker's names and sizes laid over what was read; wishes about prints that are gone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

from sequencer.models import Print
from sequencer.piece import Piece


def settled(piece: Piece) -> Piece:
    """The piece with the maker's names and sizes laid over what was read."""
    prints = (replace(one, name=piece.names.get(one.id, one.name)) for one in piece.prints)
    return replace(piece, prints=tuple(
        _sized(one, piece.sizes[one.id]) if one.id in piece.sizes else one for one in prints
    ))


def _sized(one: Print, sizes: Any) -> Print:
    scraps = tuple((Fraction(length), Fraction(width)) for length, width in sizes)
    largest = max(scraps, key=lambda scrap: scrap[0] * scrap[1])
    return replace(one, scraps=scraps, size_in=(float(max(largest)), float(min(largest))))


def without_ids(wishes: Mapping[str, Any], gone: set[str]) -> dict[str, Any]:
    """Order wishes that no longer speak of ``gone``."""
    kept = {key: value for key, value in wishes.items()
            if key not in ("first", "last") or value not in gone}
    for key in ("include", "exclude"):
        if key in kept:
            kept[key] = [id_ for id_ in kept[key] if id_ not in gone]
    for key in ("together", "apart", "before"):
        if key in kept:
            kept[key] = [pair for pair in kept[key] if not gone & set(pair)]
    if gone & set(kept.get("sequence") or ()):
        del kept["sequence"]
    return kept


def plan_without_ids(wishes: Mapping[str, Any], gone: set[str]) -> dict[str, Any]:
    """Plan wishes that no longer speak of ``gone``."""
    kept = {key: value for key, value in wishes.items()
            if key not in ("border_print", "binding_print") or value not in gone}
    if kept.get("directional"):
        kept["directional"] = [id_ for id_ in kept["directional"] if id_ not in gone]
    if isinstance(kept.get("strip"), Mapping):
        kept["strip"] = {id_: w for id_, w in kept["strip"].items() if id_ not in gone}
    return kept
