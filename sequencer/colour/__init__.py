"""Colour science on arrays: spaces, differences, white points. Knows no cloth.

CIELAB everywhere is D65, 2° observer, unless a name says otherwise.
"""

from sequencer.colour.differences import (
    ciede2000,
    hyab,
    one_against_many,
    strip_space,
    strip_units,
)
from sequencer.colour.names import plain_name
from sequencer.colour.spaces import (
    D65_WHITE,
    LAB_OF_ROOTS,
    lab_planes_to_xyz,
    lab_to_srgb8,
    lab_to_xyz,
    lch,
    linear_to_srgb,
    linear_to_xyz,
    planes_to_lab,
    planes_to_roots,
    srgb8_planes,
    srgb8_to_lab,
    srgb8_to_linear,
    srgb_to_linear,
    xyz_to_lab,
    xyz_to_linear,
)
from sequencer.colour.whites import adaptation_matrix

__all__ = [
    "D65_WHITE",
    "LAB_OF_ROOTS",
    "adaptation_matrix",
    "ciede2000",
    "hyab",
    "lab_planes_to_xyz",
    "lab_to_srgb8",
    "lab_to_xyz",
    "lch",
    "linear_to_srgb",
    "linear_to_xyz",
    "one_against_many",
    "plain_name",
    "planes_to_lab",
    "planes_to_roots",
    "srgb8_planes",
    "srgb8_to_lab",
    "srgb8_to_linear",
    "srgb_to_linear",
    "strip_space",
    "strip_units",
    "xyz_to_lab",
    "xyz_to_linear",
]
