"""Options that several commands share, in groups."""

from __future__ import annotations

import argparse
from pathlib import Path

from passalong import typed


def outline(one: argparse.ArgumentParser) -> None:
    """An outline drawn by hand."""
    one.add_argument("--outline", nargs="+", type=typed.point, required=True, metavar="X,Y",
                     help="three or more corners, in pixels of the photo turned upright")


def first_page(one: argparse.ArgumentParser) -> None:
    """Title and date of the sheets."""
    one.add_argument("--title", metavar="TEXT", help="title of the sheets (the folder's name)")
    one.add_argument("--date", metavar="TEXT", help="date on the first sheet, as written")


def photos(one: argparse.ArgumentParser) -> None:
    """Photographs, and the folder that they come into."""
    one.add_argument("photos", nargs="+", type=Path, metavar="PHOTO",
                     help="photographs, or a folder of them")
    one.add_argument("--out", required=True, type=Path, metavar="FOLDER",
                     help="piece folder to make or add to")
    one.add_argument("--no-copy", dest="copy", action="store_false",
                     help="leave the photos where they are (default: kept in the folder, without "
                     "taking more room where the disk allows it)")


def folder(one: argparse.ArgumentParser) -> None:
    """The piece folder."""
    one.add_argument("folder", type=Path, metavar="FOLDER", help="piece folder")


def reading(one: argparse.ArgumentParser) -> None:
    """How photographs are read."""
    group = one.add_argument_group("reading")
    group.add_argument("--shows", choices=("auto", "one", "many"), default="auto",
                       help="a photo of one print, or of many scraps on a table")
    known_colour(group)
    group.add_argument("--scale", default="auto",
                       metavar="auto|bankcard|letter|a4|a5|LENGTH=X,Y-X,Y|LENGTH=PIXELS",
                       help="what tells the size: a bank card, the white sheet's format, or a "
                       "length and its two ends in pixels of the photo turned upright, e.g. "
                       "6in=210,1180-1640,1202; a plain 6in=1450 takes no tilt out")
    group.add_argument("--card", nargs=4, type=typed.point, metavar="X,Y",
                       help="the four corners of a bank card, in order around it, where --scale "
                       "bankcard does not find it")


def known_colour(one: argparse.ArgumentParser | argparse._ArgumentGroup) -> None:
    """What in the picture has a known colour."""
    one.add_argument("--reference", type=typed.reference, default="auto",
                     metavar="auto|sheet|grey|grey=L|target|none",
                     help="what in the picture has a known colour; grey=65 is a card of L* 65. "
                     "Best is a 24-patch target, next a card of L* 55 to 70, then a white sheet")
    one.add_argument("--marked", nargs="+", type=typed.point, metavar="X,Y",
                     help="where the sheet, card or target of --reference lies: four corners "
                     "or two opposite ones, in pixels of the photo turned upright")
    one.add_argument("--camera", metavar="NAME|auto|none", default=None,
                     help="a camera taught by 'passalong camera learn' (default auto: the one "
                     "whose make, model and lens the file names)")
    one.add_argument("--without-patches", type=typed.whole_list, metavar="N,N",
                     help="spoilt patches of a target (glare, stains), 1 to 24 row by row")


def ordering(one: argparse.ArgumentParser) -> None:
    """What the sequence must be like."""
    group = one.add_argument_group("sequence")
    group.add_argument("--pick", type=typed.pick, metavar="K", help="use the best K prints, or 5-8")
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
        group.add_argument(f"--{name}", type=typed.pair, action="append", default=[], metavar="A,B",
                           help=text)
    group.add_argument("--aim", choices=("even", "total", "worst"), default="even",
                       help="even: no step sticks out (default); total: least colour travelled; "
                       "worst: the largest step as small as can be")
    group.add_argument("--distinct", type=typed.figure, metavar="COST",
                       help="neighbours cost at least this much")
    group.add_argument("--value-range", type=typed.figure, metavar="L",
                       help="the chosen prints span at least this much lightness (0 to 100)")
    group.add_argument("--alternatives", type=typed.count, default=0, metavar="M",
                       help="also show M other sequences")
    group.add_argument("--seconds", type=typed.figure, default=10.0, metavar="S",
                       help="longest time to search (default 10)")
    group.add_argument("--sequence", type=typed.texts, metavar="ID,ID,…",
                       help="your own order: score it and name the moves that gain most")


def planning(one: argparse.ArgumentParser) -> None:
    """What the panel must be like."""
    group = one.add_argument_group("plan (widths are finished widths)")
    sizes = group.add_mutually_exclusive_group()
    sizes.add_argument("--size", metavar="WxH", help="centre without border, e.g. 8x10")
    sizes.add_argument("--largest", dest="largest_piece", action="store_const", const=True,
                       help="the largest piece that the scraps can give")
    sizes.add_argument("--best", dest="best_at", metavar="WxH",
                       help="the best piece of this size that the scraps can give")
    group.add_argument("--strip", metavar="W",
                       help="finished strip (default 1/4, or what fills the size)")
    group.add_argument("--repeats", type=typed.whole, metavar="R", help="runs through all prints")
    group.add_argument("--columns", type=typed.texts, metavar="W,W,…", help="column widths")
    group.add_argument("--offsets", type=typed.whole_list, metavar="N,N,…",
                       help="how many prints each column is shifted")
    group.add_argument("--seam", metavar="S", help="seam allowance (default 1/4)")
    group.add_argument("--method", choices=("flat", "loop"),
                       help="open a seam and carry the top down, or sew the set into a loop first")
    group.add_argument("--press", choices=("open", "nested"), help="how seams are pressed")
    group.add_argument("--units", choices=("in", "cm"),
                       help="custom and ruler that defaults follow (default in)")
    _curve(one)
    _scraps(one)
    finishing(one)


def _curve(one: argparse.ArgumentParser) -> None:
    group = one.add_argument_group("curve")
    group.add_argument("--curve", metavar="NAME|FILE",
                       help="wave, hill, valley, zigzag, flame, slope, or a file: points as CSV or "
                       "JSON, or a PNG with one dark line")
    group.add_argument("--curve-height", type=typed.figure, metavar="ROWS", help="rows it rises")
    group.add_argument("--curve-count", type=typed.figure, metavar="N", help="how often it runs")
    group.add_argument("--curve-phase", type=float, metavar="P", help="shift, in runs")
    group.add_argument("--steps", type=typed.whole_list, metavar="N,N",
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
    group.add_argument("--directional", type=typed.texts, metavar="ID,ID", help="prints with an up")


def finishing(one: argparse.ArgumentParser) -> None:
    """Border, binding, backing."""
    group = one.add_argument_group("border and binding")
    group.add_argument("--border", metavar="W", help="border width, 0 for none; several: 1/2,2")
    group.add_argument("--corners", choices=("butted", "mitred"), help="corners of the border")
    group.add_argument("--border-print", metavar="ID", help="print of the border")
    group.add_argument("--binding", metavar="W", help="cut width of the binding, 0 for none")
    group.add_argument("--binding-print", metavar="ID", help="print of the binding")
    group.add_argument("--backing", metavar="W", help="backing larger on each side")
