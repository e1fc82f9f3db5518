"""An object made from what was measured of it: readings, sizes, outlines, pictures, displaced water."""
