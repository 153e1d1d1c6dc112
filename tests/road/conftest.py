"""The small box of photographs is at hand in every test of the road."""

from tests.made.small_box import box, counted, photos  # noqa: F401 - fixtures
