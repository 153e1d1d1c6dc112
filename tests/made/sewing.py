"""Virtual sewing: executes a plan's JSON steps with nothing but their meaning.

Independent of the planner: it reads the document, keeps a table of named pieces with their raw
edges, refuses what cloth refuses (a name used twice, more length than there is, unequal heights,
pieces that still hang together) and says what was sewn.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any


class Spoiled(AssertionError):  # noqa: N818 - reads as what it is
    """A step that cloth would refuse."""


@dataclass
class Patch:
    print: str
    raw: Fraction
    """Height from raw edge to raw edge, as cut."""


@dataclass
class Band:
    """Patches sewn top to bottom; ``along`` is the length across the seams' ends."""

    patches: list[Patch]
    along: Fraction
    looped: bool = False
    joined: bool = False

    def raw_height(self, seam: Fraction) -> Fraction:
        sewn = len(self.patches) - (0 if self.looped else 1)
        return sum((p.raw for p in self.patches), Fraction(0)) - 2 * seam * sewn


@dataclass
class Panel:
    columns: list[Band]
    width: Fraction
    height: Fraction
    sides: list[str] = field(default_factory=list)
    bound: bool = False


@dataclass
class Sewn:
    """What came out: the picture, sizes, cloth used and what was left over."""

    picture: list[list[str]]
    widths: list[Fraction]
    strips: dict[str, set[Fraction]]
    centre: tuple[Fraction, Fraction]
    bordered: tuple[Fraction, Fraction]
    cut: dict[str, list[tuple[Fraction, Fraction]]]
    joins: Counter[str]
    opened: int
    seams: int
    seam_length: Fraction
    cuts: int
    left: list[Fraction]
    lost: dict[str, Fraction]
    """Length of every print's strips lost in joins, trimming to the shortest, and squaring."""
    used: Counter[str]
    left_by_print: Counter[str]


class Table:
    """The sewing table. ``run`` executes all steps of a plan document."""

    def __init__(self, document: dict[str, Any]) -> None:
        self.document = document
        self.seam = Fraction(document["seam"])
        self.pieces: dict[str, Band | Panel] = {}
        self.made: set[str] = set()
        self.leavings: set[str] = set()
        self.cut: dict[str, list[tuple[Fraction, Fraction]]] = {}
        self.joins: Counter[str] = Counter()
        self.lost: Counter[str] = Counter()
        self.used: Counter[str] = Counter()
        self.opened = self.seams = self.cuts = 0
        self.seam_length = Fraction(0)
        self.centre: Panel | None = None

    # names ────────────────────────────────────────────────────────────────────────────────

    def take(self, name: str) -> Band | Panel:
        if name not in self.pieces:
            raise Spoiled(f"'{name}' was never made or is used up")
        return self.pieces.pop(name)

    def band(self, name: str) -> Band:
        piece = self.take(name)
        if not isinstance(piece, Band):
            raise Spoiled(f"'{name}' is a panel")
        return piece

    def make(self, name: str, piece: Band | Panel) -> None:
        if name in self.made:
            raise Spoiled(f"'{name}' is made twice")
        self.made.add(name)
        self.pieces[name] = piece

    # operations ───────────────────────────────────────────────────────────────────────────

    def cut_strip(self, step: dict[str, Any]) -> None:
        width, length = Fraction(step["width"]), Fraction(step["length"])
        if width <= 2 * self.seam or length <= 0:
            raise Spoiled(f"strip {width} x {length} leaves nothing")
        self.cut.setdefault(step["print"], []).append((width, length))
        self.cuts += 1
        self.make(step["makes"], Band([Patch(step["print"], width)], length))

    def join_ends(self, step: dict[str, Any]) -> None:
        parts = [self.band(name) for name in step["takes"]]
        first = parts[0].patches[0]
        if len(parts) < 2 or any(len(p.patches) != 1 for p in parts):
            raise Spoiled("only single strips are joined end to end, two or more")
        if any((p.patches[0].print, p.patches[0].raw) != (first.print, first.raw) for p in parts):
            raise Spoiled("strips joined end to end must be alike")
        loss = {"diagonal": first.raw, "straight": 2 * self.seam}[step["seam"]]
        if any(part.along <= loss for part in parts):
            raise Spoiled(f"a piece of {first.print} is too short to join")
        count = len(parts) - 1
        self.joins[first.print] += count
        self.seams += count
        self.lost[first.print] += loss * count
        whole = sum((part.along for part in parts), Fraction(0)) - loss * count
        self.make(step["makes"], Band([Patch(first.print, first.raw)], whole, joined=True))

    def sew_strips(self, step: dict[str, Any]) -> None:
        strips = [self.band(name) for name in step["takes"]]
        if len(strips) < 2 or any(len(s.patches) != 1 or s.looped for s in strips):
            raise Spoiled("a strip set is sewn from single strips")
        if step["press"] not in {"open", "up", "down"}:
            raise Spoiled(f"pressing '{step['press']}'")
        short = min(strip.along for strip in strips)
        for strip in strips:
            self.lost[strip.patches[0].print] += strip.along - short
        self._sewn(len(strips) - 1, short)
        self.make(step["makes"], Band([s.patches[0] for s in strips], short))

    def square_end(self, step: dict[str, Any]) -> None:
        band, by = self.band(step["takes"]), Fraction(step["by"])
        if not 0 < by < band.along:
            raise Spoiled("nothing left after squaring")
        for patch in band.patches:
            self.lost[patch.print] += by
        band.along -= by
        self.make(step["makes"], band)

    def cut_segment(self, step: dict[str, Any]) -> None:
        band, width = self.band(step["takes"]), Fraction(step["width"])
        if width <= 2 * self.seam or width > band.along:
            raise Spoiled(f"segment of {width} from a set {band.along} long")
        self.cuts += 1
        for patch in band.patches:
            self.used[patch.print] += width
        self.make(step["makes"], Band([*band.patches], width, band.looped))
        self.leavings.add(step["leaves"])
        self.make(step["leaves"], Band(band.patches, band.along - width, band.looped))

    def close_loop(self, step: dict[str, Any]) -> None:
        band = self.band(step["takes"])
        if band.looped or len(band.patches) < 2:
            raise Spoiled("already a loop, or too little for one")
        self._sewn(1, band.along)
        self.make(step["makes"], Band(band.patches, band.along, looped=True))

    def open_seam(self, step: dict[str, Any]) -> None:
        band, after, makes = self.band(step["takes"]), step["after"], step["makes"]
        last = len(band.patches) if band.looped else len(band.patches) - 1
        if not (isinstance(after, int) and 1 <= after <= last):
            raise Spoiled(f"no seam after patch {after}")
        if len(makes) != (1 if band.looped else 2):
            raise Spoiled("a loop opens to one column, a flat piece to two")
        self.opened += 1
        upper, lower = band.patches[:after], band.patches[after:]
        if band.looped:
            self.make(makes[0], Band(lower + upper, band.along))
        else:
            self.make(makes[0], Band(upper, band.along))
            self.make(makes[1], Band(lower, band.along))

    def stack(self, step: dict[str, Any]) -> None:
        parts = [self.band(name) for name in step["takes"]]
        if len(parts) < 2 or any(p.looped or p.along != parts[0].along for p in parts):
            raise Spoiled("only open segments of one width are stacked")
        self._sewn(len(parts) - 1, parts[0].along)
        self.make(step["makes"], Band([q for p in parts for q in p.patches], parts[0].along))

    def sew_columns(self, step: dict[str, Any]) -> None:
        bands = [self.band(name) for name in step["takes"]]
        heights = {band.raw_height(self.seam) for band in bands}
        if any(b.looped for b in bands) or len(heights) != 1:
            raise Spoiled(f"columns of unlike heights {sorted(heights)} cannot be sewn")
        height = heights.pop()
        self._sewn(len(bands) - 1, height)
        width = sum((b.along for b in bands), Fraction(0)) - 2 * self.seam * (len(bands) - 1)
        self.centre = Panel(bands, width, height)
        self.make(step["makes"], self.centre)

    def add_border(self, step: dict[str, Any]) -> None:
        panel, grown = self._panel(step["takes"]), Fraction(step["cut_width"]) - 2 * self.seam
        if grown <= 0 or step["order"] not in {"sides", "top_bottom"}:
            raise Spoiled("this border cannot be sewn on")
        if step["order"] == "sides":
            self._sewn(2, panel.height)
            grew = Panel(panel.columns, panel.width + 2 * grown, panel.height)
        else:
            self._sewn(2, panel.width)
            grew = Panel(panel.columns, panel.width, panel.height + 2 * grown)
        grew.sides = [*panel.sides, step["order"]]
        self.make(step["makes"], grew)

    def trim(self, step: dict[str, Any]) -> None:
        panel = self._panel(step["takes"])
        width, height = (Fraction(side) for side in step["to"])
        if width > panel.width or height > panel.height:
            raise Spoiled("trimming cannot enlarge")
        self.make(step["makes"], Panel(panel.columns, width, height, panel.sides))

    def bind(self, step: dict[str, Any]) -> None:
        panel = self._panel(step["takes"])
        edge = 2 * (panel.width + panel.height)
        if Fraction(step["length"]) < edge + 8:
            raise Spoiled("the binding is too short to go round and be joined")
        if Fraction(step["cut_width"]) < 4 * self.seam:
            raise Spoiled("the binding cannot wrap the edge")
        panel.bound = True
        self.make("the finished piece", panel)

    def _panel(self, name: str) -> Panel:
        piece = self.take(name)
        if not isinstance(piece, Panel):
            raise Spoiled(f"'{name}' is no panel")
        return piece

    def _sewn(self, count: int, length: Fraction) -> None:
        self.seams += count
        self.seam_length += count * length

    # the whole ────────────────────────────────────────────────────────────────────────────

    def run(self) -> Sewn:
        for number, step in enumerate(self.document["steps"]):
            try:
                getattr(self, step["op"])(step)
            except Spoiled as why:
                raise Spoiled(f"step {number} ({step['op']}): {why}") from None
        panels = [piece for piece in self.pieces.values() if isinstance(piece, Panel)]
        rest = {k: v for k, v in self.pieces.items() if isinstance(v, Band)}
        if len(panels) != 1 or set(rest) - self.leavings:
            raise Spoiled(f"left lying: {sorted(rest)}")
        return self._result(panels[0], list(rest.values()))

    def _result(self, panel: Panel, rest: list[Band]) -> Sewn:
        assert self.centre is not None
        seam = self.seam
        columns = self.centre.columns
        strips: dict[str, set[Fraction]] = {}
        left: Counter[str] = Counter()
        for patch in (p for band in columns for p in band.patches):
            strips.setdefault(patch.print, set()).add(patch.raw - 2 * seam)
        for band in rest:
            for patch in band.patches:
                left[patch.print] += band.along
        return Sewn(
            picture=[[patch.print for patch in band.patches] for band in columns],
            widths=[band.along - 2 * seam for band in columns],
            strips=strips,
            centre=(self.centre.width - 2 * seam, self.centre.height - 2 * seam),
            bordered=(panel.width - 2 * seam, panel.height - 2 * seam),
            cut=self.cut,
            joins=self.joins,
            opened=self.opened,
            seams=self.seams,
            seam_length=self.seam_length,
            cuts=self.cuts,
            left=[band.along for band in rest],
            lost=dict(self.lost),
            used=self.used,
            left_by_print=left,
        )


def sew(document: dict[str, Any]) -> Sewn:
    """Execute the steps of a ``passalong.plan/1`` document."""
    return Table(document).run()
