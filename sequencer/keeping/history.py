"""Earlier states of a piece: kept packed beside it, and what they need is not swept.

An earlier state's file begins with a line of the fingerprints it needs, so that sweeping does not
unpack it.
"""

from __future__ import annotations

import zlib
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from sequencer.errors import PieceError
from sequencer.files import read_ordinary, shown, sweep_parts
from sequencer.keeping.checking import LARGEST, DamagedError, decoded
from sequencer.keeping.converting import step_records
from sequencer.keeping.disk.blobs import FOLDERS, Blobs
from sequencer.keeping.loading import Held
from sequencer.keeping.record import HistoryRecord, PieceRecord, StateRecord
from sequencer.keeping.state import Growing, Step

STEPS = 200
"""Steps that can be taken back."""


def continued(held: Held | None, step: str | Growing | None, blobs: Blobs) -> HistoryRecord:
    """The history with this step, or as it was where the step goes on or is none."""
    if held is None:
        return HistoryRecord()
    if step is None:
        return held.history
    if isinstance(step, Growing) and step.revision == held.revision:
        return HistoryRecord(held.history.past, [])
    name = step.name if isinstance(step, Growing) else step
    taken = Step(shown(name)[:200], _now(), put_state(held.record, blobs))
    return HistoryRecord([*held.history.past, *step_records((taken,))][-STEPS:], [])


def put_state(record: StateRecord, blobs: Blobs) -> str:
    """Keep a state to come back to; returns its fingerprint."""
    needs = " ".join(sorted(_needs(record))).encode()
    return blobs.put("history", needs + b"\n" + zlib.compress(state_bytes(record), 6), ".state")


def state_of(step: Step, folder: Path) -> StateRecord:
    """The state that a step goes to.

    Raises:
        PieceError: it is gone or damaged.
    """
    path = folder / "history" / f"{step.state}.state"
    try:
        packed = read_ordinary(path, LARGEST).partition(b"\n")[2]
        unpacked = zlib.decompressobj().decompress(packed, LARGEST)
        return decoded(unpacked, StateRecord)
    except (OSError, zlib.error, DamagedError) as error:
        raise PieceError(
            f"{path}, an earlier state of this piece, cannot be read ({error})."
        ) from None


def state_bytes(record: StateRecord) -> bytes:
    """The state alone, without the history, as bytes: equal for equal states."""
    fields = {name: getattr(record, name) for name in StateRecord.__struct_fields__}
    return msgspec.json.encode(StateRecord(**fields))


def _needs(record: StateRecord) -> set[str]:
    """Fingerprints of all files that a state needs."""
    of_photos = {name for photo in record.photos
                 for name in (photo.content, photo.reading, *photo.swatches)}
    of_prints = {one.swatch for one in record.prints}
    return {name for name in of_photos | of_prints | {record.plan, record.ties} if name is not None}


def sweep(record: PieceRecord, folder: Path, blobs: Blobs) -> None:
    """Delete what neither this state nor any step of its history needs."""
    for kind in FOLDERS:
        sweep_parts(folder / kind, all_of_them=True)
    sweep_parts(folder)
    needed = _needs(record)
    for step in (*record.history.past, *record.history.future):
        needed.add(step.state)
        try:
            needed |= _needs_of(folder / "history" / f"{step.state}.state")
        except OSError:
            return  # what that state needs is not known: better to sweep nothing
    blobs.sweep(needed)


def _needs_of(path: Path) -> set[str]:
    """What an earlier state needs; nothing where that state itself is gone."""
    if not path.exists():
        return set()
    needs, _, _ = read_ordinary(path, LARGEST).partition(b"\n")
    return set(needs.decode("ascii", "replace").split())


def _now() -> str:
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
