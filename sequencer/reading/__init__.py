"""Photographs → prints: many (`photos`, `both_cores`), one (`photograph`: what is `seen`, each
`scrap`), `cameras`, `spots`.
"""
