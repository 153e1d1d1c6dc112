"""Plain names for colours, from CIELCh ranges of our own.

A name is at most three words: how light, how strong, which hue ("light greyed blue-green"). The
hue borders were set by looking at charts of equal lightness and chroma; they follow no naming
dictionary. Browns, tans and creams are what a maker calls dark, middling and pale oranges and
golds, so those get words of their own.
"""

from __future__ import annotations

from numpy.typing import ArrayLike

from sequencer.colour.spaces import lch

_GREY = 4.5
_TINTED = 9.0
_GREYED = 24.0
_STRONG = 62.0

# Upper border of each hue in degrees of CIELAB hue angle; the last wraps round to the first.
_HUES = (
    (22.0, "rose"),
    (47.0, "red"),
    (72.0, "orange"),
    (87.0, "gold"),
    (106.0, "yellow"),
    (125.0, "yellow-green"),
    (163.0, "green"),
    (218.0, "blue-green"),
    (288.0, "blue"),
    (318.0, "violet"),
    (336.0, "purple"),
    (352.0, "magenta"),
    (360.0, "rose"),
)
_TINTS = {
    "yellow-green": "green", "green": "green", "blue-green": "blue", "blue": "blue",
    "violet": "violet", "purple": "violet", "magenta": "violet",
}  # fmt: skip
_LIGHTNESS = ((22.0, "very dark"), (40.0, "dark"), (68.0, ""), (84.0, "light"), (101.0, "pale"))


def plain_name(lab: ArrayLike) -> str:
    """A plain name for one CIELAB colour (3,), such as ``dark greyed blue``."""
    lightness, chroma, hue_angle = (float(part) for part in lch(lab))
    if chroma < _GREY:
        return _grey_name(lightness)
    hue = _upto(hue_angle, _HUES)
    if chroma < _TINTED:
        return _tinted_name(lightness, hue)
    if 288 <= hue_angle < 310 and chroma > 45:
        hue = "blue"  # CIELAB bends strong blues towards violet (Hung and Berns 1995)
    earth = _earth_name(lightness, chroma, hue_angle)
    if earth:
        return earth
    if hue in ("rose", "red") and lightness >= 62:
        hue, light = "pink", "pale" if lightness >= 82 else ""
    else:
        light = _upto(lightness, _LIGHTNESS)
    strength = "greyed" if chroma < _GREYED else "strong" if chroma >= _STRONG else ""
    if light in ("pale", "very dark"):
        strength = ""  # pale and very dark colours cannot be strong, and read as greyed anyway
    return " ".join(word for word in (light, strength, hue) if word)


def _grey_name(lightness: float) -> str:
    names = ((14.0, "black"), (34.0, "very dark grey"), (48.0, "dark grey"), (66.0, "grey"),
             (84.0, "light grey"), (93.0, "pale grey"))
    return next((name for top, name in names if lightness < top), "white")


def _tinted_name(lightness: float, hue: str) -> str:
    """A grey, black or white with a trace of colour, for which four tints are enough."""
    tint = _TINTS.get(hue, "warm")
    if lightness < 14:
        return f"{tint} black"
    if lightness >= 90:
        return "cream white" if hue in ("orange", "gold", "yellow") else f"{tint} white"
    return f"{_grey_name(lightness).removesuffix('grey')}{tint} grey"


def _earth_name(lightness: float, chroma: float, hue_angle: float) -> str | None:
    """Brown, tan, olive or cream, or None where the hue's own word serves better."""
    if not 40 <= hue_angle < 112:
        return None
    if hue_angle >= 92:
        if lightness < 62 and chroma < 60:
            return "dark olive" if lightness < 38 else "olive"
        return "cream" if lightness >= 84 and chroma < 30 else None
    if lightness < 28:
        return "dark brown"
    if lightness < 52 and chroma < 52:
        return "greyed brown" if chroma < 18 else "brown"
    if lightness >= 84 and chroma < 26:
        return "cream"
    if chroma < 36:
        return "light tan" if lightness >= 74 else "tan"
    return None


def _upto(number: float, steps: tuple[tuple[float, str], ...]) -> str:
    return next((word for top, word in steps if number < top), steps[-1][1])


def shade(lab: ArrayLike, other: ArrayLike) -> str:
    """The other colour (3,) beside this one: its own name, or 'a lighter', 'a stronger' … one.

    Where both have one name, the word tells what differs most: lightness or strength.
    """
    names = plain_name(lab), plain_name(other)
    if names[0] != names[1]:
        return f"{'an' if names[1][0] in 'aeio' else 'a'} {names[1]}"
    (light, strong, _), (light_b, strong_b, _) = lch(lab), lch(other)
    if abs(light_b - light) >= abs(strong_b - strong):
        word = "lighter" if light_b > light else "darker"
    else:
        word = "stronger" if strong_b > strong else "greyer"
    return f"a {word} {names[0]}"
