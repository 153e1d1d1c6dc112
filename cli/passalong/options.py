"""What can be typed: commands, options, examples. Parses text into plain values, nothing more."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any, NoReturn

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
    _photos(one)
    _reading(one)
    _ordering(one)
    _planning(one)
    one.add_argument("--paper", choices=("letter", "a4"), default="letter",
                     help="paper of the sheets (default letter)")
    _first_page(one)


def _read(commands: Subparsers) -> None:
    one = _command(commands, "read", "photographs to prints: find the scraps, measure their "
                   "colours", "read table.jpg --out box --scale bankcard")
    _photos(one)
    _reading(one)


def _name(commands: Subparsers) -> None:
    one = _command(commands, "name", "give prints names of your own", "name box table-1='moss'")
    _folder(one)
    one.add_argument("names", nargs="+", metavar="ID=NAME", help="print and its new name")


def _size(commands: Subparsers) -> None:
    one = _command(commands, "size", "set or correct the size of a scrap",
                   "size box table-1='9 1/2x3'")
    _folder(one)
    one.add_argument("sizes", nargs="+", metavar="ID=LxW",
                     help="print and the length and width of its scrap; several: ID=9x3,4x4")


def _drop(commands: Subparsers) -> None:
    one = _command(commands, "drop", "take prints out of the piece", "drop box table-4")
    _folder(one)
    one.add_argument("ids", nargs="+", metavar="ID", help="prints to take out")


def _merge(commands: Subparsers) -> None:
    one = _command(commands, "merge", "several finds of one photo are one scrap",
                   "merge box table-2 table-3")
    _folder(one)
    one.add_argument("ids", nargs="+", metavar="ID", help="finds that are one scrap")


def _split(commands: Subparsers) -> None:
    one = _command(commands, "split", "one find is two scraps, parted along a straight line",
                   "split box table-2 --along 840,300 860,1200")
    _folder(one)
    one.add_argument("id", metavar="ID", help="find to part")
    one.add_argument("--along", nargs=2, type=_point, required=True, metavar="X,Y",
                     help="two points of the line, in pixels of the photo turned upright")


def _redraw(commands: Subparsers) -> None:
    one = _command(commands, "redraw", "draw a scrap's outline anew",
                   "redraw box table-2 --outline 400,300 900,310 890,700 405,690")
    _folder(one)
    one.add_argument("id", metavar="ID", help="find to draw anew")
    one.add_argument("--outline", nargs="+", type=_point, required=True, metavar="X,Y",
                     help="three or more corners, in pixels of the photo turned upright")


def _colour(commands: Subparsers) -> None:
    one = _command(commands, "colour", "the colour of spots in a photograph, with its ±",
                   "colour table.jpg --at 840,300 1210,655 --reference sheet")
    one.add_argument("photo", type=Path, metavar="PHOTO", help="photograph")
    one.add_argument("--at", dest="points", nargs="+", type=_point, required=True, metavar="X,Y",
                     help="spots, in pixels of the photo turned upright")
    _known_colour(one)
    one.add_argument("--radius", type=_figure, default=4.0, metavar="PX",
                     help="pixels around a spot that count (default 4)")


def _add(commands: Subparsers) -> None:
    one = _command(commands, "add", "draw a scrap that was missed",
                   "add box table.jpg --outline 400,300 900,310 890,700 405,690")
    _folder(one)
    one.add_argument("photo", metavar="PHOTO", help="photo of the piece, by its file name")
    one.add_argument("--outline", nargs="+", type=_point, required=True, metavar="X,Y",
                     help="three or more corners, in pixels of the photo turned upright")


def _same(commands: Subparsers) -> None:
    one = _command(commands, "same", "finds of different photos are one print",
                   "same box table-2,shelf-1")
    _folder(one)
    one.add_argument("ids", type=_ids, metavar="ID,ID…", help="finds that show one print")


def _different(commands: Subparsers) -> None:
    one = _command(commands, "different", "finds of different photos are different prints",
                   "different box table-2,shelf-1")
    _folder(one)
    one.add_argument("ids", type=_ids, metavar="ID,ID…", help="finds that only look alike")


def _undo(commands: Subparsers) -> None:
    _folder(_command(commands, "undo", "take the last step back", "undo box"))


def _redo(commands: Subparsers) -> None:
    _folder(_command(commands, "redo", "do again what was taken back", "redo box"))


def _history(commands: Subparsers) -> None:
    _folder(_command(commands, "history", "what was done to the piece, step by step",
                     "history box"))


def _camera(commands: Subparsers) -> None:
    one = _command(commands, "camera", "teach a camera from photos of a 24-patch target",
                   "camera learn window.jpg --name 'my phone'")
    one.add_argument("what", choices=("learn", "list", "forget"),
                     help="learn from PHOTO, list what was taught, or forget NAME")
    one.add_argument("given", nargs="?", metavar="PHOTO|NAME", help="for learn and forget")
    one.add_argument("--name", metavar="NAME", help="for learn: what to call the camera; again "
                     "under one name: another photo, best in another light")
    one.add_argument("--marked", nargs="+", type=_point, metavar="X,Y",
                     help="where the target lies: four corners or two opposite ones")


def _order(commands: Subparsers) -> None:
    one = _command(commands, "order", "find the best sequence and prove it",
                   "order box --pick 7 --first table-3 --apart table-1,table-2")
    _folder(one)
    _ordering(one)
    one.add_argument("--keep", action="store_true",
                     help="with --sequence: sew this order; without, it is only scored")


def _contrast(commands: Subparsers) -> None:
    one = _command(commands, "contrast", "how neighbours meet in colour and value; what would "
                   "bridge a jump", "contrast box")
    _folder(one)


def _plan(commands: Subparsers) -> None:
    one = _command(commands, "plan", "columns, strips and sewing steps in exact fractions",
                   "plan box --size 9x12 --strip 1/4 --curve hill --method loop")
    _folder(one)
    one.add_argument("--sewn", type=_whole_list, metavar="N|N,N…",
                     help="the first N columns, or these, are cut and sewn: they stay")
    one.add_argument("--left", metavar="W", help="what is left of the strip set cut last")
    one.add_argument("--use-up", action="store_true",
                     help="more columns from what is left, going on with the curve")
    one.add_argument("--way-out", type=_whole, metavar="N", help="take that way out")
    one.add_argument("--ways-out", action="store_true",
                     help="where scraps fall short: what would help, best first")
    _planning(one)


def _scale(commands: Subparsers) -> None:
    one = _command(commands, "scale", "the same design at another size: what survives, what does "
                   "not, whether it is worth it", "scale box --to 8x10")
    _folder(one)
    one.add_argument("--to", required=True, metavar="WxH", help="the centre's new size")
    one.add_argument("--out", type=Path, metavar="FILE",
                     help="PNG of both sizes (default scale.png in the folder)")


def _preview(commands: Subparsers) -> None:
    one = _command(commands, "preview", "a picture of the finished piece from the photographed "
                   "cloth", "preview box --out wall.png --view across-room")
    _folder(one)
    one.add_argument("--out", required=True, type=Path, metavar="FILE", help="PNG to write")
    one.add_argument("--view", default="colour",
                     choices=("colour", "value", "protan", "deutan", "tritan", "across-room"),
                     help="as it is, in greys, for colour-blind eyes, or from across the room")
    one.add_argument("--ppi", type=_whole,
                     help="pixels per inch (default near 100, steps of the ruler whole pixels)")


def _sheets(commands: Subparsers) -> None:
    one = _command(commands, "sheets", "cutting and sewing sheets as PDF",
                   "sheets box --out wall.pdf --paper a4 --units cm")
    _folder(one)
    one.add_argument("--out", required=True, type=Path, metavar="FILE.pdf", help="PDF to write")
    one.add_argument("--paper", choices=("letter", "a4"), default="letter", help="paper size")
    _first_page(one)
    one.add_argument("--units", choices=("in", "cm"), help="units shown (default the plan's)")


def _first_page(one: argparse.ArgumentParser) -> None:
    one.add_argument("--title", metavar="TEXT", help="title of the sheets")
    one.add_argument("--date", metavar="TEXT", help="date on the first sheet, as written")


def _photos(one: argparse.ArgumentParser) -> None:
    one.add_argument("photos", nargs="+", type=Path, metavar="PHOTO",
                     help="photographs, or a folder of them")
    one.add_argument("--out", required=True, type=Path, metavar="FOLDER",
                     help="piece folder to make or add to")
    one.add_argument("--no-copy", dest="copy", action="store_false",
                     help="leave the photos where they are (default: kept in the folder, without "
                     "taking more room where the disk allows it)")


def _folder(one: argparse.ArgumentParser) -> None:
    one.add_argument("folder", type=Path, metavar="FOLDER", help="piece folder")


def _reading(one: argparse.ArgumentParser) -> None:
    group = one.add_argument_group("reading")
    group.add_argument("--shows", choices=("auto", "one", "many"), default="auto",
                       help="a photo of one print, or of many scraps on a table")
    _known_colour(group)
    group.add_argument("--scale", default="auto",
                       metavar="auto|bankcard|letter|a4|a5|LENGTH=X,Y-X,Y|LENGTH=PIXELS",
                       help="what tells the size: a bank card, the white sheet's format, or a "
                       "length and its two ends in pixels of the photo turned upright, e.g. "
                       "6in=210,1180-1640,1202; a plain 6in=1450 takes no tilt out")
    group.add_argument("--card", nargs=4, type=_point, metavar="X,Y",
                       help="the four corners of a bank card, in order around it, where --scale "
                       "bankcard does not find it")


def _known_colour(one: argparse.ArgumentParser | argparse._ArgumentGroup) -> None:
    one.add_argument("--reference", type=_reference, default="auto",
                     metavar="auto|sheet|grey|grey=L|target|none",
                     help="what in the picture has a known colour; grey=65 is a card of L* 65. "
                     "Best is a 24-patch target, next a card of L* 55 to 70, then a white sheet")
    one.add_argument("--marked", nargs="+", type=_point, metavar="X,Y",
                     help="where the sheet, card or target of --reference lies: four corners "
                     "or two opposite ones, in pixels of the photo turned upright")
    one.add_argument("--camera", metavar="NAME|auto|none", default=None,
                     help="a camera taught by 'passalong camera learn' (default auto: the one "
                     "whose make, model and lens the file names)")
    one.add_argument("--without-patches", type=_whole_list, metavar="N,N",
                     help="spoilt patches of a target (glare, stains), 1 to 24 row by row")


def _ordering(one: argparse.ArgumentParser) -> None:
    group = one.add_argument_group("sequence")
    group.add_argument("--pick", type=_pick, metavar="K", help="use the best K prints, or 5-8")
    group.add_argument("--enough", action="store_const", const=True,
                       help="with --pick: only prints whose scraps are large enough for the piece")
    shape = group.add_mutually_exclusive_group()
    shape.add_argument("--loop", dest="loop", action="store_true", default=True,
                       help="the last print also meets the first (default: the strip set repeats)")
    shape.add_argument("--open", dest="loop", action="store_false",
                       help="an open sequence with two ends")
    group.add_argument("--first", metavar="ID", help="print to start with")
    group.add_argument("--last", metavar="ID", help="print to end with")
    group.add_argument("--with", dest="include", nargs="+", action="extend", default=[],
                       metavar="ID", help="prints that must be in")
    group.add_argument("--without", dest="exclude", nargs="+", action="extend", default=[],
                       metavar="ID", help="prints that stay out")
    for name, text in (("together", "two prints that must meet"),
                       ("apart", "two prints that must not meet"),
                       ("before", "A somewhere before B (open sequences)")):
        group.add_argument(f"--{name}", type=_pair, action="append", default=[], metavar="A,B",
                           help=text)
    group.add_argument("--aim", choices=("even", "total", "worst"), default="even",
                       help="even: no step sticks out (default); total: least colour travelled; "
                       "worst: the largest step as small as can be")
    group.add_argument("--distinct", type=_figure, metavar="COST",
                       help="neighbours cost at least this much")
    group.add_argument("--value-range", type=_figure, metavar="L",
                       help="the chosen prints span at least this much lightness (0 to 100)")
    group.add_argument("--alternatives", type=_count, default=0, metavar="M",
                       help="also show M other sequences")
    group.add_argument("--seconds", type=_figure, default=10.0, metavar="S",
                       help="longest time to search (default 10)")
    group.add_argument("--sequence", type=_ids, metavar="ID,ID,…",
                       help="your own order: score it and name the moves that gain most")


def _planning(one: argparse.ArgumentParser) -> None:
    group = one.add_argument_group("plan (widths are finished widths)")
    sizes = group.add_mutually_exclusive_group()
    sizes.add_argument("--size", metavar="WxH", help="centre without border, e.g. 8x10")
    sizes.add_argument("--largest", dest="largest_piece", action="store_const", const=True,
                       help="the largest piece that the scraps can give")
    sizes.add_argument("--best", dest="best_at", metavar="WxH",
                       help="the best piece of this size that the scraps can give")
    group.add_argument("--strip", metavar="W",
                       help="finished strip (default 1/4, or what fills the size)")
    group.add_argument("--repeats", type=_whole, metavar="R", help="runs through all prints")
    group.add_argument("--columns", type=_texts, metavar="W,W,…", help="column widths")
    group.add_argument("--offsets", type=_whole_list, metavar="N,N,…",
                       help="how many prints each column is shifted")
    group.add_argument("--seam", metavar="S", help="seam allowance (default 1/4)")
    group.add_argument("--method", choices=("flat", "loop"),
                       help="open a seam and carry the top down, or sew the set into a loop first")
    group.add_argument("--press", choices=("open", "nested"), help="how seams are pressed")
    group.add_argument("--units", choices=("in", "cm"),
                       help="custom and ruler that defaults follow (default in)")
    _curve(one)
    _scraps(one)
    _finishing(one)


def _curve(one: argparse.ArgumentParser) -> None:
    group = one.add_argument_group("curve")
    group.add_argument("--curve", metavar="NAME|FILE",
                       help="wave, hill, valley, zigzag, flame, slope, or a file: points as CSV or "
                       "JSON, or a PNG with one dark line")
    group.add_argument("--curve-height", type=_figure, metavar="ROWS", help="rows it rises")
    group.add_argument("--curve-count", type=_figure, metavar="N", help="how often it runs")
    group.add_argument("--curve-phase", type=float, metavar="P", help="shift, in runs")
    group.add_argument("--steps", type=_whole_list, metavar="N,N",
                       help="rows by which neighbours may differ, of 0,1,2 (default 1)")
    group.add_argument("--smallest", metavar="W", help="narrowest column")
    group.add_argument("--widest", dest="largest", metavar="W", help="widest column")
    group.add_argument("--symmetric", action="store_const", const=True,
                       help="mirrored about the middle")
    group.add_argument("--grid", metavar="W", help="the ruler's lines (default 1/8)")


def _scraps(one: argparse.ArgumentParser) -> None:
    group = one.add_argument_group("scraps")
    group.add_argument("--sets", choices=("auto", "repeat", "tall"),
                       help="a strip set holds one repeat, or all of them")
    group.add_argument("--squaring", metavar="W", help="taken off each strip set (default 1/2)")
    group.add_argument("--usable", metavar="W", help="usable fabric width (default 40)")
    group.add_argument("--join", choices=("diagonal", "straight"), help="end-to-end joins")
    group.add_argument("--joins", choices=("any", "few", "none"),
                       help="few: no strip of more than two pieces")
    group.add_argument("--straighten", metavar="W",
                       help="taken off each side of a scrap (default 1/8)")
    group.add_argument("--spare", metavar="W",
                       help="length of each strip set to square it again (default 1/4)")
    group.add_argument("--directional", type=_ids, metavar="ID,ID", help="prints with an up")


def _finishing(one: argparse.ArgumentParser) -> None:
    group = one.add_argument_group("border and binding")
    group.add_argument("--border", metavar="W", help="border width, 0 for none; several: 1/2,2")
    group.add_argument("--corners", choices=("butted", "mitred"), help="corners of the border")
    group.add_argument("--border-print", metavar="ID", help="print of the border")
    group.add_argument("--binding", metavar="W", help="cut width of the binding, 0 for none")
    group.add_argument("--binding-print", metavar="ID", help="print of the binding")
    group.add_argument("--backing", metavar="W", help="backing larger on each side")


def _page(commands: Subparsers) -> None:
    one = _command(commands, "page", "the whole job by hand and eye, on a page in your browser",
                   "page box")
    one.add_argument("folder", type=Path, nargs="?", default=Path("piece"), metavar="FOLDER",
                     help="a piece folder, or the name of a new one (default: piece)")
    one.add_argument("--port", type=_port, default=0, metavar="N",
                     help="port of the page (default: any that is free)")
    one.add_argument("--no-browser", dest="browser", action="store_false",
                     help="only say where the page is; do not open it")


def _port(text: str) -> int:
    number = int(text)
    if number and not 1024 <= number <= 65535:
        raise argparse.ArgumentTypeError(f"{text} is not a port from 1024 to 65535, or 0")
    return number


def _whole(text: str) -> int:
    number = int(text)
    if not 1 <= number <= 1_000_000:
        raise argparse.ArgumentTypeError(f"{text} is not a whole number of 1 or more")
    return number


def _count(text: str) -> int:
    number = int(text)
    if not 0 <= number <= 1000:
        raise argparse.ArgumentTypeError(f"{text} is not a whole number from 0 to 1000")
    return number


def _figure(text: str) -> float:
    number = float(text)
    if not 0 <= number < float("inf"):
        raise argparse.ArgumentTypeError(f"{text} is not a number of 0 or more")
    return number


def _pick(text: str) -> int | tuple[int, int]:
    low, dash, high = text.partition("-")
    if not dash:
        return _whole(text)
    span = (_whole(low), _whole(high))
    if span[0] > span[1]:
        raise argparse.ArgumentTypeError(f"{text} runs backwards; write {span[1]}-{span[0]}")
    return span


def _texts(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]


_ids = _texts


def _reference(text: str) -> str:
    kind, equals, level = text.partition("=")
    if kind not in ("auto", "sheet", "grey", "target", "none") or (equals and kind != "grey"):
        raise argparse.ArgumentTypeError(
            f"'{text}' is none of auto, sheet, grey, grey=L, target, none")
    if equals:
        _figure(level)
    return text


def _point(text: str) -> tuple[float, float]:
    x, y = (float(part) for part in text.split(","))
    return x, y


def _whole_list(text: str) -> list[int]:
    return [int(part) for part in _texts(text)]


def _pair(text: str) -> tuple[str, str]:
    parts = _texts(text)
    if len(parts) != 2 or parts[0] == parts[1]:
        raise argparse.ArgumentTypeError(f"'{text}' is not a pair; write A,B with two prints")
    return parts[0], parts[1]
