"""Room: shapes in pixels: masks, outlines, straight sides, perspective."""
