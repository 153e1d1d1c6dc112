"""What can be typed: commands, options, examples. Parses text into plain values, nothing more."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from typing import Any, NoReturn

from passalong import groups, typed
from sequencer.files import shown

ORDER_KEYS = ("pick", "enough", "loop", "first", "last", "include", "exclude", "together",
              "apart", "before", "aim", "distinct", "value_range", "alternatives", "seconds",
              "sequence")
PLAN_KEYS = ("size", "largest_piece", "best_at", "strip", "repeats", "curve", "curve_height",
             "curve_count", "curve_phase", "columns", "offsets", "steps", "smallest", "largest",
             "symmetric", "grid", "seam", "method", "press", "sets", "squaring", "usable", "join",
             "border", "corners", "border_print", "binding", "binding_print", "backing",
             "directional", "units", "joins", "straighten", "spare")
READ_KEYS = ("shows", "reference", "scale", "marked", "card", "camera", "without_patches")
SPOT_KEYS = ("reference", "marked", "camera", "without_patches", "radius")
Subparsers = Any


class _Parser(argparse.ArgumentParser):
    """Says what was typed wrongly without passing control characters on to the terminal."""

    def __init__(self, *told: Any, **more: Any) -> None:
        super().__init__(*told, **more)
        self._negative_number_matcher = re.compile(r"-[\d.]")  # -5,3 is a point, no option

    def error(self, message: str) -> NoReturn:
        super().error(shown(message))


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = _Parser(
        prog="passalong",
        description="From photographs of fabric scraps to a stepped, curved quilt panel: which "
        "prints belong together and in what sequence, how wide each column is cut, how it will "
        "look, and the sheets to cut and sew by.",
        epilog="Start with: passalong make PHOTOS --out FOLDER",
    )
    top.add_argument("--version", action="store_true", help="say which version this is")
    commands = top.add_subparsers(dest="command", metavar="COMMAND")
    for add in (_make, _read, _name, _size, _drop, _merge, _split, _redraw, _add, _same,
                _different, _undo, _redo, _history, _colour, _camera, _order, _contrast,
                _plan, _scale, _preview, _sheets, _page):
        add(commands)
    return top


def _command(
    commands: Subparsers, name: str, summary: str, example: str, **extra: Any
) -> argparse.ArgumentParser:
    one: argparse.ArgumentParser = commands.add_parser(
        name, help=summary, description=summary[0].upper() + summary[1:] + ".",
        epilog=f"example: passalong {example}", **extra)
    one.add_argument("--json", action="store_true",
                     help="print one JSON document on standard output and nothing else")
    one.add_argument("--all", action="store_true",
                     help="print every figure: costs, totals, tables, all remarks")
    return one


def _make(commands: Subparsers) -> None:
    one = _command(commands, "make", "the whole job: prints, sequence, contrast, plan, preview, "
                   "sheets", "make sample_images --out demo --size 9x11")
    groups.photos(one)
    groups.reading(one)
    groups.ordering(one)
    groups.planning(one)
    one.add_argument("--paper", choices=("letter", "a4"), default="letter",
                     help="paper of the sheets (default letter)")
    groups.first_page(one)


def _read(commands: Subparsers) -> None:
    one = _command(commands, "read", "photographs to prints: find the scraps, measure their "
                   "colours", "read table.jpg --out box --scale bankcard")
    groups.photos(one)
    groups.reading(one)


def _name(commands: Subparsers) -> None:
    one = _command(commands, "name", "give prints names of your own", "name box table-1='moss'")
    groups.folder(one)
    one.add_argument("names", nargs="+", metavar="ID=NAME", help="print and its new name")


def _size(commands: Subparsers) -> None:
    one = _command(commands, "size", "set or correct the size of a scrap",
                   "size box table-1='9 1/2x3'")
    groups.folder(one)
    one.add_argument("sizes", nargs="+", metavar="ID=LxW",
                     help="print and the length and width of its scrap; several: ID=9x3,4x4")


def _drop(commands: Subparsers) -> None:
    one = _command(commands, "drop", "take prints out of the piece", "drop box table-4")
    groups.folder(one)
    one.add_argument("ids", nargs="+", metavar="ID", help="prints to take out")


def _merge(commands: Subparsers) -> None:
    one = _command(commands, "merge", "several finds of one photo are one scrap",
                   "merge box table-2 table-3")
    groups.folder(one)
    one.add_argument("ids", nargs="+", metavar="ID", help="finds that are one scrap")


def _split(commands: Subparsers) -> None:
    one = _command(commands, "split", "one find is two scraps, parted along a straight line",
                   "split box table-2 --along 840,300 860,1200")
    groups.folder(one)
    one.add_argument("id", metavar="ID", help="find to part")
    one.add_argument("--along", nargs=2, type=typed.point, required=True, metavar="X,Y",
                     help="two points of the line, in pixels of the photo turned upright")


def _redraw(commands: Subparsers) -> None:
    one = _command(commands, "redraw", "draw a scrap's outline anew",
                   "redraw box table-2 --outline 400,300 900,310 890,700 405,690")
    groups.folder(one)
    one.add_argument("id", metavar="ID", help="find to draw anew")
    groups.outline(one)


def _colour(commands: Subparsers) -> None:
    one = _command(commands, "colour", "the colour of spots in a photograph, with its ±",
                   "colour table.jpg --at 840,300 1210,655 --reference sheet")
    one.add_argument("photo", type=Path, metavar="PHOTO", help="photograph")
    one.add_argument("--at", dest="points", nargs="+", type=typed.point, required=True,
                     metavar="X,Y",
                     help="spots, in pixels of the photo turned upright")
    groups.known_colour(one)
    one.add_argument("--radius", type=typed.figure, default=4.0, metavar="PX",
                     help="pixels around a spot that count (default 4)")


def _add(commands: Subparsers) -> None:
    one = _command(commands, "add", "draw a scrap that was missed",
                   "add box table.jpg --outline 400,300 900,310 890,700 405,690")
    groups.folder(one)
    one.add_argument("photo", metavar="PHOTO", help="photo of the piece, by its file name")
    groups.outline(one)


def _same(commands: Subparsers) -> None:
    one = _command(commands, "same", "finds of different photos are one print",
                   "same box table-2,shelf-1")
    groups.folder(one)
    one.add_argument("ids", type=typed.texts, metavar="ID,ID…", help="finds that show one print")


def _different(commands: Subparsers) -> None:
    one = _command(commands, "different", "finds of different photos are different prints",
                   "different box table-2,shelf-1")
    groups.folder(one)
    one.add_argument("ids", type=typed.texts, metavar="ID,ID…", help="finds that only look alike")


def _undo(commands: Subparsers) -> None:
    groups.folder(_command(commands, "undo", "take the last step back", "undo box"))


def _redo(commands: Subparsers) -> None:
    groups.folder(_command(commands, "redo", "do again what was taken back", "redo box"))


def _history(commands: Subparsers) -> None:
    groups.folder(_command(commands, "history", "what was done to the piece, step by step",
                     "history box"))


def _camera(commands: Subparsers) -> None:
    one = _command(commands, "camera", "teach a camera from photos of a 24-patch target",
                   "camera learn window.jpg --name 'my phone'")
    one.add_argument("what", choices=("learn", "list", "forget"),
                     help="learn from PHOTO, list what was taught, or forget NAME")
    one.add_argument("given", nargs="?", metavar="PHOTO|NAME", help="for learn and forget")
    one.add_argument("--name", metavar="NAME", help="for learn: what to call the camera; again "
                     "under one name: another photo, best in another light")
    one.add_argument("--marked", nargs="+", type=typed.point, metavar="X,Y",
                     help="where the target lies: four corners or two opposite ones")


def _order(commands: Subparsers) -> None:
    one = _command(commands, "order", "find the best sequence and prove it",
                   "order box --pick 7 --first table-3 --apart table-1,table-2")
    groups.folder(one)
    groups.ordering(one)
    one.add_argument("--keep", action="store_true",
                     help="with --sequence: sew this order; without, it is only scored")


def _contrast(commands: Subparsers) -> None:
    one = _command(commands, "contrast", "how neighbours meet in colour and value; what would "
                   "bridge a jump", "contrast box")
    groups.folder(one)


def _plan(commands: Subparsers) -> None:
    one = _command(commands, "plan", "columns, strips and sewing steps in exact fractions",
                   "plan box --size 9x12 --strip 1/4 --curve hill --method loop")
    groups.folder(one)
    one.add_argument("--sewn", type=typed.whole_list, metavar="N|N,N…",
                     help="the first N columns, or these, are cut and sewn: they stay")
    one.add_argument("--left", metavar="W", help="what is left of the strip set cut last")
    one.add_argument("--use-up", action="store_true",
                     help="more columns from what is left, going on with the curve")
    one.add_argument("--way-out", type=typed.whole, metavar="N", help="take that way out")
    one.add_argument("--ways-out", action="store_true",
                     help="where scraps fall short: what would help, best first")
    groups.planning(one)


def _scale(commands: Subparsers) -> None:
    one = _command(commands, "scale", "the same design at another size: what survives, what does "
                   "not, whether it is worth it", "scale box --to 8x10")
    groups.folder(one)
    one.add_argument("--to", required=True, metavar="WxH", help="the centre's new size")
    one.add_argument("--out", type=Path, metavar="FILE",
                     help="PNG of both sizes (default scale.png in the folder)")


def _preview(commands: Subparsers) -> None:
    one = _command(commands, "preview", "a picture of the finished piece from the photographed "
                   "cloth", "preview box --out wall.png --view across-room")
    groups.folder(one)
    one.add_argument("--out", required=True, type=Path, metavar="FILE", help="PNG to write")
    one.add_argument("--view", default="colour",
                     choices=("colour", "value", "protan", "deutan", "tritan", "across-room"),
                     help="as it is, in greys, for colour-blind eyes, or from across the room")
    one.add_argument("--ppi", type=typed.whole,
                     help="pixels per inch (default near 100, steps of the ruler whole pixels)")


def _sheets(commands: Subparsers) -> None:
    one = _command(commands, "sheets", "cutting and sewing sheets as PDF",
                   "sheets box --out wall.pdf --paper a4 --units cm")
    groups.folder(one)
    one.add_argument("--out", required=True, type=Path, metavar="FILE.pdf", help="PDF to write")
    one.add_argument("--paper", choices=("letter", "a4"), default="letter", help="paper size")
    groups.first_page(one)
    one.add_argument("--units", choices=("in", "cm"), help="units shown (default the plan's)")


def _page(commands: Subparsers) -> None:
    one = _command(commands, "page", "the whole job by hand and eye, on a page in your browser",
                   "page box")
    one.add_argument("folder", type=Path, nargs="?", default=Path("piece"), metavar="FOLDER",
                     help="a piece folder, or the name of a new one (default: piece)")
    one.add_argument("--port", type=typed.port, metavar="N",
                     help="port of the page, 0 for any (default: the folder's own, if it is free)")
    one.add_argument("--no-browser", dest="browser", action="store_false",
                     help="only say where the page is; do not open it")
