"""The room that keeps a piece on disk: format, checking, one writer, history, files by content.

``folder`` is the way in. ``record`` is the format itself, ``wishes`` its options; ``state`` what
the program works with.
"""
