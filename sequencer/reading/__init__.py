"""Photographs → prints: many (`photos`, `both_cores`), one (`photograph`), `cameras`, `spots`."""
