"""Cases: printed vessels in which one mold piece at a time is poured, and the block-and-case route."""
